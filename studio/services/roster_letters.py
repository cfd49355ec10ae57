"""The background job that invites everyone on the roster who has no account yet."""

from __future__ import annotations

from typing import Any

from studio import mail
from studio.jobs import Progress, handler
from studio.selectors import waiting_people
from studio.services.invitations import invite, send_letter


@handler("invitations")
def invite_waiting_people(progress: Progress) -> dict[str, Any]:
    """Letters to all, or to those in the payload's `users`. Safe to repeat: a second letter replaces the first link."""
    people = waiting_people().order_by("name", "pk")
    if "users" in progress.payload:
        people = people.filter(pk__in=progress.payload["users"])
    waiting, sent, refused, filed = list(people), 0, [], 0
    for number, user in enumerate(waiting, start=1):
        if send_letter(invite(user, by=progress.owner)):
            sent += 1
        elif not mail.goes_out():
            filed += 1
        else:
            refused.append(user.email)
        progress.step(number, len(waiting), f"{number} of {len(waiting)}: {user.name}")
    return {
        "sent": sent,
        "refused": refused,
        "filed": filed,
        "folder": mail.folder() if filed else "",
        "next": "/people/links/" if filed or refused else "/people/",
    }
