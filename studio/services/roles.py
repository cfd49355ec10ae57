"""People, what they may do, and their chairs: every change is written in the audit log with it."""

from __future__ import annotations

from typing import Any

from django.db import transaction

from studio.audit import record
from studio.happenings import Kind, happened
from studio.models import AuditEntry, Ensemble, Membership, User

ROLE = AuditEntry.Kind.ROLE


@transaction.atomic
def add_person(*, user: User, by: User) -> User:
    """Save a new person, who gets a password by an invitation."""
    user.set_unusable_password()
    user.save()
    record(ROLE, "Added to the programme" + (" as a director" if user.is_director else ""), by=by, about=user)
    return user


@transaction.atomic
def change_person(*, user: User, by: User) -> User:
    """Save what a director changed about a person."""
    before = User.objects.select_for_update().get(pk=user.pk)
    user.save()
    for text in _differences(before, user):
        record(ROLE, text, by=by, about=user)
    return user


def _differences(before: User, after: User) -> list[str]:
    said = []
    if before.is_director != after.is_director:
        said.append("Made a director" if after.is_director else "No director any more")
    if before.is_active != after.is_active:
        said.append("May sign in again" if after.is_active else "Account closed")
    if before.email != after.email:
        said.append("E-mail address changed")
    if before.school_id != after.school_id:
        said.append("School id changed")
    return said


@transaction.atomic
def give_chair(*, person: User, ensemble: Ensemble, by: User, **fields: Any) -> Membership:
    """A chair for a person who has none there; `fields` are role, instrument and doubles."""
    chair, new = Membership.objects.get_or_create(user=person, ensemble=ensemble, defaults=fields)
    if new:
        record(ROLE, f"Chair given: {chair.said}", by=by, about=person)
        happened(Kind.ROSTER, ensemble=chair.ensemble_id, person=chair.user_id)
    return chair


@transaction.atomic
def change_chair(*, chair: Membership, by: User) -> None:
    """Save a chair whose role or instrument was changed."""
    before = Membership.objects.select_related("ensemble__term").get(pk=chair.pk)
    chair.save()
    happened(Kind.ROSTER, ensemble=chair.ensemble_id, person=chair.user_id)
    if before.said != chair.said:
        record(
            ROLE, f"Chair changed: {before.said}, now {chair.get_role_display().lower()}", by=by, about=chair.user_id
        )


@transaction.atomic
def take_chair(*, chair: Membership, by: User | None) -> None:
    """Take a chair away; what was done in it stays."""
    record(ROLE, f"Chair taken away: {chair.said}", by=by, about=chair.user_id)
    happened(Kind.ROSTER, ensemble=chair.ensemble_id, person=chair.user_id)
    chair.delete()
