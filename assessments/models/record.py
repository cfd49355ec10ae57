"""The record of learning: append-only evidence, and what it comes from."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import Q

from ..kinds import kind_choices
from .assign import Step
from .attempts import Attempt


class Listening(models.Model):
    """One time a player heard one recording of a tune, as they log it."""

    step = models.ForeignKey(Step, on_delete=models.CASCADE, related_name="listenings")
    player = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="+")
    recording = models.ForeignKey("tunes.Recording", null=True, blank=True, on_delete=models.SET_NULL, related_name="+")
    heard = models.CharField(max_length=200)  # what was heard, in words, kept if the recording goes
    on = models.DateField()
    noticed = models.TextField(blank=True, max_length=2000)
    token = models.UUIDField()
    created = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["-on", "-id"]
        constraints = [models.UniqueConstraint(fields=["player", "token"], name="logged_once")]
        indexes = [models.Index(fields=["player", "step"], name="listening_by_player")]

    def __str__(self) -> str:
        return self.heard


class SignOff(models.Model):
    """An instructor heard the player play the tune in person, and says on what evidence.
    Taking one back leaves the row and says who and when."""

    player = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="sign_offs")
    tune = models.ForeignKey("tunes.Tune", on_delete=models.PROTECT, related_name="sign_offs")
    ensemble = models.ForeignKey("studio.Ensemble", on_delete=models.PROTECT, related_name="sign_offs")
    step = models.ForeignKey(Step, null=True, blank=True, on_delete=models.SET_NULL, related_name="sign_offs")
    evidence = models.CharField(max_length=400)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    created = models.DateTimeField(auto_now_add=True)
    taken_back = models.DateTimeField(null=True, blank=True)
    taken_back_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )

    class Meta:
        ordering = ["-created", "-id"]
        constraints = [
            models.UniqueConstraint(
                fields=["player", "tune", "ensemble"],
                condition=Q(taken_back__isnull=True),
                name="one_standing_sign_off",
            )
        ]

    def __str__(self) -> str:
        return f"{self.player}: {self.tune}"


class Evidence(models.Model):
    """One fact about one player and one tune. Rows are only ever added: a fact that no longer holds is
    withdrawn by a later row that points at it. The ledger is derived from these and from nothing else."""

    player = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="evidence")
    tune = models.ForeignKey("tunes.Tune", on_delete=models.PROTECT, related_name="evidence")
    ensemble = models.ForeignKey("studio.Ensemble", on_delete=models.PROTECT, related_name="evidence")
    kind = models.CharField(max_length=16, choices=kind_choices)
    percent = models.PositiveSmallIntegerField(default=100)
    what = models.CharField(max_length=400)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    on = models.DateTimeField()
    step = models.ForeignKey(Step, null=True, blank=True, on_delete=models.SET_NULL, related_name="+")
    attempt = models.ForeignKey(Attempt, null=True, blank=True, on_delete=models.SET_NULL, related_name="evidence")
    sign_off = models.ForeignKey(
        SignOff, null=True, blank=True, on_delete=models.SET_NULL, related_name="evidence_rows"
    )
    withdraws = models.OneToOneField(
        "self", null=True, blank=True, on_delete=models.PROTECT, related_name="withdrawn_by"
    )

    class Meta:
        ordering = ["on", "id"]
        indexes = [models.Index(fields=["player", "tune", "kind"], name="evidence_ledger")]

    def __str__(self) -> str:
        return f"{self.player}, {self.tune}: {self.what}"

    @property
    def withdrawn_by_or_none(self) -> Evidence | None:
        """The row that withdrew this one; select_related("withdrawn_by") first."""
        return getattr(self, "withdrawn_by", None)
