from __future__ import annotations

from typing import Any

from django.apps import AppConfig
from django.db.models.signals import post_migrate


class RatingsConfig(AppConfig):
    name = "ratings"
    verbose_name = "Ratings"

    def ready(self) -> None:
        from fleet.long_work.acts import register

        register(
            "rerating",
            "ratings.rerating.long_work",
            holds_up=True,
            comes_first=True,
            until_seen_but="rated",
        )
        post_migrate.connect(_bring_up_to_date, sender=self, dispatch_uid="ratings.method")


def _bring_up_to_date(**kwargs: Any) -> None:
    from fleet.journal.adoption import after_migrating
    from ratings.ledger.method_change import bring_up_to_date

    # What was there before the journal first: beside a leaf of today no row is taken for older.
    after_migrating(**kwargs)
    bring_up_to_date(**kwargs)
