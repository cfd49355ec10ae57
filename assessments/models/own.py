"""What players do for themselves: quizzes they start, what comes back from memory, how they like their desk.

Nothing here is evidence: the ledger reads none of it, and nobody but the player sees it.
"""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.utils import timezone


class OwnQuiz(models.Model):
    """A quiz that a player started for themselves, over one tune or several.

    `parts` says for each tune which chart is asked and in which pitch; `questions` holds the questions with their keys,
    each with the number of its part, and `asked` the same without keys: what may be shown before it is handed in.
    `answers` holds by question `[text, version, client, sequence, time]`; `marks` is empty until it is handed in.
    `wish` is what was chosen, so that the same can be asked again.
    """

    player = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="own_quizzes")
    title = models.CharField(max_length=200)
    wish = models.JSONField(default=dict)
    parts = models.JSONField(default=list)
    questions = models.JSONField(default=list)
    asked = models.JSONField(default=list)
    answers = models.JSONField(default=dict)
    marks = models.JSONField(default=list)
    started = models.DateTimeField(default=timezone.now)
    handed_in = models.DateTimeField(null=True, blank=True)
    points = models.FloatField(null=True, blank=True)
    out_of = models.PositiveSmallIntegerField(default=0)

    class Meta:
        ordering = ["-started", "-id"]
        indexes = [models.Index(fields=["player", "-started"], name="own_quiz_by_player")]

    def __str__(self) -> str:
        return self.title

    @property
    def is_open(self) -> bool:
        return self.handed_in is None

    @property
    def percent(self) -> int | None:
        """The mark as a whole percentage, None while it is open."""
        return round(100 * self.points / self.out_of) if self.points is not None and self.out_of else None


class Recall(models.Model):
    """Something of a tune that a player brought up from memory: when it is worth doing again, and in which keys it went.

    `card` is what the scheduler keeps; `keys` are the concert keys in which it went well, as text.
    """

    class What(models.TextChoices):
        CHANGES = "changes", "The changes"
        NUMBERS = "numbers", "The numbers"
        MELODY = "melody", "The melody"

    player = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="recalls")
    tune = models.ForeignKey("tunes.Tune", on_delete=models.CASCADE, related_name="+")
    what = models.CharField(max_length=8, choices=What.choices)
    card = models.JSONField(default=dict)
    due = models.DateTimeField()
    last = models.DateTimeField()
    percent = models.PositiveSmallIntegerField(default=0)
    keys = models.JSONField(default=list)
    times = models.PositiveIntegerField(default=0)

    class Meta:
        ordering = ["due", "id"]
        constraints = [models.UniqueConstraint(fields=["player", "tune", "what"], name="one_recall_each")]

    def __str__(self) -> str:
        return f"{self.get_what_display()} of {self.tune}"


class DeskHabit(models.Model):
    """How a player likes their desk: minutes a day, signs or words, and what waits until another day.

    `left_out` holds by the name of a piece of work the day until which it waits, as "2026-11-30".
    """

    player = models.OneToOneField(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="desk_habit")
    minutes = models.PositiveSmallIntegerField(default=20)
    in_words = models.BooleanField(default=False)
    left_out = models.JSONField(default=dict)

    def __str__(self) -> str:
        return f"{self.minutes} minutes"
