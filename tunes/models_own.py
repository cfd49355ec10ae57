"""What a person keeps for themselves about a tune: their own words, and its melody as they took it down."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import Q


class OwnNote(models.Model):
    """A private note: at a bar of the chart (its printed number), or what one line of the words means.

    Meanings are in the person's own words. The words of a song are under copyright and are never kept.
    """

    user = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="own_notes")
    tune = models.ForeignKey("tunes.Tune", on_delete=models.CASCADE, related_name="own_notes")
    bar = models.PositiveSmallIntegerField(null=True, blank=True)
    line = models.PositiveSmallIntegerField(null=True, blank=True)  # which line of the words, from 1
    text = models.CharField(max_length=600)
    changed = models.DateTimeField(auto_now=True)

    class Meta:
        ordering = ["line", "bar", "id"]
        constraints = [
            models.UniqueConstraint(fields=["user", "tune", "bar"], name="one_note_a_bar"),
            models.UniqueConstraint(fields=["user", "tune", "line"], name="one_meaning_a_line"),
            models.CheckConstraint(
                condition=Q(bar__isnull=True, line__isnull=False) | Q(bar__isnull=False, line__isnull=True),
                name="note_at_a_bar_or_a_line",
            ),
        ]

    def __str__(self) -> str:
        return self.text[:60]


class PhraseByEar(models.Model):
    """One phrase of a melody as a person took it down, bars as played from 1. `text` is kept exactly as typed.

    `right` of `notes` say how it went when it was last checked; `taken` is when all of it was right for the first time:
    from then on it is hidden and asked again from memory.
    """

    user = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="phrases_by_ear")
    tune = models.ForeignKey("tunes.Tune", on_delete=models.CASCADE, related_name="+")
    first = models.PositiveSmallIntegerField()
    last = models.PositiveSmallIntegerField()
    text = models.CharField(max_length=400, blank=True)
    right = models.PositiveSmallIntegerField(default=0)
    notes = models.PositiveSmallIntegerField(default=0)
    taken = models.DateTimeField(null=True, blank=True)
    checked = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["first", "id"]
        constraints = [models.UniqueConstraint(fields=["user", "tune", "first", "last"], name="one_row_a_phrase")]

    def __str__(self) -> str:
        return f"bars {self.first} to {self.last}: {self.text}"
