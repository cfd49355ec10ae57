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


class SetList(models.Model):
    """What an ensemble plays on one day, in order."""

    ensemble = models.ForeignKey("studio.Ensemble", on_delete=models.CASCADE, related_name="set_lists")
    on = models.DateField()
    where = models.CharField(max_length=120, blank=True)
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.SET_NULL, related_name="+")
    created = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["-on", "-id"]

    def __str__(self) -> str:
        return f"{self.ensemble}, {self.on}"


class SetTune(models.Model):
    """One tune of a set list: the chart it is played from, the key and the tempo of the day (empty: as on the chart)."""

    set_list = models.ForeignKey(SetList, on_delete=models.CASCADE, related_name="tunes")
    revision = models.ForeignKey("tunes.ChartRevision", on_delete=models.PROTECT, related_name="+")
    position = models.PositiveIntegerField()
    key = models.CharField(max_length=16, blank=True)  # concert pitch, "Eb major"
    tempo = models.PositiveSmallIntegerField(null=True, blank=True)  # crotchets a minute
    note = models.CharField(max_length=120, blank=True)

    class Meta:
        ordering = ["position", "id"]

    def __str__(self) -> str:
        return f"{self.position}. {self.revision.version.tune}"
