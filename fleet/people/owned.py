"""What somebody owns by which one gets in, such as a passkey or a token, and how it is ended."""

from __future__ import annotations

import uuid
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Generic, TypeVar

from django.contrib.auth.models import User
from django.core.exceptions import ValidationError

from fleet.models.recorded import Recorded
from fleet.people.places import EVERY_YARD
from fleet.roles import RECORD

End = TypeVar("End", bound=Recorded)


@dataclass(frozen=True)
class Owned(Generic[End]):
    """A kind of thing that its holder, or an equipment manager, ends for good and for a reason.

    name: as recording functions call it, and the facts that end it. holder: its column of whose
    it is. end: the model of those facts. not_theirs: what is said to anybody else.
    """

    name: str
    holder: str
    end: type[End]
    not_theirs: str

    def may_end(self, owned: Any, person: User) -> bool:
        """Whether somebody may end one of these: whose it is, or an equipment manager."""
        return self._is_of(owned, person) or person.has_perm(RECORD)

    def touches(self, given: Mapping[str, Any]) -> tuple[Any, ...]:
        """One's own is nobody else's matter; another's is of the people of all yards."""
        return () if self._is_of(given[self.name], given["by"]) else (EVERY_YARD,)

    def put_to_its_end(self, *, submission_id: uuid.UUID, owned: Any, reason: str, by: User) -> End:
        """Put on record that one of these is ended; the first to do so stands.

        Raises ValidationError where no reason is given, and where it is neither theirs nor are
        they an equipment manager.
        """
        ends: Any = self.end._default_manager
        known: End | None = ends.filter(**{self.name: owned}).first()
        if known is not None:
            return known
        if not self.may_end(owned, by):
            raise ValidationError(self.not_theirs)
        if not reason.strip():
            raise ValidationError({"reason": "This is blank: say why, since it stays on record."})
        ended: End = ends.create(
            submission_id=submission_id,
            reason=reason.strip(),
            recorded_by=by,
            **{self.name: owned},
        )
        return ended

    def _is_of(self, owned: Any, person: User) -> bool:
        return bool(getattr(owned, self.holder) == person.pk)
