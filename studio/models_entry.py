"""Sign-ins that last, and the table of roles by the school's claims."""

from __future__ import annotations

from django.db import models
from django.utils import timezone

from studio.models import Ensemble, User


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


class ClaimRule(models.Model):
    """One row of the director's table: whose claim of the school's sign-in is (or holds) this value gets this role."""

    class Role(models.TextChoices):
        PLAYER = "player", "Plays in"
        INSTRUCTOR = "instructor", "Leads"
        DIRECTOR = "director", "Is a director"

    claim = models.CharField(max_length=100)
    value = models.CharField(max_length=200)
    role = models.CharField(max_length=12, choices=Role.choices)
    ensemble = models.ForeignKey(Ensemble, null=True, blank=True, on_delete=models.CASCADE, related_name="claim_rules")

    class Meta:
        ordering = ["claim", "value", "role", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["claim", "value", "role"], condition=models.Q(ensemble=None), name="one_row_for_a_claim"
            ),
            models.UniqueConstraint(
                fields=["claim", "value", "role", "ensemble"],
                condition=models.Q(ensemble__isnull=False),
                name="one_row_for_a_claim_and_ensemble",
            ),
        ]

    def __str__(self) -> str:
        where = f" {self.ensemble.in_term}" if self.ensemble else ""
        return f"{self.claim} = {self.value}: {self.get_role_display().lower()}{where}"

    @property
    def gives(self) -> str:
        """What it gives, as it is kept with the person."""
        return f"{self.role}:{self.ensemble_id}" if self.ensemble_id else self.role
