"""Sign-ins that last: one row for each device where somebody is signed in."""

from __future__ import annotations

from django.db import models
from django.utils import timezone

from studio.models import User


class SignIn(models.Model):
    """Where a person is signed in. It holds no address of the network: what the browser says of itself tells devices apart.

    `key` is that of the session; `seen` is written at most every ten minutes (`studio.entry.sessions`).
    """

    user = models.ForeignKey(User, on_delete=models.CASCADE, related_name="sign_ins")
    key = models.CharField(max_length=40, unique=True)
    agent = models.CharField(max_length=300, blank=True)
    began = models.DateTimeField(default=timezone.now)
    seen = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ["-seen", "-pk"]

    def __str__(self) -> str:
        return f"sign-in of {self.began:%Y-%m-%d}"
