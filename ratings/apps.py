from __future__ import annotations

from django.apps import AppConfig
from django.db.models.signals import post_migrate


class RatingsConfig(AppConfig):
    name = "ratings"
    verbose_name = "Ratings"

    def ready(self) -> None:
        post_migrate.connect(_bring_up_to_date, sender=self, dispatch_uid="ratings.method")


def _bring_up_to_date(**kwargs: object) -> None:
    from ratings.ledger.method_change import bring_up_to_date

    bring_up_to_date(**kwargs)
