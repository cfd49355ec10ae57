"""Solos written out: what was played on a recording over a chart, who wrote it down, and what people say about it."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.db import models
from django.db.models import F, Q


class Solo(models.Model):
    """One solo on one recording, over one chart revision. Private to its writer until it is shared with an ensemble.

    The chart revision is fixed: its bars are what the notes stand in. Choruses and bars count from 1, as played.
    """

    revision = models.ForeignKey("tunes.ChartRevision", on_delete=models.CASCADE, related_name="solos")
    recording = models.ForeignKey(
        "tunes.Recording", null=True, blank=True, on_delete=models.SET_NULL, related_name="solos"
    )
    player = models.CharField(max_length=120)
    instrument = models.CharField(max_length=20, blank=True)  # key of studio.instruments, of whoever plays it
    first_chorus = models.PositiveSmallIntegerField(default=1)
    first_bar = models.PositiveSmallIntegerField(default=1)
    last_chorus = models.PositiveSmallIntegerField(default=1)
    last_bar = models.PositiveSmallIntegerField()
    rights = models.CharField(max_length=400, blank=True)
    written_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="solos")
    shared_with = models.ForeignKey(
        "studio.Ensemble", null=True, blank=True, on_delete=models.SET_NULL, related_name="solos"
    )
    shared_on = models.DateTimeField(null=True, blank=True)
    created = models.DateTimeField(auto_now_add=True)
    changed = models.DateTimeField(auto_now=True)

    class Meta:
        ordering = ["-changed", "-id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(first_chorus__gte=1, first_bar__gte=1)
                & (
                    Q(first_chorus__lt=F("last_chorus"))
                    | Q(first_chorus=F("last_chorus"), first_bar__lte=F("last_bar"))
                ),
                name="solo_begins_before_it_ends",
            )
        ]

    def __str__(self) -> str:
        return f"{self.player}, on {self.revision.version.tune}"


class ImmutableNotes(TypeError):
    """Somebody tried to rewrite notes that readings and answers already point to."""


class SoloRevision(models.Model):
    """The notes of a solo as they were when they were kept. Never rewritten."""

    solo = models.ForeignKey(Solo, on_delete=models.CASCADE, related_name="revisions")
    number = models.PositiveIntegerField()
    notes = models.JSONField(default=dict)
    count = models.PositiveIntegerField(default=0)  # notes in it
    why = models.CharField(max_length=80, blank=True)  # "from a file", "of another window"
    by = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.SET_NULL, related_name="+")
    created = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["-number"]
        constraints = [models.UniqueConstraint(fields=["solo", "number"], name="notes_number_once_a_solo")]

    def __str__(self) -> str:
        return f"notes {self.number}"

    def save(self, *args: Any, **kwargs: Any) -> None:
        """Insert; anything else raises `ImmutableNotes`."""
        if not self._state.adding:
            raise ImmutableNotes("Kept notes are never rewritten: keep new ones.")
        super().save(*args, **kwargs)


class SoloDraft(models.Model):
    """What its writer is writing. `serial` counts the writes; a window that sends an old one learns of the other."""

    solo = models.OneToOneField(Solo, on_delete=models.CASCADE, related_name="draft")
    notes = models.JSONField(default=dict)
    serial = models.PositiveIntegerField(default=0)
    client = models.CharField(max_length=40, blank=True)  # the window that wrote last
    changed = models.DateTimeField(auto_now=True)

    def __str__(self) -> str:
        return f"draft {self.serial} of {self.solo_id}"


class SoloWord(models.Model):
    """What a person says of a note (its role) or of a passage (its name), beside what was computed."""

    class Kind(models.TextChoices):
        ROLE = "role", "What a note does"
        NAME = "name", "What a passage is called"

    solo = models.ForeignKey(Solo, on_delete=models.CASCADE, related_name="words")
    kind = models.CharField(max_length=4, choices=Kind.choices)
    first = models.CharField(max_length=24)  # onset of the first note, quarter notes from the first beat, "7/2"
    last = models.CharField(max_length=24)
    role = models.CharField(max_length=24, blank=True)
    text = models.CharField(max_length=200, blank=True)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.SET_NULL, related_name="+")
    created = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["created"]
        constraints = [models.UniqueConstraint(fields=["solo", "kind", "first", "by"], name="one_word_a_place_each")]

    def __str__(self) -> str:
        return self.role or self.text


class SoloAsk(models.Model):
    """A bar of a solo whose reading opens to a person once they have said what they hear there."""

    solo = models.ForeignKey(Solo, on_delete=models.CASCADE, related_name="asks")
    bar = models.PositiveSmallIntegerField()  # of the solo, from 0
    by = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.SET_NULL, related_name="+")
    created = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["bar"]
        constraints = [models.UniqueConstraint(fields=["solo", "bar"], name="a_bar_is_asked_once")]

    def __str__(self) -> str:
        return f"bar {self.bar + 1}"


class SoloAnswer(models.Model):
    """What one person said of an asked bar, before they were told."""

    ask = models.ForeignKey(SoloAsk, on_delete=models.CASCADE, related_name="answers")
    player = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="solo_answers")
    said = models.JSONField(default=dict)  # {"scale": …, "role": …}
    created = models.DateTimeField(auto_now_add=True)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["ask", "player"], name="one_answer_an_asked_bar")]

    def __str__(self) -> str:
        return f"{self.player} on {self.ask}"


class SoloTaken(models.Model):
    """What one person took from a solo into practice: drills of the tune carry these notes at their places until it is taken
    back (the row goes).

    `what` names it among what is taken from this solo ("over 5 of 2 6", "notes 12-15"). `notes` is a list of
    {"bar", "printed", "at", "root", "degree", "chorus"}: bar of the chorus as played and as printed, quarter notes of the bar
    where the chord begins, root of that chord in concert pitch, degree over it, chorus of the recording.
    """

    user = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="taken_from_solos")
    solo = models.ForeignKey(Solo, on_delete=models.CASCADE, related_name="taken")
    what = models.CharField(max_length=120)
    words = models.CharField(max_length=200)
    notes = models.JSONField(default=list)
    since = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["since", "pk"]
        constraints = [models.UniqueConstraint(fields=["user", "solo", "what"], name="taken_once_each")]

    def __str__(self) -> str:
        return self.words
