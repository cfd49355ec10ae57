"""Recordings heard: the programme's own sound files, form maps, listening logs, results of ear exercises."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from tunes.storage import PrivateStorage, recording_path


class RecordingFile(models.Model):
    """The sound of a recording, where the programme has the right to keep it. `rights` says which right."""

    recording = models.OneToOneField("tunes.Recording", on_delete=models.CASCADE, related_name="sound")
    file = models.FileField(storage=PrivateStorage(), upload_to=recording_path)
    rights = models.CharField(max_length=400)
    original_name = models.CharField(max_length=200, blank=True)
    media_type = models.CharField(max_length=40)
    size = models.PositiveBigIntegerField()  # bytes
    duration = models.FloatField()  # seconds
    wave = models.JSONField(default=dict)  # {"per_second": n, "heights": [0 … 99]}, {} until it is worked out
    digest = models.CharField(max_length=64)  # SHA-256 of the bytes: the entity tag
    uploaded_by = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.SET_NULL, related_name="+")
    uploaded = models.DateTimeField(auto_now_add=True)

    def __str__(self) -> str:
        return f"sound of {self.recording}"


class FormMark(models.Model):
    """A moment of a recording: where a bar of a chorus begins. Bars count the chorus as played, from 1."""

    recording = models.ForeignKey("tunes.Recording", on_delete=models.CASCADE, related_name="marks")
    chorus = models.PositiveSmallIntegerField()
    bar = models.PositiveSmallIntegerField()
    label = models.CharField(max_length=12, blank=True)  # the section's letter
    seconds = models.FloatField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.SET_NULL, related_name="+")
    created = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["seconds"]
        constraints = [
            models.UniqueConstraint(fields=["recording", "chorus", "bar"], name="one_mark_a_bar"),
            models.CheckConstraint(
                condition=Q(seconds__gte=0, chorus__gte=1, bar__gte=1), name="mark_inside_the_recording"
            ),
        ]

    def __str__(self) -> str:
        return f"chorus {self.chorus}, bar {self.bar} at {self.seconds:.1f} s"


class Listening(models.Model):
    """One entry of a player's log: what was heard, when, what they noticed. Evidence for the ledger."""

    player = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="listenings")
    recording = models.ForeignKey("tunes.Recording", on_delete=models.CASCADE, related_name="listenings")
    heard_on = models.DateTimeField()
    seconds = models.PositiveIntegerField(default=0)  # of sound played here; 0 when heard elsewhere
    noticed = models.TextField(blank=True, max_length=2000)
    created = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["-heard_on", "-id"]
        indexes = [models.Index(fields=["player", "recording"])]

    def __str__(self) -> str:
        return f"{self.player} heard {self.recording}"


class CautionSeen(models.Model):
    """That a person was shown a caution, so that it is shown once."""

    user = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="cautions_seen")
    name = models.CharField(max_length=20)
    seen = models.DateTimeField(auto_now_add=True)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["user", "name"], name="caution_once_a_person")]

    def __str__(self) -> str:
        return f"{self.user} has seen the caution about {self.name}"


class EarResult(models.Model):
    """One finished ear exercise of a player on a tune: evidence, never rewritten. `score` from 0 to 1."""

    class Kind(models.TextChoices):
        TOP_OF_FORM = "top-of-form", "Top of the form"
        BY_EAR = "by-ear", "Changes by ear"
        VARIANTS = "variants", "Variants quiz"
        OTHER_BAND = "other-band", "The other band"
        AT_THE_PIANO = "at-the-piano", "The changes at the piano"

    player = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="ear_results")
    tune = models.ForeignKey("tunes.Tune", on_delete=models.CASCADE, related_name="ear_results")
    kind = models.CharField(max_length=12, choices=Kind.choices)
    score = models.FloatField()
    detail = models.JSONField(default=dict)
    created = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["-created", "-id"]
        indexes = [models.Index(fields=["player", "tune", "kind"])]
        constraints = [models.CheckConstraint(condition=Q(score__gte=0, score__lte=1), name="score_is_a_share")]

    def __str__(self) -> str:
        return f"{self.get_kind_display()}: {self.score:.0%}"


class Melody(models.Model):
    """The programme's own notation of a melody for one chart version, in concert pitch.

    `notes` is a list of `[bar index, start, duration, pitch]`: start and duration in beats as "3/2".
    """

    version = models.OneToOneField("tunes.ChartVersion", on_delete=models.CASCADE, related_name="melody")
    notes = models.JSONField(default=list)
    rights = models.CharField(max_length=400)
    source_name = models.CharField(max_length=200, blank=True)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.SET_NULL, related_name="+")
    created = models.DateTimeField(auto_now=True)

    def __str__(self) -> str:
        return f"melody of {self.version}"


class Phrase(models.Model):
    """One phrase of the melody on the section map: bars of the chorus as played, counted from 1."""

    tune = models.ForeignKey("tunes.Tune", on_delete=models.CASCADE, related_name="phrases")
    label = models.CharField(max_length=12)  # a, a', b: equal letters are the same tune
    first = models.PositiveSmallIntegerField()
    last = models.PositiveSmallIntegerField()
    note = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["first", "id"]
        constraints = [
            models.CheckConstraint(condition=Q(first__gte=1) & Q(first__lte=F("last")), name="phrase_first_before_last")
        ]

    def __str__(self) -> str:
        return f"{self.label}, bars {self.first} to {self.last}"


class LyricReference(models.Model):
    """Where the words are to be found. The words themselves are under copyright and are never kept."""

    tune = models.OneToOneField("tunes.Tune", on_delete=models.CASCADE, related_name="lyric_reference")
    first_line = models.CharField(max_length=90, blank=True)
    link = models.URLField(blank=True, max_length=500)

    def __str__(self) -> str:
        return self.first_line
