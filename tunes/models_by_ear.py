"""Changes taken down by ear, and charts checked bar by bar against a recording."""

from __future__ import annotations

from django.conf import settings
from django.db import models


class ByEarSheet(models.Model):
    """One person's empty form of a tune, filled while hearing. The bars come from `revision`, its chords hidden."""

    class Way(models.TextChoices):
        BASS = "bass", "Bass note first"
        CHORD = "chord", "Whole chord"

    user = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="by_ear_sheets")
    revision = models.ForeignKey("tunes.ChartRevision", on_delete=models.PROTECT, related_name="by_ear_sheets")
    recording = models.ForeignKey(
        "tunes.Recording", null=True, blank=True, on_delete=models.SET_NULL, related_name="by_ear_sheets"
    )
    way = models.CharField(max_length=8, choices=Way.choices, default=Way.CHORD)
    shared = models.BooleanField(default=False)  # shown to instructors as a witness of what is played
    compared = models.DateTimeField(null=True, blank=True)  # when the agreed chart was first laid beside it
    created = models.DateTimeField(auto_now_add=True)
    changed = models.DateTimeField(auto_now=True)

    class Meta:
        ordering = ["-changed"]

    def __str__(self) -> str:
        return f"{self.user} by ear"


class ByEarBar(models.Model):
    """What is written in one bar (index into the chart's bars). Texts are kept exactly as typed."""

    sheet = models.ForeignKey(ByEarSheet, on_delete=models.CASCADE, related_name="bars")
    bar = models.PositiveSmallIntegerField()
    bass = models.CharField(max_length=60, blank=True)
    chords = models.CharField(max_length=120, blank=True)
    serial = models.PositiveIntegerField(default=0)

    class Meta:
        ordering = ["bar"]
        constraints = [models.UniqueConstraint(fields=["sheet", "bar"], name="one_row_a_bar")]

    def __str__(self) -> str:
        return f"bar {self.bar}: {self.chords or self.bass}"


class ByEarEdit(models.Model):
    """One step that undo can take back."""

    sheet = models.ForeignKey(ByEarSheet, on_delete=models.CASCADE, related_name="edits")
    bar = models.PositiveSmallIntegerField()
    field = models.CharField(max_length=8)  # "bass" or "chords"
    before = models.CharField(max_length=120, blank=True)
    after = models.CharField(max_length=120, blank=True)
    created = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["id"]

    def __str__(self) -> str:
        return f"bar {self.bar}: {self.before!r} to {self.after!r}"


class BarCheck(models.Model):
    """One person's word on one bar of one revision, against one recording: agreed, or disputed with a note."""

    class State(models.TextChoices):
        AGREED = "agreed", "Agreed"
        DISPUTED = "disputed", "Disputed"

    revision = models.ForeignKey("tunes.ChartRevision", on_delete=models.CASCADE, related_name="bar_checks")
    bar = models.PositiveSmallIntegerField()  # index into the chart's bars
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="bar_checks")
    recording = models.ForeignKey(
        "tunes.Recording", null=True, blank=True, on_delete=models.SET_NULL, related_name="bar_checks"
    )
    state = models.CharField(max_length=8, choices=State.choices)
    heard = models.CharField(max_length=120, blank=True)  # what is played instead, in chart text
    note = models.CharField(max_length=400, blank=True)
    created = models.DateTimeField()
    carried = models.BooleanField(default=False)  # came over from an earlier revision with the same bar
    settled = models.DateTimeField(null=True, blank=True)
    settled_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.SET_NULL, related_name="+"
    )
    settled_note = models.CharField(max_length=400, blank=True)

    class Meta:
        ordering = ["bar", "created"]
        constraints = [models.UniqueConstraint(fields=["revision", "bar", "by"], name="one_word_a_bar_each")]

    def __str__(self) -> str:
        return f"bar {self.bar} {self.state}"
