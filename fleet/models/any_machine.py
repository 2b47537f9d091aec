from __future__ import annotations

from typing import TypeAlias

from fleet.models.clamp import Clamp
from fleet.models.hammer import Hammer
from fleet.models.housing import SuppressorHousing
from fleet.models.power_pack import PowerPack

AnyMachine: TypeAlias = Hammer | SuppressorHousing | Clamp | PowerPack
