"""What else holds a pile than friction on its shaft: each with what somebody says of it.

None of it is reduced while the hammer vibrates: no source was found that says it would be.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from ratings.mechanics.arguments import not_negative, set_checked


class HoldKind(StrEnum):
    """What holds the pile besides the friction of the ground."""

    INTERLOCK = "interlock friction"
    TOE_SUCTION = "suction under the toe"
    CONCRETE = "concrete or grout"
    DAMAGE = "bent or damaged pile"
    FROST = "frozen ground"
    OTHER = "other"


@dataclass(frozen=True)
class OtherHold:
    """A hold of its own, with a note that says where it is from.

    force_lbf: of the whole. per_ft_lbf: for each foot of the pile that is in it, in place of that.
    length_ft: how much of the pile is in it, the embedment where None; it never is longer than
        what is left in the ground.
    Neither force given: nobody put a figure on it, and it is told as left out.
    Raises ValueError for both of the forces, for a length without a force per foot, for a number
    that can't be, and for a hold without a note.
    """

    kind: HoldKind
    force_lbf: float | None = None
    per_ft_lbf: float | None = None
    note: str = ""
    length_ft: float | None = None

    def __post_init__(self) -> None:
        set_checked(self, kind=HoldKind(self.kind), note=str(self.note).strip())
        for name, symbol in (("force_lbf", "lbf"), ("per_ft_lbf", "lbf/ft"), ("length_ft", "ft")):
            if getattr(self, name) is not None:
                set_checked(self, **{name: not_negative(name, getattr(self, name), symbol)})
        if self.force_lbf is not None and self.per_ft_lbf is not None:
            raise ValueError(
                f"force_lbf is {self.force_lbf:g} and per_ft_lbf {self.per_ft_lbf:g}: give one of "
                "them, for the whole or for each foot"
            )
        if self.length_ft is not None and self.per_ft_lbf is None:
            raise ValueError(f"length_ft is {self.length_ft:g}: give per_ft_lbf with it")
        if not self.note:
            raise ValueError("note is blank: say what holds it and where its figure is from")

    @property
    def is_known(self) -> bool:
        """Whether somebody put a figure on it."""
        return self.force_lbf is not None or self.per_ft_lbf is not None

    def force_at_lbf(self, embedment_ft: float) -> float:
        """Return what it holds with so much of the pile in the ground, 0 where nobody knows, lbf.

        A force of the whole stays whole until the pile is free.
        """
        if self.per_ft_lbf is None:
            return self.force_lbf or 0.0
        length_ft = embedment_ft if self.length_ft is None else self.length_ft
        return self.per_ft_lbf * min(length_ft, embedment_ft)
