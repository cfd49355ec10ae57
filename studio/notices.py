"""Telling people things: at once in the app, once a day by e-mail."""

from __future__ import annotations

import datetime as dt
import logging
import smtplib
from collections.abc import Iterable, Sequence

from django.conf import settings
from django.core.mail import EmailMessage
from django.db import transaction
from django.db.models import QuerySet
from django.template.loader import render_to_string
from django.utils import timezone

from studio import addresses
from studio.models import Message, Notice, Programme, User

log = logging.getLogger(__name__)


def notify(user: User, kind: str, text: str, url: str = "") -> Notice:
    """Tell one person. `url` is a path on this site; `text` stands by itself, holds no mark and no grade."""
    return notify_many([user], kind, text, url)[0]


def notify_many(
    users: Iterable[User], kind: str, text: str, url: str = "", *, message: Message | None = None
) -> list[Notice]:
    """Tell several people the same thing, in one write. The letter brings the whole of a `message`."""
    return Notice.objects.bulk_create(
        [Notice(user=user, kind=kind, text=text[:300], url=url, message=message) for user in users]
    )


def unread_notices(users: Iterable[User], kind: str, url: str) -> QuerySet[Notice]:
    """Notices of this kind and address that these people have neither seen nor had by mail."""
    return Notice.objects.filter(user__in=list(users), kind=kind, url=url, seen=None, mailed=None)


def notify_once(user: User, kind: str, text: str, url: str) -> None:
    """Tell one person, unless the same words still wait to be read."""
    if not unread_notices([user], kind, url).filter(text=text[:300]).exists():
        notify(user, kind, text, url)


def notify_each_once(kind: str, rows: Sequence[tuple[int, str, str]]) -> None:
    """Tell many people something each, as (user id, text, url), unless the same words still wait to be read. Two queries."""
    wanted = {(user, text[:300], url) for user, text, url in rows}
    if not wanted:
        return
    waiting = Notice.objects.filter(kind=kind, user__in={row[0] for row in wanted}, seen=None, mailed=None)
    said = set(waiting.values_list("user_id", "text", "url"))
    Notice.objects.bulk_create(
        [Notice(user_id=user, kind=kind, text=text, url=url) for user, text, url in sorted(wanted - said)]
    )


def unseen(user: User) -> int:
    return Notice.objects.filter(user=user, seen=None).count()


def send_digests(
    now: dt.datetime | None = None, *, made_before: dt.datetime | None = None, unsent: list[str] | None = None
) -> int:
    """One letter to everyone who has something new and none today; returns how many went out.

    `made_before`: only notices made until then go out. The daily round gives the hour of the letter, so that what comes
    after it waits for the next day's letter instead of going alone. `unsent` is given the reason of every letter that
    the mail server did not take.

    Safe to run at any time and by several workers: the person's row is locked, what has been mailed or
    seen is never mailed again, and a letter that could not be sent stays for the next run.
    """
    now = now or timezone.now()
    until = made_before or now
    waiting = Notice.objects.filter(mailed=None, seen=None, created__lte=until)
    people = User.objects.filter(pk__in=waiting.values("user"), is_active=True, wants_digest=True)
    people = people.exclude(email__endswith=addresses.NOWHERE)
    unsent = [] if unsent is None else unsent
    return sum(_send_one(pk, now, until, unsent) for pk in list(people.order_by("pk").values_list("pk", flat=True)))


def _send_one(pk: int, now: dt.datetime, until: dt.datetime, unsent: list[str]) -> bool:
    with transaction.atomic():
        user = User.objects.select_for_update(skip_locked=True).filter(pk=pk).first()
        if user is None or _had_one_today(user, now):
            return False
        notices = list(
            user.notices.filter(mailed=None, seen=None, created__lte=until)
            .select_related("message")
            .order_by("created", "pk")
        )
        if not notices or not _mail(user, notices, unsent):
            return False
        Notice.objects.filter(pk__in=[notice.pk for notice in notices]).update(mailed=now)
        user.digest_sent = now
        user.save(update_fields=["digest_sent"])
    return True


def _had_one_today(user: User, now: dt.datetime) -> bool:
    return user.digest_sent is not None and timezone.localdate(user.digest_sent) == timezone.localdate(now)


def _mail(user: User, notices: Sequence[Notice], unsent: list[str]) -> bool:
    programme = Programme.current()
    body = render_to_string(
        "studio/mail/digest.txt", {"user": user, "notices": notices, "programme": programme, "site": settings.SITE_URL}
    )
    subject = f"{programme.name}: {len(notices)} new" if len(notices) > 1 else f"{programme.name}: something new"
    try:
        EmailMessage(subject, body, to=[user.email]).send()
    except (OSError, smtplib.SMTPException) as error:
        log.warning("digest for user %s was not sent: %s", user.pk, error)
        unsent.append(str(error))
        return False
    return True
