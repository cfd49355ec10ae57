"""What players write and send, and how it was marked."""

from __future__ import annotations

import uuid

from django.conf import settings
from django.db import models

from ..storage import private_storage, submission_path
from .assign import Step


class Attempt(models.Model):
    """One go of one player at one step.

    `version` rises with every review action, so that two reviewers on one sheet notice each other.
    `instrument` is the key of the instrument the quiz is drawn for; empty means concert pitch. `written`
    names the interval from concert to the pitch the player reads, as it was when the attempt was started.
    `answers_shown` is since when its answers are known to have been open to the player; `after_answers` says that
    those of an earlier go were, before this one was handed in: it is marked, and counts only if an instructor says so.
    `superseded` says that a later go of the same player at the same step has come in: stored when that happens, so that
    lists of thousands ask one column instead of looking for later goes.
    """

    class Status(models.TextChoices):
        OPEN = "open", "Being written"
        HANDED_IN = "handed-in", "Handed in"
        REVIEWED = "reviewed", "Reviewed"
        RETURNED = "returned", "For another go"

    step = models.ForeignKey(Step, on_delete=models.CASCADE, related_name="attempts")
    player = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="attempts")
    number = models.PositiveSmallIntegerField(default=1)
    status = models.CharField(max_length=10, choices=Status.choices, default=Status.OPEN)
    instrument = models.CharField(max_length=40, blank=True)
    written = models.CharField(max_length=8, default="P1")
    started = models.DateTimeField(auto_now_add=True)
    handed_in = models.DateTimeField(null=True, blank=True)
    late = models.BooleanField(default=False)
    answers_shown = models.DateTimeField(null=True, blank=True)
    after_answers = models.BooleanField(default=False)
    superseded = models.BooleanField(default=False)
    points = models.FloatField(null=True, blank=True)
    out_of = models.PositiveSmallIntegerField(default=0)
    version = models.PositiveIntegerField(default=1)
    reviewed_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    reviewed_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["step", "player", "number"]
        constraints = [models.UniqueConstraint(fields=["step", "player", "number"], name="attempt_once")]
        indexes = [
            models.Index(fields=["status", "handed_in"], name="attempt_queue"),
            models.Index(fields=["player", "status"], name="attempt_by_player"),
            models.Index(
                fields=["step", "handed_in"],
                name="attempt_to_review",
                condition=models.Q(status="handed-in", superseded=False),
            ),
            models.Index(fields=["status", "-reviewed_at", "-id"], name="attempt_reviewed"),
            models.Index(fields=["step", "status"], name="attempt_by_step"),  # else those of all terms are counted
        ]

    def __str__(self) -> str:
        return f"{self.player}, {self.step}, attempt {self.number}"

    @property
    def percent(self) -> int | None:
        """The mark as a whole percentage; None before marking and for steps that carry no marks."""
        if self.points is None or not self.out_of:
            return None
        return round(100 * self.points / self.out_of)

    @property
    def is_open(self) -> bool:
        return self.status == self.Status.OPEN


class Answer(models.Model):
    """The answer that stands for one question of one attempt. Every former one is in `AnswerHistory`."""

    attempt = models.ForeignKey(Attempt, on_delete=models.CASCADE, related_name="answers")
    question = models.CharField(max_length=40)
    text = models.CharField(max_length=400, blank=True)
    version = models.PositiveIntegerField(default=1)
    client = models.UUIDField()  # the window it was written in
    sequence = models.PositiveIntegerField(default=0)  # that window's own count
    saved = models.DateTimeField()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["attempt", "question"], name="one_answer_each")]

    def __str__(self) -> str:
        return f"{self.question}: {self.text}"


class AnswerHistory(models.Model):
    """Every answer that ever reached the server, append-only. A replay of the same (client, sequence)
    adds nothing; an answer that could not stand (another window was first, the attempt was handed in)
    is kept here with its outcome."""

    class Outcome(models.TextChoices):
        SAVED = "saved", "Saved"
        CONFLICT = "conflict", "Another window was first"
        LATE = "late", "Came after hand-in"

    attempt = models.ForeignKey(Attempt, on_delete=models.CASCADE, related_name="history")
    question = models.CharField(max_length=40)
    text = models.CharField(max_length=400, blank=True)
    version = models.PositiveIntegerField()
    client = models.UUIDField()
    sequence = models.PositiveIntegerField()
    outcome = models.CharField(max_length=8, choices=Outcome.choices, default=Outcome.SAVED)
    saved = models.DateTimeField()

    class Meta:
        ordering = ["id"]
        constraints = [models.UniqueConstraint(fields=["attempt", "client", "sequence"], name="save_arrives_once")]

    def __str__(self) -> str:
        return f"{self.question} v{self.version}: {self.text}"


class Mark(models.Model):
    """How one answer was marked from the stored key. Never changed: see `MarkOverride`."""

    attempt = models.ForeignKey(Attempt, on_delete=models.CASCADE, related_name="marks")
    question = models.CharField(max_length=40)
    position = models.PositiveSmallIntegerField()
    answer = models.CharField(max_length=400, blank=True)
    understood = models.CharField(max_length=200, blank=True)
    points = models.FloatField()
    rule = models.CharField(max_length=60)
    feedback = models.TextField(blank=True)

    class Meta:
        ordering = ["position"]
        constraints = [models.UniqueConstraint(fields=["attempt", "question"], name="one_mark_each")]

    def __str__(self) -> str:
        return f"{self.question}: {self.points}"


class Submission(models.Model):
    """Something handed in to be heard or read: a sound file in private storage, a link, a note, a solo as it was kept, a take."""

    attempt = models.ForeignKey(Attempt, on_delete=models.CASCADE, related_name="submissions")
    file = models.FileField(upload_to=submission_path, storage=private_storage, blank=True)
    name = models.CharField(max_length=160, blank=True)  # as the player called the file
    media_type = models.CharField(max_length=40, blank=True)  # from the content, not from the name
    size = models.PositiveBigIntegerField(default=0)
    seconds = models.FloatField(null=True, blank=True)
    link = models.URLField(blank=True, max_length=500)
    note = models.TextField(blank=True, max_length=4000)
    solo = models.ForeignKey("tunes.SoloRevision", null=True, blank=True, on_delete=models.SET_NULL, related_name="+")
    take = models.ForeignKey(
        "drills.Take", null=True, blank=True, on_delete=models.SET_NULL, related_name="submissions"
    )
    token = models.UUIDField(default=uuid.uuid4)  # of the form: a double click sends once
    created = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["id"]
        constraints = [models.UniqueConstraint(fields=["attempt", "token"], name="sent_once")]

    def __str__(self) -> str:
        return self.name or self.link or "note"
