"""Tokens with which a program acts for a person, or as a service of the programme's own."""

from __future__ import annotations

from django.conf import settings
from django.db import models


class Token(models.Model):
    """One key to the REST interface. Only a digest is kept: the key itself is shown once, when it is made.

    Without an owner it is that of a service: no person's, so that it outlives whoever made it. `name` is then what the
    log calls it.
    """

    owner = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.CASCADE, related_name="api_tokens"
    )
    name = models.CharField(max_length=80)
    digest = models.CharField(max_length=64, unique=True)  # SHA-256, hex: the key has 256 random bits
    hint = models.CharField(max_length=12)  # its first letters, to tell tokens apart
    scopes = models.JSONField(default=list)
    created = models.DateTimeField(auto_now_add=True)
    expires = models.DateTimeField()
    used = models.DateTimeField(null=True, blank=True)
    revoked = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-created", "-id"]

    def __str__(self) -> str:
        return f"{self.name} of {self.owner}" if self.owner else f"{self.name} (service)"


class Repeat(models.Model):
    """The answer to a call that was made once under a key of the caller's, kept a day for who repeats it."""

    token = models.ForeignKey(Token, on_delete=models.CASCADE, related_name="repeats")
    key = models.CharField(max_length=100)
    digest = models.CharField(max_length=64)  # of method, address and body: a key belongs to one call
    status = models.PositiveSmallIntegerField(default=0)
    body = models.JSONField(null=True)
    at = models.DateTimeField(auto_now_add=True, db_index=True)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["token", "key"], name="one_answer_per_key")]

    def __str__(self) -> str:
        return self.key


class Feed(models.Model):
    """A private address under which a calendar program reads due dates: a person's own, or those of one ensemble.

    Whoever has the address may read it, so it is long, kept as a digest, shown once and can be ended.
    """

    owner = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="feeds")
    ensemble = models.ForeignKey("studio.Ensemble", null=True, blank=True, on_delete=models.CASCADE, related_name="+")
    digest = models.CharField(max_length=64, unique=True)
    created = models.DateTimeField(auto_now_add=True)
    read = models.DateTimeField(null=True, blank=True)
    ended = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-created", "-id"]

    def __str__(self) -> str:
        return f"{self.owner}: {self.ensemble or 'own'}"


from api.models_changes import Change, ChangeState  # noqa: E402
from api.models_hooks import Delivery, Hook  # noqa: E402
from api.models_lti import CampusPerson, Course, CourseLink, CourseMark, Launch, Platform, SigningKey  # noqa: E402

__all__ = [
    "CampusPerson",
    "Change",
    "ChangeState",
    "Course",
    "CourseLink",
    "CourseMark",
    "Delivery",
    "Feed",
    "Hook",
    "Launch",
    "Platform",
    "Repeat",
    "SigningKey",
    "Token",
]
