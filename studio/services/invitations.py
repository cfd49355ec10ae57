"""Invitation links: one person, one use, two weeks."""

from __future__ import annotations

import datetime as dt
import smtplib

from django.conf import settings
from django.core.mail import EmailMessage
from django.db import transaction
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils import timezone

from studio import mail
from studio.audit import record
from studio.entry import sessions
from studio.models import AuditEntry, Invitation, Programme, User

LIFETIME = dt.timedelta(days=14)


class InvitationClosed(Exception):
    """The link is used, too old, replaced, or of a closed account."""


def invite(user: User, *, by: User | None) -> Invitation:
    """A fresh link for `user`; any earlier one stops working."""
    with transaction.atomic():
        User.objects.select_for_update().get(pk=user.pk)  # two clicks at once make one open link, not two
        user.invitations.filter(used=None).delete()
        return Invitation.objects.create(user=user, invited_by=by, expires=timezone.now() + LIFETIME)


def link(invitation: Invitation) -> str:
    """The whole address, for a letter or to copy."""
    return settings.SITE_URL + reverse("studio:accept", kwargs={"token": invitation.token})


def send_letter(invitation: Invitation) -> bool:
    """Mail the link; False when no server took it: it is refused, or there is none and the letter is only a file."""
    programme = Programme.current()
    body = render_to_string(
        "studio/mail/invitation.txt",
        {"invitation": invitation, "link": link(invitation), "programme": programme, "days": LIFETIME.days},
    )
    try:
        EmailMessage(f"{programme.name}: your account", body, to=[invitation.user.email]).send()
    except (OSError, smtplib.SMTPException):
        return False
    if not mail.goes_out():
        return False
    invitation.mailed = timezone.now()
    invitation.save(update_fields=["mailed"])
    return True


def find_open(token: str) -> Invitation:
    """The invitation of a link that still works; raises InvitationClosed otherwise."""
    invitation = Invitation.objects.select_related("user").filter(token=token).first()
    if invitation is None or not invitation.is_open or not invitation.user.is_active:
        raise InvitationClosed
    return invitation


def accept(token: str, *, password: str) -> User:
    """Set the password and burn the link, once however often it is sent."""
    with transaction.atomic():
        invitation = find_open(token)
        won = Invitation.objects.filter(pk=invitation.pk, used=None).update(used=timezone.now())
        if not won:
            raise InvitationClosed
        invitation.user.set_password(password)
        invitation.user.save(update_fields=["password"])
        sessions.end_all(user=invitation.user)
        record(AuditEntry.Kind.LOGIN, "Password set by an invitation", by=invitation.user, about=invitation.user)
    return invitation.user
