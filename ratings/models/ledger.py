from __future__ import annotations

import json
import math
from functools import cached_property
from typing import Any

from django.conf import settings
from django.db import models
from django.db.models import Q

from fleet.quantities import chance_words, plain_number
from ratings.mechanics.standing import Standing, conformance_probability
from ratings.mechanics.unit_rating import NO_COUNT

GENESIS_HASH = "0" * 64


class LedgerEntry(models.Model):
    """One change of a housing's line pull: cause, inputs, result and place in the chain.

    `document` is the whole entry as canonical JSON and `hash` its SHA-256; the other columns
    repeat parts of it so that they can be searched. `ledger verify` holds them to it.
    """

    housing = models.ForeignKey(
        "fleet.SuppressorHousing", models.PROTECT, related_name="ledger_entries"
    )
    sequence = models.PositiveIntegerField()
    occurred_at = models.DateTimeField()
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    cause = models.CharField(max_length=24)
    cause_record = models.PositiveBigIntegerField(
        null=True,
        help_text="Key of the inspection, replacement, test, listing or policy behind it.",
    )
    corrects = models.ForeignKey(
        "self", models.PROTECT, null=True, blank=True, related_name="corrections"
    )
    document = models.TextField()
    previous_hash = models.CharField(max_length=64)
    hash = models.CharField(max_length=64)

    standing = models.CharField(max_length=16)
    pull_lbf = models.FloatField(null=True)
    working_capacity_lbf = models.FloatField(null=True)
    listed_lbf = models.FloatField(null=True)
    usable_travel_in = models.FloatField(null=True)
    sound_pads = models.PositiveIntegerField()
    positions = models.PositiveIntegerField()

    class Meta:
        ordering = ["housing", "sequence"]
        verbose_name_plural = "ledger entries"
        indexes = [models.Index(name="ledger_by_cause", fields=["cause", "cause_record"])]
        constraints = [
            models.UniqueConstraint(name="ledger_sequence_once", fields=["housing", "sequence"]),
            models.UniqueConstraint(
                name="ledger_chain_never_forks", fields=["housing", "previous_hash"]
            ),
            models.UniqueConstraint(name="ledger_hash_once", fields=["hash"]),
            models.CheckConstraint(
                name="ledger_first_entry_has_no_previous",
                condition=Q(sequence=1, previous_hash=GENESIS_HASH)
                | (Q(sequence__gt=1) & ~Q(previous_hash=GENESIS_HASH)),
            ),
            models.CheckConstraint(
                name="ledger_standing_known",
                condition=Q(standing__in=[standing.value for standing in Standing]),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.housing} entry {self.sequence}"

    @cached_property
    def contents(self) -> dict[str, Any]:
        """The entry as it was written, parsed."""
        contents: dict[str, Any] = json.loads(self.document)
        return contents

    @property
    def inputs(self) -> dict[str, Any]:
        inputs: dict[str, Any] = self.contents["inputs"]
        return inputs

    @property
    def results(self) -> dict[str, Any]:
        results: dict[str, Any] = self.contents["results"]
        return results

    @property
    def cause_words(self) -> str:
        return str(self.contents["cause"]["words"])

    @property
    def judged(self) -> Standing:
        return Standing(self.standing)

    @property
    def sound_pads_words(self) -> str:
        """How many of the pads are sound; before the first count, that none was counted."""
        if NO_COUNT in self.results["missing"]:
            return "nothing counted yet"
        return f"{self.sound_pads} of {self.positions}"

    @property
    def chance_to_meet(self) -> float | None:
        """How likely it is that the unit meets its listing, 0 to 1; None where it is unrated."""
        results = self.results
        if self.judged is Standing.UNRATED:
            return None
        freedom = results["degrees_of_freedom"]
        return conformance_probability(
            results["pull_lbf"],
            results["standard_uncertainty_lbf"],
            # JSON has no infinity.
            math.inf if freedom is None else freedom,
            results["listed_lbf"],
        )

    @property
    def risk_words(self) -> str:
        """What a flag on the unit may be wrong about; "" where it has none, or is unrated."""
        chance = self.chance_to_meet
        if chance is None or self.judged is Standing.MEETS_LISTING:
            return ""
        words = f"The chance that it meets its listing all the same is {chance_words(chance)}"
        if self.judged is Standing.BELOW_LISTING:
            return f"{words}."
        needed = plain_number(100.0 * self.inputs["policy"]["confidence"], 1)
        return f"{words}; the yard asks for {needed} in 100."

    @property
    def share_of_listed(self) -> float | None:
        """Working capacity as a share of the listed rating, None where either is missing."""
        if self.working_capacity_lbf is None or not self.listed_lbf:
            return None
        return self.working_capacity_lbf / self.listed_lbf


class CurrentRating(models.Model):
    """The head of a housing's ledger: one row per housing, which only ever moves on."""

    housing = models.OneToOneField(
        "fleet.SuppressorHousing", models.PROTECT, related_name="current_rating"
    )
    head = models.OneToOneField(LedgerEntry, models.PROTECT, related_name="+")
    sequence = models.PositiveIntegerField()
    head_hash = models.CharField(max_length=64)

    class Meta:
        ordering = ["housing"]

    def __str__(self) -> str:
        return f"{self.housing} at entry {self.sequence}"
