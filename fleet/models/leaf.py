from __future__ import annotations

from django.db import models
from django.db.models import Q


class Leaf(models.Model):
    """One line of the journal: what one row of one table said once something was done to it.

    Written in the transaction of what it tells of, by `fleet.journal.writing`, and only there.
    Its place in the tree is given afterwards, so that two signings never wait for each other.
    """

    class What(models.TextChoices):
        RECORDED = "recorded", "recorded"
        CHANGED = "changed", "changed"
        REMOVED = "removed", "removed"
        FOUND = "found", "as found at the journal’s beginning"
        CARRIED = "carried", "carried over at an upgrade"

    model = models.CharField(max_length=80)
    row_key = models.CharField(max_length=80)
    what = models.CharField(max_length=8, choices=What)
    document = models.TextField(help_text="Canonical JSON (RFC 8785): the very text hashed.")
    leaf_hash = models.CharField(
        max_length=64, help_text="SHA-256 of a zero byte and the document (RFC 9162), in hex."
    )
    recorded_at = models.DateTimeField()
    place = models.BigIntegerField(null=True, help_text="Its place in the tree, from 0.")

    class Meta:
        indexes = [
            models.Index(fields=["model", "row_key"], name="leaf_of_row"),
            models.Index(fields=["id"], name="leaf_without_place", condition=Q(place=None)),
            models.Index(fields=["recorded_at"], name="leaf_of_day"),
        ]
        constraints = [
            models.UniqueConstraint(
                fields=["place"], condition=Q(place__isnull=False), name="leaf_has_its_own_place"
            ),
            models.CheckConstraint(
                condition=Q(place=None) | Q(place__gte=0), name="leaf_place_counts_from_zero"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.model} {self.row_key} {self.what}"


class TreeNode(models.Model):
    """The hash of 16, 256, 4,096 … leaves that follow each other: the tree, to be read quickly."""

    level = models.PositiveSmallIntegerField(help_text="How many times it doubles a leaf.")
    number = models.BigIntegerField(help_text="Counted from 0 along its level.")
    node_hash = models.CharField(max_length=64)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["level", "number"], name="tree_node_once"),
        ]

    def __str__(self) -> str:
        return f"node {self.number} of level {self.level}"


class TreeSize(models.Model):
    """How many leaves have a place; its row is locked while more are given one."""

    size = models.BigIntegerField(default=0)

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(pk=1), name="one_tree"),
            models.CheckConstraint(condition=Q(size__gte=0), name="tree_size_not_negative"),
        ]

    def __str__(self) -> str:
        return f"{self.size} leaves"
