"""A tune assigned to an ensemble, its steps, and the questions issued for them."""

from __future__ import annotations

from django.conf import settings
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models

from ..kinds import KINDS, StepKind, kind_choices


class Assignment(models.Model):
    """One tune, in one chart revision, asked of one ensemble."""

    class Strictness(models.TextChoices):
        NUMERALS = "numerals", "The number only (2, 5 of 2)"
        QUALITY = "quality", "The number and the chord quality (ii7, V7/ii)"

    class Alternatives(models.TextChoices):
        FULL = "full", "Full marks for another sound reading"
        PART = "part", "Part marks for another sound reading"
        NONE = "none", "Full marks only for the reading of the chart"

    class Release(models.TextChoices):
        LAST = "last", "After the last attempt or the due date"
        HAND_IN = "hand-in", "As soon as it is handed in"
        DUE = "due", "After the due date"
        BY_HAND = "by-hand", "When I release them"

    class PitchIn(models.TextChoices):
        WRITTEN = "written", "Each player's own instrument"
        CONCERT = "concert", "Concert pitch for everyone"

    ensemble = models.ForeignKey("studio.Ensemble", on_delete=models.PROTECT, related_name="assignments")
    tune = models.ForeignKey("tunes.Tune", on_delete=models.PROTECT, related_name="assignments")
    revision = models.ForeignKey("tunes.ChartRevision", on_delete=models.PROTECT, related_name="assignments")
    title = models.CharField(max_length=120)
    instructions = models.TextField(blank=True, max_length=4000)
    strictness = models.CharField(max_length=12, choices=Strictness.choices, default=Strictness.QUALITY)
    alternatives = models.CharField(max_length=4, choices=Alternatives.choices, default=Alternatives.PART)
    key_prefix = models.BooleanField(default=False)  # a new key area must be named: "Ab: 2"
    attempts_allowed = models.PositiveSmallIntegerField(
        default=2, validators=[MinValueValidator(1), MaxValueValidator(20)]
    )
    release = models.CharField(max_length=12, choices=Release.choices, default=Release.LAST)
    released_at = models.DateTimeField(null=True, blank=True)
    closed = models.DateTimeField(null=True, blank=True)  # nothing of it is asked any more; what was handed in stays
    ask_repeats = models.BooleanField(default=False)
    pitch_in = models.CharField(max_length=8, choices=PitchIn.choices, default=PitchIn.WRITTEN)
    created_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    created = models.DateTimeField(auto_now_add=True)
    version = models.PositiveIntegerField(default=1)
    token = models.UUIDField(null=True, blank=True, unique=True)

    class Meta:
        ordering = ["-created", "-id"]
        indexes = [models.Index(fields=["ensemble", "-created"], name="assignment_by_ensemble")]

    def __str__(self) -> str:
        return self.title


class Step(models.Model):
    """One thing an assignment asks for. `options` holds what the kind needs, as plain JSON."""

    assignment = models.ForeignKey(Assignment, on_delete=models.CASCADE, related_name="steps")
    position = models.PositiveSmallIntegerField()
    kind = models.CharField(max_length=16, choices=kind_choices)
    title = models.CharField(max_length=120, blank=True)
    due = models.DateTimeField(null=True, blank=True)
    times = models.PositiveSmallIntegerField(default=1, validators=[MinValueValidator(1), MaxValueValidator(50)])
    options = models.JSONField(default=dict, blank=True)
    closed = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["position", "id"]
        constraints = [models.UniqueConstraint(fields=["assignment", "position"], name="one_step_a_place")]
        indexes = [models.Index(fields=["due"], name="step_by_due")]

    def __str__(self) -> str:
        return self.name

    @property
    def name(self) -> str:
        """The instructor's own title, or the name of the kind."""
        return self.title or self.about.name

    @property
    def about(self) -> StepKind:
        return KINDS[self.kind]

    @property
    def is_closed(self) -> bool:
        """No longer asked, alone or with the whole assignment."""
        return bool(self.closed or self.assignment.closed)


class Leeway(models.Model):
    """What one player has of one step that the others have not: a later date, or an excuse. The newest word replaces the
    one before; nothing that was handed in changes by it."""

    step = models.ForeignKey(Step, on_delete=models.CASCADE, related_name="leeways")
    player = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="leeways")
    due = models.DateTimeField(null=True, blank=True)
    excused = models.BooleanField(default=False)
    reason = models.CharField(max_length=200, blank=True)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    changed = models.DateTimeField(auto_now=True)

    class Meta:
        ordering = ["id"]
        constraints = [models.UniqueConstraint(fields=["step", "player"], name="one_leeway_each")]

    def __str__(self) -> str:
        return f"{self.player}, {self.step}: {'excused' if self.excused else self.due}"


class Quiz(models.Model):
    """The questions of one step with their key, built once at issue: later edits regrade nobody.

    `questions` is the list of question dicts, each with its `key`; `ids` repeats their ids in order, so
    that saving an answer need not read the key; `asked` is what may be shown before the answers are out.
    `overrules` are those that stood on the chart when the key was made, as `tunes.selectors.standing_overrules` numbers
    them; NULL: issued before that was kept.
    """

    step = models.OneToOneField(Step, on_delete=models.CASCADE, related_name="quiz")
    seed = models.PositiveBigIntegerField()
    engine = models.CharField(max_length=40, blank=True)
    ids = models.JSONField()
    asked = models.JSONField()
    questions = models.JSONField()
    home = models.CharField(max_length=16, blank=True)  # home key in concert pitch, "Eb major"
    overrules = models.JSONField(null=True, blank=True)
    issued = models.DateTimeField(auto_now_add=True)

    def __str__(self) -> str:
        return f"{len(self.ids)} questions of {self.step}"


class ProgrammeRequirement(models.Model):
    """One kind of step that the programme asks for before a tune counts as learned."""

    kind = models.CharField(max_length=16, choices=kind_choices, unique=True)
    pass_mark = models.PositiveSmallIntegerField(default=80, validators=[MaxValueValidator(100)])
    times = models.PositiveSmallIntegerField(default=1, validators=[MinValueValidator(1), MaxValueValidator(50)])
    position = models.PositiveSmallIntegerField(default=0)

    class Meta:
        ordering = ["position", "id"]

    def __str__(self) -> str:
        return f"{self.about.name}: {self.pass_mark}%, {self.times}x"

    @property
    def about(self) -> StepKind:
        return KINDS[self.kind]
