"""A player questions how a chart reads a chord; an instructor answers."""

from __future__ import annotations

from django.conf import settings
from django.db import models


class ReadingQuestion(models.Model):
    """A question on the reading of one chord of one revision, and its answer. Both stay. `read_as` is how the chord was
    read when it was asked, in words, so that the question can be understood after an overrule. `event` counts the events of
    the chart, from 0. `outcome` is empty until it is answered."""

    class Outcome(models.TextChoices):
        OPEN = "", "Not answered yet"
        KEPT = "kept", "It stays as it is"
        OVERRULE = "overrule", "The reading of the chart is overruled"

    revision = models.ForeignKey("tunes.ChartRevision", on_delete=models.CASCADE, related_name="reading_questions")
    event = models.PositiveSmallIntegerField()
    read_as = models.CharField(max_length=120)
    player = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="reading_questions")
    text = models.TextField(max_length=1000)
    token = models.UUIDField(unique=True)
    created = models.DateTimeField(auto_now_add=True)
    outcome = models.CharField(max_length=8, choices=Outcome.choices, default=Outcome.OPEN, blank=True)
    answer = models.TextField(max_length=1000, blank=True)
    answered_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    answered = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["created", "id"]
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
