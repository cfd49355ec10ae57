"""Who of ours opens a link. Only a person who is here already is signed in; nobody is made.

The first time by the school id that the platform sends (LTI Core 1.3, LIS claim; only if the director trusts what it says of
people), then by an address that the platform vouches for; from then on by the platform's own id of the person, as the
standard asks (an address may change hands). A director is never signed in by a course platform: whoever keeps the platform
would otherwise keep this site too. They sign in here first; then the link opens.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.db import IntegrityError, transaction
from django.utils import timezone

from api.campus.lti.message import Message
from api.models import CampusPerson, Platform
from studio.audit import record
from studio.models import AuditEntry, User


@dataclass(frozen=True)
class Stranger(Exception):
    """Nobody is signed in. `why` is for the person, `sign_in` says that signing in here first helps."""

    why: str
    sign_in: bool = False


def vouched_address(platform: Platform, *, email: str, verified: bool | None) -> str:
    """The address if it may say who somebody is: the platform says that it is verified (OpenID Connect Core, 5.1), or says
    nothing and the director trusts its addresses. Never when the platform says that it is not verified."""
    return email if verified or (verified is None and platform.trusts_addresses) else ""


def person_of(platform: Platform, message: Message, signed_in: Any) -> User:
    """The person behind a message. `signed_in`: who this browser is signed in as. Raises `Stranger`."""
    known = CampusPerson.objects.select_related("user").filter(platform=platform, subject=message.subject).first()
    user = known.user if known else _by_number(platform, message) or _by_address(platform, message)
    if not user.is_active:
        raise Stranger("Your account here is closed. Ask the director of the programme.")
    if (user.is_director or user.is_staff) and getattr(signed_in, "pk", None) != user.pk:
        raise Stranger(
            "A director is never signed in by a course platform. Sign in here, then open the link again.", sign_in=True
        )
    if known:
        CampusPerson.objects.filter(pk=known.pk).update(seen=timezone.now())
    else:
        remember(platform, user, message.subject)
    return user


def _by_number(platform: Platform, message: Message) -> User | None:
    number = message.school_id if platform.trusts_addresses else ""
    return User.objects.filter(school_id=number).first() if number else None


def _by_address(platform: Platform, message: Message) -> User:
    address = vouched_address(platform, email=message.email, verified=message.email_verified)
    if not address:
        raise Stranger(
            "The course platform did not say, or does not vouch for, which e-mail address is yours, so this site cannot "
            "tell who you are. Ask the director of the programme."
        )
    user = User.objects.filter(email=address).first()
    if user is None:
        raise Stranger(
            f"Nobody with the address {address} is on the roster of this programme. If you have another address here, "
            "ask the director to change it to this one."
        )
    number = message.school_id if platform.trusts_addresses else ""
    if number and user.school_id and user.school_id != number:
        raise Stranger(
            f"The address {address} belongs to somebody with another school id here. Ask the director of the programme."
        )
    return user


def remember(platform: Platform, user: User, subject: str) -> None:
    """From now on this id of the platform is this person. Raises `Stranger` when the person is somebody else there."""
    try:
        with transaction.atomic():
            CampusPerson.objects.create(platform=platform, subject=subject, user=user, seen=timezone.now())
            record(AuditEntry.Kind.LOGIN, f"Matched with an account of {platform.name}", by=user, about=user)
    except IntegrityError as error:
        raise Stranger(
            "Another account of the course platform belongs to you here already. Ask the director to end that match."
        ) from error
