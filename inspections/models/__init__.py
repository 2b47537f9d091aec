from inspections.models.checklist import Checklist, ItemAnswer
from inspections.models.document import DocumentKind, DocumentWithdrawal, MachineDocument
from inspections.models.finding import Finding, FindingClosing, Photo, PhotoFile, Severity
from inspections.models.forecast import Forecast, ForecastReplay, PlannedHours
from inspections.models.hire import (
    ForeignCheck,
    ForeignCheckPhoto,
    HandOver,
    HandOverPhoto,
    RateFrom,
)
from inspections.models.history_run import HistoryRun
from inspections.models.inspection import Inspection, PadCount, SecondLook
from inspections.models.kind import InspectionKind, KindNeeds, KindRetirement, KindSorts, OwnKind
from inspections.models.moved_records import MovedRecords
from inspections.models.pull_photo import PullPhoto, PullPhotoFile
from inspections.models.received_unit import ReceivedUnit
from inspections.models.repair import (
    RepairClosing,
    RepairLine,
    RepairLineTakenBack,
    RepairOrder,
    RepairPhoto,
)
from inspections.models.replacement import PadReplacement, ReplacedPad
from inspections.models.restoring import RestorePlan
from inspections.models.schedule import CalendarFeed, ServiceSchedule
from inspections.models.sheet_draft import SheetDraft, SheetWord
from inspections.models.taken_import import TakenImport

__all__ = [
    "CalendarFeed",
    "Checklist",
    "DocumentKind",
    "DocumentWithdrawal",
    "Finding",
    "FindingClosing",
    "Forecast",
    "ForecastReplay",
    "ForeignCheck",
    "ForeignCheckPhoto",
    "HandOver",
    "HandOverPhoto",
    "HistoryRun",
    "Inspection",
    "InspectionKind",
    "ItemAnswer",
    "KindNeeds",
    "KindRetirement",
    "KindSorts",
    "MachineDocument",
    "MovedRecords",
    "OwnKind",
    "PadCount",
    "PadReplacement",
    "Photo",
    "PhotoFile",
    "PlannedHours",
    "PullPhoto",
    "PullPhotoFile",
    "RateFrom",
    "ReceivedUnit",
    "RepairClosing",
    "RepairLine",
    "RepairLineTakenBack",
    "RepairOrder",
    "RepairPhoto",
    "ReplacedPad",
    "RestorePlan",
    "SecondLook",
    "ServiceSchedule",
    "Severity",
    "SheetDraft",
    "SheetWord",
    "TakenImport",
]
