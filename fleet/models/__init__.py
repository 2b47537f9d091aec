from fleet.models.api_token import ApiScope, ApiToken, ApiTokenEnd, ApiTokenUse, ApiWrite
from fleet.models.clamp import Clamp, ClampFitting
from fleet.models.hammer import Hammer, HourReading, MeterChange
from fleet.models.hire import Hire
from fleet.models.housing import Mounting, PadPosition, SuppressorHousing
from fleet.models.housing_guide import HousingGuide
from fleet.models.leaf import Leaf, TreeNode, TreeSize
from fleet.models.long_work import LongWork, LongWorker
from fleet.models.machine import MachineSort, OfOneMachine
from fleet.models.outage import OutageReach, OutOfService
from fleet.models.pad_lot import LotCorrection, PadLot, ShelfCount, StockMove
from fleet.models.pad_order import (
    PadOrder,
    PadOrderCancellation,
    PadOrderPromise,
    PadReceipt,
    PadReceiptTakenBack,
)
from fleet.models.pad_price import PadPrice
from fleet.models.passkey import Passkey, PasskeyEnd, PasskeyUse
from fleet.models.person import (
    Person,
    PersonChange,
    PersonName,
    YardBinding,
    YardBindingEnd,
)
from fleet.models.power_pack import PowerPack, PowerPackConnection
from fleet.models.qualification import Qualification, QualificationWithdrawal
from fleet.models.reader import ReaderPreference
from fleet.models.refusal import Refusal
from fleet.models.retention import FileLetGo, LettingGo, RetentionRule
from fleet.models.set_up_change import SetUpChange
from fleet.models.sign_in import SignIn
from fleet.models.tally import Tally
from fleet.models.transfer import Transfer, TransferEnd, YardHaul
from fleet.models.yard import Yard

__all__ = [
    "ApiScope",
    "ApiToken",
    "ApiTokenEnd",
    "ApiTokenUse",
    "ApiWrite",
    "Clamp",
    "ClampFitting",
    "FileLetGo",
    "Hammer",
    "Hire",
    "HourReading",
    "HousingGuide",
    "Leaf",
    "LettingGo",
    "LongWork",
    "LongWorker",
    "LotCorrection",
    "MachineSort",
    "MeterChange",
    "Mounting",
    "OfOneMachine",
    "OutOfService",
    "OutageReach",
    "PadLot",
    "PadOrder",
    "PadOrderCancellation",
    "PadOrderPromise",
    "PadPosition",
    "PadPrice",
    "PadReceipt",
    "PadReceiptTakenBack",
    "Passkey",
    "PasskeyEnd",
    "PasskeyUse",
    "Person",
    "PersonChange",
    "PersonName",
    "PowerPack",
    "PowerPackConnection",
    "Qualification",
    "QualificationWithdrawal",
    "ReaderPreference",
    "Refusal",
    "RetentionRule",
    "SetUpChange",
    "ShelfCount",
    "SignIn",
    "StockMove",
    "SuppressorHousing",
    "Tally",
    "Transfer",
    "TransferEnd",
    "TreeNode",
    "TreeSize",
    "Yard",
    "YardBinding",
    "YardBindingEnd",
    "YardHaul",
]
