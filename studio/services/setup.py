"""The first account of an empty site, by a link that works once."""

from __future__ import annotations

from django.db import transaction
from django.urls import reverse

from studio.audit import record
from studio.models import AuditEntry, Programme, SetupLink, User


class SetupError(Exception):
    """The site is already set up, or the link is not the right one."""


def setup_path() -> str | None:
    """The path of the one-time set-up page while the site has no director; makes the link if needed."""
    if User.objects.filter(is_director=True).exists():
        return None
    link = SetupLink.objects.first() or SetupLink.objects.create()
    return reverse("studio:setup", kwargs={"token": link.token})


def set_up(*, token: str, programme_name: str, time_zone: str, name: str, email: str, password: str) -> User:
    """Make the programme and its first director, and burn the link. Raises SetupError the second time."""
    with transaction.atomic():
        link = SetupLink.objects.select_for_update().filter(token=token).first()
        if link is None or User.objects.filter(is_director=True).exists():
            raise SetupError
        SetupLink.objects.all().delete()
        programme = Programme.current()
        programme.name, programme.time_zone = programme_name, time_zone
        programme.save()
        director = User.objects.create_user(email=email, name=name, password=password, is_director=True)
        record(AuditEntry.Kind.ROLE, "First director, by the set-up link", by=director, about=director)
        return director
