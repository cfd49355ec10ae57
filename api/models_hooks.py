"""Webhooks: addresses that are told of what happens, and what they were told."""

from __future__ import annotations

import uuid

from django.db import models
from django.utils import timezone


class Hook(models.Model):
    """One address of another system. Its secret is sealed (`api.campus.sealed`); after a new one was made the old one signs
    too until `old_until`. `off`: switched off after failing too long; `ended`: for good."""

    name = models.CharField(max_length=80)
    url = models.CharField(max_length=500)
    events = models.JSONField(default=list)
    sealed = models.TextField()
    old_sealed = models.TextField(blank=True)
    old_until = models.DateTimeField(null=True, blank=True)
    failing_since = models.DateTimeField(null=True, blank=True)
    reached = models.DateTimeField(null=True, blank=True)
    off = models.DateTimeField(null=True, blank=True)
    created = models.DateTimeField(auto_now_add=True)
    ended = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["name", "id"]

    def __str__(self) -> str:
        return self.name


class Delivery(models.Model):
    """One message to one address: its body as it is signed, how often it was tried, what came back."""

    class State(models.TextChoices):
        WAITING = "waiting", "Waiting"
        SENT = "sent", "Taken"
        FAILED = "failed", "Not taken"

    hook = models.ForeignKey(Hook, on_delete=models.CASCADE, related_name="deliveries")
    message = models.UUIDField(default=uuid.uuid4, unique=True)
    event = models.CharField(max_length=40)
    body = models.TextField()
    state = models.CharField(max_length=8, choices=State.choices, default=State.WAITING)
    tries = models.PositiveSmallIntegerField(default=0)
    next_try = models.DateTimeField(default=timezone.now)
    status = models.PositiveSmallIntegerField(null=True, blank=True)
    answer = models.CharField(max_length=300, blank=True)
    made = models.DateTimeField(default=timezone.now, db_index=True)
    sent = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-id"]
        indexes = [models.Index(fields=["state", "next_try"], name="delivery_waiting")]

    def __str__(self) -> str:
        return f"{self.event} to {self.hook}"
