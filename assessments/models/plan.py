"""What an ensemble is to play later in its term."""

from __future__ import annotations

from django.conf import settings
from django.db import models


class PlannedTune(models.Model):
    """One tune in the plan of one ensemble (an ensemble belongs to one term), with the day it should be known by."""

    ensemble = models.ForeignKey("studio.Ensemble", on_delete=models.CASCADE, related_name="planned")
    tune = models.ForeignKey("tunes.Tune", on_delete=models.CASCADE, related_name="planned")
    position = models.PositiveIntegerField()
    known_by = models.DateField(null=True, blank=True)
    added_by = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.SET_NULL, related_name="+")
    added = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["position", "id"]
        constraints = [models.UniqueConstraint(fields=["ensemble", "tune"], name="planned_once")]

    def __str__(self) -> str:
        return f"{self.tune} for {self.ensemble}"
