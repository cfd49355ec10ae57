"""A player questions a mark, or how a chart reads a chord; an instructor answers."""

from __future__ import annotations

from django.conf import settings
from django.db import models

from .attempts import Attempt


class Asked(models.Model):
    """A question in the words of a player, and its answer. Both stay. `answered` is empty until it is answered."""

    text = models.TextField(max_length=1000)
    token = models.UUIDField(unique=True)
    created = models.DateTimeField(auto_now_add=True)
    answer = models.TextField(max_length=1000, blank=True)
    answered_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    answered = models.DateTimeField(null=True, blank=True)

    class Meta:
        abstract = True
        ordering = ["created", "id"]


class Objection(Asked):
    """A player questions a mark, or the reading that it was marked by, at one question of their own sheet. `outcome` is
    empty until it is answered."""

    class About(models.TextChoices):
        MARK = "mark", "The mark of my answer"
        LABEL = "label", "The reading of the chord"

    class Outcome(models.TextChoices):
        OPEN = "", "Not answered yet"
        KEPT = "kept", "It stays as it is"
        ACCEPTED = "accepted", "Accepted for everyone who wrote it"
        LABEL = "label", "The reading of the chart is to be overruled"

    attempt = models.ForeignKey(Attempt, on_delete=models.CASCADE, related_name="objections")
    question = models.CharField(max_length=40)
    about = models.CharField(max_length=5, choices=About.choices, default=About.MARK)
    outcome = models.CharField(max_length=8, choices=Outcome.choices, default=Outcome.OPEN, blank=True)

    class Meta(Asked.Meta):
        constraints = [
            models.UniqueConstraint(
                fields=["attempt", "question"], condition=models.Q(answered=None), name="one_open_objection"
            )
        ]
        indexes = [models.Index(fields=["answered", "created"], name="objection_queue")]

    def __str__(self) -> str:
        return f"{self.question}: {self.text[:60]}"


class ReadingQuestion(Asked):
    """A player questions the reading of one chord of one revision. `read_as` is how the chord was read when it was asked,
    in words, so that the question can be understood after an overrule. `event` counts the events of the chart, from 0.
    `outcome` is empty until it is answered."""

    class Outcome(models.TextChoices):
        OPEN = "", "Not answered yet"
        KEPT = "kept", "It stays as it is"
        OVERRULE = "overrule", "The reading of the chart is overruled"

    revision = models.ForeignKey("tunes.ChartRevision", on_delete=models.CASCADE, related_name="reading_questions")
    event = models.PositiveSmallIntegerField()
    read_as = models.CharField(max_length=120)
    player = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="reading_questions")
    outcome = models.CharField(max_length=8, choices=Outcome.choices, default=Outcome.OPEN, blank=True)

    class Meta(Asked.Meta):
        constraints = [
            models.UniqueConstraint(
                fields=["revision", "event", "player"],
                condition=models.Q(answered=None),
                name="one_open_reading_question",
            )
        ]
        indexes = [models.Index(fields=["answered", "created"], name="reading_question_queue")]

    def __str__(self) -> str:
        return f"{self.read_as}: {self.text[:60]}"
