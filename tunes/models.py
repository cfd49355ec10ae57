"""The repertoire: tunes, their recordings, their chart versions, and what people say about the changes.

A chart version is a line of immutable revisions. Whatever was computed or overruled hangs on one revision, so a
quiz issued from it never changes under anybody's hands.
"""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.db import models
from django.db.models import F, Q
from django.db.models.functions import Lower


class Tune(models.Model):
    """A tune of the programme's repertoire and what players expect of it."""

    title = models.CharField(max_length=120)
    composer = models.CharField(max_length=120, blank=True)
    form = models.CharField(max_length=40, blank=True)  # "AABA", "12-bar blues": as the programme says it
    metre = models.CharField(max_length=8, default="4/4")
    tempo_low = models.PositiveSmallIntegerField(null=True, blank=True)  # beats a minute
    tempo_high = models.PositiveSmallIntegerField(null=True, blank=True)
    feel = models.CharField(max_length=60, blank=True)
    key = models.CharField(max_length=16, blank=True)  # concert key players expect, "Eb major"
    has_lyrics = models.BooleanField(default=False)
    notes = models.TextField(blank=True, max_length=4000)
    created_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.SET_NULL, related_name="+"
    )
    created = models.DateTimeField(auto_now_add=True)
    changed = models.DateTimeField(auto_now=True)

    class Meta:
        ordering = [Lower("title"), "id"]
        constraints = [
            models.UniqueConstraint(Lower("title"), Lower("composer"), name="tune_once_a_composer"),
            models.CheckConstraint(
                condition=Q(tempo_low__isnull=True) | Q(tempo_high__isnull=True) | Q(tempo_low__lte=F("tempo_high")),
                name="tempo_low_before_high",
            ),
        ]

    def __str__(self) -> str:
        return self.title


class Recording(models.Model):
    """One recording of a tune to hear; at most one is the programme's reference."""

    tune = models.ForeignKey(Tune, on_delete=models.CASCADE, related_name="recordings")
    leader = models.CharField(max_length=120)
    album = models.CharField(max_length=120, blank=True)
    year = models.PositiveSmallIntegerField(null=True, blank=True)
    key = models.CharField(max_length=16, blank=True)  # concert key, "Eb major"
    tempo = models.PositiveSmallIntegerField(null=True, blank=True)  # beats a minute
    link = models.URLField(blank=True, max_length=500)
    is_reference = models.BooleanField(default=False)
    why = models.CharField(max_length=400, blank=True)  # why this one is worth hearing, or is the reference
    created_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.SET_NULL, related_name="+"
    )
    created = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["-is_reference", "year", "id"]
        constraints = [
            models.UniqueConstraint(
                fields=["tune"], condition=Q(is_reference=True), name="one_reference_recording_a_tune"
            )
        ]

    def __str__(self) -> str:
        return f"{self.leader}, {self.album}" if self.album else self.leader


class ChartVersion(models.Model):
    """One way the tune is played: "as on the reference", "ensemble arrangement". One is the agreed chart."""

    tune = models.ForeignKey(Tune, on_delete=models.CASCADE, related_name="versions")
    name = models.CharField(max_length=80)
    is_agreed = models.BooleanField(default=False)
    created_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.SET_NULL, related_name="+"
    )
    created = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["-is_agreed", "id"]
        constraints = [
            models.UniqueConstraint(F("tune"), Lower("name"), name="version_name_once_a_tune"),
            models.UniqueConstraint(fields=["tune"], condition=Q(is_agreed=True), name="one_agreed_version_a_tune"),
        ]

    def __str__(self) -> str:
        return self.name


class ImmutableRevision(TypeError):
    """Somebody tried to rewrite a revision that quizzes and reviews already point to."""


class ChartRevision(models.Model):
    """An immutable state of a chart: its text, the analysis of that text and the engine that made it."""

    class Source(models.TextChoices):
        BY_EAR = "by-ear", "By ear from a recording"
        PRINTED = "printed", "Printed chart"
        ARRANGEMENT = "arrangement", "Ensemble arrangement"
        OTHER = "other", "Other"

    MUTABLE = frozenset({"checked", "checked_by", "checked_on"})
    left_behind: tuple[str, ...] = ()
    """Right after saving: overrules of the revision before that have no place in this one, in words."""

    version = models.ForeignKey(ChartVersion, on_delete=models.CASCADE, related_name="revisions")
    number = models.PositiveIntegerField()
    text = models.TextField()
    analysis = models.JSONField(default=dict)
    engine = models.CharField(max_length=40)
    source_kind = models.CharField(max_length=12, choices=Source.choices, default=Source.OTHER)
    source_recording = models.ForeignKey(
        Recording, null=True, blank=True, on_delete=models.PROTECT, related_name="revisions"
    )
    source_note = models.CharField(max_length=300, blank=True)
    checked = models.BooleanField(default=False)
    checked_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.SET_NULL, related_name="+"
    )
    checked_on = models.DateTimeField(null=True, blank=True)
    created_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.SET_NULL, related_name="+"
    )
    created = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["-number"]
        constraints = [models.UniqueConstraint(fields=["version", "number"], name="revision_number_once_a_version")]

    def __str__(self) -> str:
        return f"revision {self.number}"

    def save(self, *args: Any, **kwargs: Any) -> None:
        """Insert, or change the checked state; anything else raises `ImmutableRevision`."""
        fields = kwargs.get("update_fields")
        if not self._state.adding and (fields is None or not set(fields) <= self.MUTABLE):
            raise ImmutableRevision("A revision is never rewritten: save a new one.")
        super().save(*args, **kwargs)


class ChartDraft(models.Model):
    """What one person is typing and has not yet saved as a revision. Kept until saved or thrown away.

    `serial` counts the writes: a window that sends an old serial learns that another window wrote meanwhile.
    """

    user = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="chart_drafts")
    tune = models.ForeignKey(Tune, on_delete=models.CASCADE, related_name="drafts")
    version = models.ForeignKey(ChartVersion, null=True, blank=True, on_delete=models.CASCADE, related_name="drafts")
    based_on = models.ForeignKey(ChartRevision, null=True, blank=True, on_delete=models.SET_NULL, related_name="drafts")
    text = models.TextField(blank=True)
    serial = models.PositiveIntegerField(default=1)
    changed = models.DateTimeField(auto_now=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["user", "version"], condition=Q(version__isnull=False), name="one_draft_a_version"
            ),
            models.UniqueConstraint(
                fields=["user", "tune"], condition=Q(version__isnull=True), name="one_new_draft_a_tune"
            ),
        ]

    def __str__(self) -> str:
        return f"draft of {self.version or self.tune} by {self.user}"


class Overrule(models.Model):
    """A person's reading set beside the computed one. Withdrawn ones stay, with who and when.

    `together` is shared by the rows of one overrule, which holds for every time the bar sounds; NULL: a row by itself.
    """

    together = models.UUIDField(null=True, blank=True)
    why = models.CharField(max_length=400, blank=True)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.SET_NULL, related_name="+")
    created = models.DateTimeField(auto_now_add=True)
    withdrawn = models.DateTimeField(null=True, blank=True)
    withdrawn_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.SET_NULL, related_name="+"
    )

    class Meta:
        abstract = True


class LabelOverride(Overrule):
    """The function of one event (index into `Chart.events()`) as the instructor hears it."""

    revision = models.ForeignKey(ChartRevision, on_delete=models.CASCADE, related_name="label_overrides")
    event = models.PositiveIntegerField()
    key = models.CharField(max_length=16)
    function = models.JSONField()

    class Meta:
        ordering = ["event", "id"]
        constraints = [
            models.UniqueConstraint(
                fields=["revision", "event"],
                condition=Q(withdrawn__isnull=True),
                name="one_standing_label_an_event",
            )
        ]

    def __str__(self) -> str:
        return f"event {self.event} in {self.key}"


class AreaOverride(Overrule):
    """The key of a run of events, first and last included, as the instructor hears it."""

    revision = models.ForeignKey(ChartRevision, on_delete=models.CASCADE, related_name="area_overrides")
    first = models.PositiveIntegerField()
    last = models.PositiveIntegerField()
    key = models.CharField(max_length=16)

    class Meta:
        ordering = ["first", "id"]
        constraints = [models.CheckConstraint(condition=Q(first__lte=F("last")), name="area_first_before_last")]

    def __str__(self) -> str:
        return f"events {self.first} to {self.last} in {self.key}"


class Idiom(models.Model):
    """A progression that returns in tune after tune, under the name that the programme gave it."""

    name = models.CharField(max_length=80)
    pattern = models.CharField(max_length=300)  # notation of tunes.harmony.progressions.idioms
    notes = models.TextField(blank=True, max_length=2000)
    made_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.SET_NULL, related_name="+"
    )
    created = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = [Lower("name"), "id"]
        constraints = [models.UniqueConstraint(Lower("name"), name="idiom_name_once")]

    def __str__(self) -> str:
        return self.name


# Kept in modules of their own; Django finds models here.
from tunes.models_by_ear import BarCheck, ByEarBar, ByEarEdit, ByEarSheet  # noqa: E402
from tunes.models_own import OwnNote, PhraseByEar  # noqa: E402
from tunes.models_recordings import (  # noqa: E402
    CautionSeen,
    EarResult,
    FormMark,
    Listening,
    LyricReference,
    Melody,
    Phrase,
    RecordingFile,
)
from tunes.models_solos import (  # noqa: E402
    ImmutableNotes,
    Solo,
    SoloAnswer,
    SoloAsk,
    SoloDraft,
    SoloRevision,
    SoloTaken,
    SoloWord,
)

__all__ = [
    "AreaOverride",
    "BarCheck",
    "ByEarBar",
    "ByEarEdit",
    "ByEarSheet",
    "CautionSeen",
    "ChartDraft",
    "ChartRevision",
    "ChartVersion",
    "EarResult",
    "FormMark",
    "Idiom",
    "ImmutableNotes",
    "ImmutableRevision",
    "LabelOverride",
    "Listening",
    "LyricReference",
    "Melody",
    "Overrule",
    "OwnNote",
    "Phrase",
    "PhraseByEar",
    "Recording",
    "RecordingFile",
    "Solo",
    "SoloAnswer",
    "SoloAsk",
    "SoloDraft",
    "SoloRevision",
    "SoloTaken",
    "SoloWord",
    "Tune",
]
