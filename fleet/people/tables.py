from __future__ import annotations

from typing import Any

from django.contrib.auth.models import User
from django.db.models import QuerySet
from django.urls import reverse
from django.utils.html import format_html
from django.utils.safestring import SafeString

from fleet.models import PersonChange
from fleet.people.recording import NO_ROLE, role_of
from fleet.roles import who_words
from fleet.tables import NONE, Column, DayColumn, MomentColumn, PersonColumn, RecordsTable


class PeopleTable(RecordsTable):
    """Everybody who signs in here, or did."""

    caption = "People"
    anchor = "people"
    empty_words = "Nobody is on record."

    name = Column("Name", empty_values=(), order_by=("last_name", "first_name", "username"))
    username = Column("Sign-in name")
    role = Column("Role", empty_values=(), orderable=False)
    yard = Column("Yard", accessor="person__yard__name", order_by="person__yard__name")
    last_login = DayColumn("Last signed in", default="never")

    @classmethod
    def records(cls) -> QuerySet[User]:
        """Return everybody, with role and yard, those who may sign in first."""
        people = User.objects.select_related("person__yard").prefetch_related("groups")
        return people.order_by("-is_active", "last_name", "first_name", "username")

    def render_name(self, record: User) -> SafeString:
        url = reverse("person", args=[record.pk])
        return format_html('<a href="{}"><strong>{}</strong></a>', url, who_words(record))

    def render_role(self, record: User) -> SafeString | str:
        role = role_of(record) or NO_ROLE
        if not record.is_active:
            return format_html("<strong>{}</strong>, was {}", "deactivated", role)
        return role


class PersonChangeTable(RecordsTable):
    """What was changed of one person, the newest first."""

    caption = "Changes on record"
    anchor = "changes"
    own_prefix = "changes-"
    empty_words = "None: they were entered before changes were kept."
    dated_by = ("recorded_at",)

    recorded_at = MomentColumn("When")
    kind = Column("What", accessor="get_kind_display", orderable=False)
    change = Column("From, to", empty_values=(), orderable=False)
    reason = Column("Why", default=NONE, orderable=False)
    by = PersonColumn("By")

    def render_change(self, record: PersonChange) -> Any:
        if not record.before:
            return record.after or NONE
        return format_html("{} → {}", record.before, record.after or "none")
