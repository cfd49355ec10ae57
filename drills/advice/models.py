"""What the machine has said of a take, and what its player says against it."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from drills.takes.models import Take


class TakeAdvice(models.Model):
    """One reading of a take by the machine. It is no mark and enters none.

    data        `drills.hearing.result.Advice` as JSON with its version; of a solo {"version", "solo": [[second, length, MIDI
                number, cents, confidence], …]}.
    contested   ["chorus:note", …]: what the player says was played; these count nowhere.
    """

    class State(models.TextChoices):
        WAITING = "waiting", "being heard"
        HEARD = "heard", "heard"
        DECLINED = "declined", "not judged"

    take = models.OneToOneField(Take, on_delete=models.CASCADE, related_name="advice")
    state = models.CharField(max_length=8, choices=State.choices, default=State.WAITING)
    reason = models.CharField(max_length=300, blank=True)
    data = models.JSONField(default=dict)
    contested = models.JSONField(default=list)
    asked = models.DateTimeField(auto_now_add=True)
    heard = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(state="waiting") | Q(heard__isnull=False), name="take_advice_heard_at_a_time"
            )
        ]

    def __str__(self) -> str:
        return f"{self.take}: {self.get_state_display()}"
