"""What instructors say about handed-in work. Everything here is added, nothing is overwritten."""
from __future__ import annotations

from django.conf import settings
from django.db import models

from .attempts import Attempt


class Comment(models.Model):
    """A remark on one attempt: on a bar, at a time in a recording, or on the whole."""

    attempt = models.ForeignKey(Attempt, on_delete=models.CASCADE, related_name="comments")
    bar = models.PositiveSmallIntegerField(null=True, blank=True)  # bar number as printed in the chart
    seconds = models.FloatField(null=True, blank=True)
    text = models.TextField(max_length=2000)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    created = models.DateTimeField(auto_now_add=True)
    token = models.UUIDField()

    class Meta:
        ordering = ["id"]
        constraints = [models.UniqueConstraint(fields=["attempt", "token"], name="said_once")]

    def __str__(self) -> str:
        return self.text[:60]

    @property
    def clock(self) -> str:
        """The time in the recording as minutes and seconds, "1:05"."""
        minutes, seconds = divmod(int(self.seconds or 0), 60)
        return f"{minutes}:{seconds:02d}"


class MarkOverride(models.Model):
    """An instructor's mark beside the computed one; the newest for a question counts."""

    attempt = models.ForeignKey(Attempt, on_delete=models.CASCADE, related_name="overrides")
    question = models.CharField(max_length=40)
    points = models.FloatField()
    reason = models.CharField(max_length=400)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    created = models.DateTimeField(auto_now_add=True)
    version = models.PositiveIntegerField()  # the attempt's version this override made

    class Meta:
        ordering = ["id"]
        constraints = [models.UniqueConstraint(fields=["attempt", "version"], name="one_override_a_version")]

    def __str__(self) -> str:
        return f"{self.question}: {self.points} ({self.reason})"
