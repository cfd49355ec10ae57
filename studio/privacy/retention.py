"""The programme's rule: so many years after a person left they are erased, announced a month before.

Left means: the last term in which they had a chair has ended (without any chair: the day that the account was made), and
they are no director. The daily round announces, waits, and erases; a new chair or a director's "keep" stops it.
"""

from __future__ import annotations

import datetime as dt

from django.db import transaction
from django.db.models import Max
from django.urls import reverse
from django.utils import timezone

from studio.audit import record
from studio.models import AuditEntry, PlannedErasure, Programme, User
from studio.notices import notify_many
from studio.privacy.erase import erase

NOTICE = dt.timedelta(days=30)


def end_of_keeping(left: dt.date, years: int) -> dt.date:
    """The day after so many years; of a 29 February, 1 March."""
    try:
        return left.replace(year=left.year + years)
    except ValueError:
        return dt.date(left.year + years, 3, 1)


def over(years: int, by: dt.date) -> list[tuple[User, dt.date]]:
    """Whose time is over on `by`, with the day on which it is; one query."""
    rows = User.objects.filter(is_director=False, erased=None).annotate(last=Max("memberships__ensemble__term__ends"))
    found = [(user, end_of_keeping(user.last or timezone.localdate(user.created), years)) for user in rows]
    return sorted(((user, day) for user, day in found if day <= by), key=lambda row: (row[1], row[0].pk))


@transaction.atomic
def set_rule(*, years: int | None, by: User) -> None:
    """Change the rule; what was announced under another one is announced anew."""
    programme = Programme.objects.select_for_update().order_by("pk").first() or Programme()
    if programme.keep_years == years:
        return
    programme.keep_years = years
    programme.save()
    PlannedErasure.objects.filter(kept=False).delete()
    said = "kept until a director erases them" if years is None else f"erased {years} years after leaving"
    record(AuditEntry.Kind.SETTING, f"People are {said}", by=by)


@transaction.atomic
def keep(*, plan: PlannedErasure, by: User, kept: bool) -> None:
    """Keep a person whatever the rule says, or let the rule hold again, with a month's notice."""
    today = timezone.localdate()
    PlannedErasure.objects.filter(pk=plan.pk).update(kept=kept, on=max(plan.on, today + NOTICE))
    record(
        AuditEntry.Kind.ERASURE,
        "Kept in spite of the rule" if kept else "The rule holds again",
        by=by,
        about=plan.user_id,
    )


def daily(now: dt.datetime) -> None:
    """Announce, withdraw what is no longer due, erase what was announced and is due."""
    years = Programme.current().keep_years
    today = timezone.localdate(now)
    if years is None:
        PlannedErasure.objects.filter(kept=False).delete()
        return
    due = {user.pk: day for user, day in over(years, today + NOTICE)}
    PlannedErasure.objects.filter(kept=False).exclude(user__in=due).delete()
    planned = set(PlannedErasure.objects.values_list("user_id", flat=True))
    _announce([PlannedErasure(user_id=pk, on=max(day, today + NOTICE)) for pk, day in due.items() if pk not in planned])
    for pk in list(PlannedErasure.objects.filter(kept=False, on__lte=today).values_list("user_id", flat=True)):
        erase(person_id=pk, by=None)


@transaction.atomic
def _announce(new: list[PlannedErasure]) -> None:
    if not new:
        return
    PlannedErasure.objects.bulk_create(new)
    first = min(plan.on for plan in new)
    people = "1 person" if len(new) == 1 else f"{len(new)} people"
    text = f"By the programme's rule {people} will be erased from {first:%-d %B} on. Look at the list before."
    notify_many(User.objects.filter(is_director=True, is_active=True), "house", text, reverse("studio:keeping"))
