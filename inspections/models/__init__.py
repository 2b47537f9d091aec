from inspections.models.inspection import Inspection, PadCount
from inspections.models.replacement import PadReplacement, ReplacedPad

__all__ = ["Inspection", "PadCount", "PadReplacement", "ReplacedPad"]
