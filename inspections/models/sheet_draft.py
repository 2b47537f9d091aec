from __future__ import annotations

from django.conf import settings
from django.db import models

LONGEST_WORD = 400
# Drafts that one person may have waiting, each as large as a file may be.
MOST_DRAFTS = 5


class SheetDraft(models.Model):
    """A yard's own sheet, sent to be taken in, with what its person answered until it is taken.

    It is no fact: nothing of it counts before it is taken, and it goes when it is thrown away.
    """

    owner = models.ForeignKey(settings.AUTH_USER_MODEL, models.CASCADE, related_name="+")
    yard = models.ForeignKey("fleet.Yard", models.CASCADE, null=True, related_name="+")
    name = models.CharField(max_length=160)
    cells = models.BinaryField(help_text="Its sheets, packed.")
    readings = models.JSONField(default=dict, help_text="What each table’s columns mean.")
    is_confirmed = models.BooleanField(default=False)
    answers = models.JSONField(default=dict, help_text="What was answered, by doubt.")
    rehearsal = models.JSONField(default=dict, help_text="What became of it when last tried.")
    sent_at = models.DateTimeField(auto_now_add=True)
    changed_at = models.DateTimeField(auto_now=True)

    class Meta:
        ordering = ["-changed_at"]

    def __str__(self) -> str:
        return self.name


class SheetWord(models.Model):
    """What a yard means by a header or a word of its sheets, as a person confirmed it last."""

    yard = models.ForeignKey("fleet.Yard", models.CASCADE, related_name="sheet_words")
    place = models.CharField(max_length=40, help_text="Where it stands: over a column, in one.")
    word = models.CharField(max_length=LONGEST_WORD)
    meaning = models.CharField(max_length=200)
    confirmed_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    confirmed_at = models.DateTimeField(auto_now=True)

    class Meta:
        ordering = ["place", "word"]
        constraints = [
            models.UniqueConstraint(
                name="sheet_word_once_per_yard", fields=["yard", "place", "word"]
            ),
        ]

    def __str__(self) -> str:
        return f"{self.word}: {self.meaning}"
