"""Course platforms (LTI 1.3): who may send people here, what was sent, and which marks went back."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils import timezone


class Platform(models.Model):
    """A course system as the director registered it. An ended one opens nothing and keeps its record."""

    name = models.CharField(max_length=80)
    issuer = models.CharField(max_length=255)
    client_id = models.CharField(max_length=255)
    login_url = models.URLField(max_length=500)
    token_url = models.URLField(max_length=500)
    keys_url = models.URLField(max_length=500)
    audience = models.CharField(max_length=500, blank=True)  # of token requests, where it is not `token_url`
    deployments = models.JSONField(default=list)
    trusts_addresses = models.BooleanField(default=False)
    keys = models.JSONField(default=dict)  # its public key set, as last read
    keys_read = models.DateTimeField(null=True, blank=True)
    refused = models.CharField(max_length=300, blank=True)  # why the last refused launch was refused
    refused_at = models.DateTimeField(null=True, blank=True)
    created = models.DateTimeField(auto_now_add=True)
    ended = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["name", "id"]
        constraints = [
            models.UniqueConstraint(
                fields=["issuer", "client_id"], condition=Q(ended=None), name="one_registration_of_a_client"
            )
        ]

    def __str__(self) -> str:
        return self.name


class SigningKey(models.Model):
    """A key of ours. The private half is sealed with the site's secret key (`api.campus.sealed`)."""

    kid = models.CharField(max_length=64, unique=True)
    sealed = models.TextField()
    public = models.JSONField()
    created = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["-created", "-id"]

    def __str__(self) -> str:
        return self.kid


class Launch(models.Model):
    """A message of a platform that was checked and not yet used. Its nonce is accepted once."""

    platform = models.ForeignKey(Platform, on_delete=models.CASCADE, related_name="launches")
    nonce = models.CharField(max_length=64, unique=True)
    key = models.CharField(max_length=64, unique=True)  # digest of what stands in the address of the next page
    browser = models.CharField(max_length=64)  # digest of the cookie of the browser that began
    claims = models.JSONField()
    user = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.CASCADE, related_name="+"
    )
    made = models.DateTimeField(default=timezone.now, db_index=True)
    used = models.DateTimeField(null=True, blank=True)

    def __str__(self) -> str:
        return f"{self.platform}, {self.made:%Y-%m-%d %H:%M}"


class CampusPerson(models.Model):
    """Who a person here is on a platform: matched once, then known by the platform's own id (`sub`)."""

    platform = models.ForeignKey(Platform, on_delete=models.CASCADE, related_name="people")
    subject = models.CharField(max_length=255)
    user = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="campus_people")
    made = models.DateTimeField(auto_now_add=True)
    seen = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["id"]
        constraints = [
            models.UniqueConstraint(fields=["platform", "subject"], name="one_person_a_subject"),
            models.UniqueConstraint(fields=["platform", "user"], name="one_subject_a_person"),
        ]

    def __str__(self) -> str:
        return f"{self.user} on {self.platform}"


class Course(models.Model):
    """A course of a platform from which something was opened, with the services that it offered."""

    platform = models.ForeignKey(Platform, on_delete=models.CASCADE, related_name="courses")
    deployment = models.CharField(max_length=255)
    context = models.CharField(max_length=255)
    title = models.CharField(max_length=200, blank=True)
    members_url = models.CharField(max_length=1000, blank=True)
    lines_url = models.CharField(max_length=1000, blank=True)
    scopes = models.JSONField(default=list)
    seen = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ["-seen", "-id"]
        constraints = [
            models.UniqueConstraint(fields=["platform", "deployment", "context"], name="one_course_a_context")
        ]

    def __str__(self) -> str:
        return self.title or self.context


class CourseLink(models.Model):
    """A link on a course page: which assignment it opens, and the column of the course's gradebook that belongs to it."""

    course = models.ForeignKey(Course, on_delete=models.CASCADE, related_name="links")
    resource = models.CharField(max_length=255)
    title = models.CharField(max_length=200, blank=True)
    assignment = models.ForeignKey(
        "assessments.Assignment", null=True, blank=True, on_delete=models.CASCADE, related_name="course_links"
    )
    line = models.CharField(max_length=1000, blank=True)  # address of its line item
    seen = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ["id"]
        constraints = [models.UniqueConstraint(fields=["course", "resource"], name="one_link_a_resource")]

    def __str__(self) -> str:
        return self.title or self.resource


class CourseMark(models.Model):
    """One mark on its way to a course: what it is, how often it was tried, what the platform said.

    `score` is a percentage; None tells the platform that the mark it has does not hold any more. The newest row of a
    link and a player is what the course should have.
    """

    class State(models.TextChoices):
        WAITING = "waiting", "Waiting"
        SENT = "sent", "Sent"
        FAILED = "failed", "Not taken"
        REPLACED = "replaced", "Replaced before it went"

    link = models.ForeignKey(CourseLink, on_delete=models.CASCADE, related_name="marks")
    player = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="course_marks")
    score = models.PositiveSmallIntegerField(null=True, blank=True)
    state = models.CharField(max_length=8, choices=State.choices, default=State.WAITING)
    tries = models.PositiveSmallIntegerField(default=0)
    next_try = models.DateTimeField(default=timezone.now)
    status = models.PositiveSmallIntegerField(null=True, blank=True)  # HTTP, of the last answer
    answer = models.CharField(max_length=300, blank=True)
    made = models.DateTimeField(auto_now_add=True)
    sent = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-id"]
        indexes = [models.Index(fields=["state", "next_try"], name="course_mark_waiting")]

    def __str__(self) -> str:
        return f"{self.link}, {self.player}: {self.said}"

    @property
    def said(self) -> Any:
        return "taken back" if self.score is None else f"{self.score} of 100"
