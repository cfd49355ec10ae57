"""What instructors say about handed-in work. Everything here is added, nothing is overwritten."""

from __future__ import annotations

from django.conf import settings
from django.db import models

from .assign import Quiz, Step
from .attempts import Attempt


class Comment(models.Model):
    """A remark on one attempt: on a bar, at a note of a solo, at a time in a recording, or on the whole."""

    attempt = models.ForeignKey(Attempt, on_delete=models.CASCADE, related_name="comments")
    bar = models.PositiveSmallIntegerField(null=True, blank=True)  # bar number as printed in the chart
    note = models.CharField(max_length=60, blank=True, default="")  # of a solo, in words: "bar 5, beat 2, D5"
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
    """An instructor's mark beside the computed one; the newest for a question counts.

    `origin` says how it came: typed for one sheet, from an answer accepted for everyone, or by marking again with a key
    that was overruled, which brings the `rule` and `feedback` of the new key. An accepted answer taken back puts the mark
    beside it that stood before.
    """

    class Origin(models.TextChoices):
        HAND = "hand", "Given by hand"
        ACCEPTED = "accepted", "Accepted for everyone who wrote it"
        KEY = "key", "Marked again with the key as it stands now"
        BACK = "back", "An accepted answer was taken back"

    origin = models.CharField(max_length=8, choices=Origin.choices, default=Origin.HAND)
    rule = models.CharField(max_length=60, blank=True)
    feedback = models.TextField(blank=True)
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


class AcceptedAnswer(models.Model):
    """An answer that counts for everyone of the ensemble who writes it, now and in later goes. The mark that the key gives
    stays beside it in `MarkOverride`. Rows that were accepted by one press are `together`; one that is `withdrawn` counts
    no more and stays as history."""

    step = models.ForeignKey(Step, on_delete=models.CASCADE, related_name="accepted")
    question = models.CharField(max_length=40)
    answer = models.CharField(max_length=400)  # blanks at its ends and doubled ones inside dropped
    points = models.FloatField()
    reason = models.CharField(max_length=400)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    created = models.DateTimeField(auto_now_add=True)
    together = models.UUIDField(null=True)
    withdrawn = models.DateTimeField(null=True)
    withdrawn_by = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["id"]
        constraints = [models.UniqueConstraint(fields=["step", "question", "answer"], name="accepted_once")]

    def __str__(self) -> str:
        return f"{self.question}: {self.answer}"


class KeyChange(models.Model):
    """The key of issued questions brought up to the overrules of the chart. `before` holds the keys as they were, by the id
    of their question; `marks` says how many marks were given again."""

    quiz = models.ForeignKey(Quiz, on_delete=models.CASCADE, related_name="key_changes")
    before = models.JSONField()
    marks = models.PositiveIntegerField(default=0)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    created = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["id"]

    def __str__(self) -> str:
        return f"{len(self.before)} keys of {self.quiz}"
