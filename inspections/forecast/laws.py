"""By which law the pads of each lot are forecast, from every pad's life on record."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping
from functools import lru_cache

from inspections.lives.lot_lives import LivesOfLot, PadRecord, Since, lives_by_lot
from ratings.mechanics.pad_forecast import LotLaw, NoLaw, own_law, pooled_law
from ratings.mechanics.survival import Life

LifeOfLots = tuple[tuple[str, tuple[Life, ...]], ...]
NO_LOT = NoLaw("of which lot they are is not on record")


class Laws:
    """The laws of lots, each found once.

    A pad fitted new goes by its lot's life from new where enough of those failed; else, as one
    that was first seen in a count, by the life from the first count.
    """

    def __init__(self, records: Iterable[PadRecord], marks: Mapping[int, str]) -> None:
        listed = list(records)
        self._marks = marks
        self._lives: dict[Since, dict[int, LivesOfLot]] = {
            since: lives_by_lot(listed, since) for since in Since
        }
        self._all: dict[Since, LifeOfLots] = {
            since: tuple(sorted((marks[key], each.lives) for key, each in lives.items()))
            for since, lives in self._lives.items()
        }
        self.by_name: dict[str, LotLaw | NoLaw] = {}

    def name_of(self, lot_id: int | None, is_fitted: bool) -> str:
        """Return the name of the law a pad goes by, which is then among `by_name`."""
        if lot_id is None:
            self.by_name[""] = NO_LOT
            return ""
        counted = (Since.FITTED, Since.SEEN) if is_fitted else (Since.SEEN,)
        mark = self._marks[lot_id]
        ways = [(since, is_own) for is_own in (True, False) for since in counted]
        law: LotLaw | NoLaw | None = None
        for since, is_own in ways:
            name = f"{mark} {since.label}" if is_own else f"{mark} {since.label}, pooled"
            if name in self.by_name:
                return name
            law = self._own(lot_id, since) if is_own else _pooled(mark, self._all[since])
            if isinstance(law, LotLaw):
                self.by_name[name] = law
                return name
        assert law is not None
        self.by_name[name] = law
        return name

    def _own(self, lot_id: int, since: Since) -> LotLaw | None:
        lives = self._lives[since].get(lot_id)
        return None if lives is None else _own_law(self._marks[lot_id], lives.lives)

    def digest(self, name: str) -> str:
        """Return a word for all lives that a law rests on: another where any of them changed."""
        lot = next((mark for mark in self._marks.values() if name.startswith(f"{mark} ")), "")
        since = Since.SEEN if Since.SEEN.label in name else Since.FITTED
        is_pooled = name.endswith(", pooled")
        lives = [each for each in self._all[since] if is_pooled or each[0] == lot]
        text = repr(
            [(mark, [(life.after_hours, life.by_hours) for life in of]) for mark, of in lives]
        )
        return hashlib.sha256(f"{name} {text}".encode()).hexdigest()[:16]


# The same lives are asked for by every unit, and at every visit until an inspection tells more.
@lru_cache(maxsize=512)
def _own_law(mark: str, lives: tuple[Life, ...]) -> LotLaw | None:
    return own_law(mark, lives)


@lru_cache(maxsize=512)
def _pooled(mark: str, lives: LifeOfLots) -> LotLaw | NoLaw:
    return pooled_law(mark, dict(lives))
