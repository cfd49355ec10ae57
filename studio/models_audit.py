"""The audit log, archives of a person's own data, and erasures that are announced."""

from __future__ import annotations

import uuid
from typing import Any, NoReturn

from django.db import models
from django.utils import timezone

from studio.models import User
from studio.storage import private_files


class AppendOnly(TypeError):
    """Entries of the log are neither changed nor deleted."""


class AuditQuerySet(models.QuerySet["AuditEntry"]):
    def update(self, **_: Any) -> NoReturn:
        raise AppendOnly

    def delete(self) -> NoReturn:
        raise AppendOnly

    def bulk_update(self, *_: Any, **__: Any) -> NoReturn:
        raise AppendOnly


class AuditEntry(models.Model):
    """One thing that somebody did. People stand in `by` and `about` alone, never in `text`: who is erased is nobody there."""

    class Kind(models.TextChoices):
        LOGIN = "login", "Signing in"
        ROLE = "role", "Roles and chairs"
        SIGN_OFF = "sign-off", "Sign-offs"
        OVERRULE = "overrule", "Overrules and marks given"
        TOKEN = "token", "Tokens"
        DELETION = "deletion", "Deletions"
        EXPORT = "export", "Exports"
        ERASURE = "erasure", "Erasures"
        SETTING = "setting", "Rules of the programme"

    at = models.DateTimeField(default=timezone.now)
    kind = models.CharField(max_length=12, choices=Kind.choices)
    by = models.ForeignKey(User, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    about = models.ForeignKey(User, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    text = models.CharField(max_length=300)
    by_program = models.BooleanField(default=False)  # over the REST interface, with a token
    service = models.CharField(max_length=80, blank=True)  # which service did it, where no person did

    objects = AuditQuerySet.as_manager()

    class Meta:
        ordering = ["-at", "-id"]
        indexes = [
            models.Index(fields=["-at", "-id"], name="audit_by_time"),
            models.Index(fields=["kind", "-at"], name="audit_by_kind"),
            models.Index(fields=["about", "-at"], name="audit_by_person"),
        ]

    def __str__(self) -> str:
        return self.text

    def save(self, *args: Any, **kwargs: Any) -> None:
        if self.pk is not None:
            raise AppendOnly
        super().save(*args, **kwargs)

    def delete(self, *args: Any, **kwargs: Any) -> NoReturn:
        raise AppendOnly


def archive_path(_row: Any, _name: str) -> str:
    return f"personal/{uuid.uuid4().hex}"


class PersonalArchive(models.Model):
    """All that the site holds about one person, as a ZIP; it may be fetched until it expires."""

    about = models.ForeignKey(User, on_delete=models.CASCADE, related_name="archives")
    by = models.ForeignKey(User, on_delete=models.CASCADE, related_name="+")
    file = models.FileField(storage=private_files, upload_to=archive_path)
    size = models.PositiveBigIntegerField()  # bytes
    created = models.DateTimeField(default=timezone.now)
    expires = models.DateTimeField()

    class Meta:
        ordering = ["-created"]

    def __str__(self) -> str:
        return f"archive of {self.created:%Y-%m-%d}"


class PlannedErasure(models.Model):
    """A person whom the programme's rule will erase on `on`, told to the directors beforehand; `kept` says not to."""

    user = models.OneToOneField(User, on_delete=models.CASCADE, related_name="planned_erasure")
    announced = models.DateTimeField(default=timezone.now)
    on = models.DateField()
    kept = models.BooleanField(default=False)

    class Meta:
        ordering = ["on", "id"]

    def __str__(self) -> str:
        return f"erasure on {self.on}"
