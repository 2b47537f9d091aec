from fleet.models.hammer import Hammer
from fleet.models.hours import HourReading, MeterChange
from fleet.models.housing import PadPosition, SuppressorHousing
from fleet.models.mounting import Mounting
from fleet.models.padlot import PadLot, ShelfCount, StockMove
from fleet.models.reader import ReaderPreference
from fleet.models.service import OutOfService
from fleet.models.yard import Yard

__all__ = [
    "Hammer",
    "HourReading",
    "MeterChange",
    "Mounting",
    "OutOfService",
    "PadLot",
    "PadPosition",
    "ReaderPreference",
    "ShelfCount",
    "StockMove",
    "SuppressorHousing",
    "Yard",
]
