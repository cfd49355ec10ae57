"""Due dates, run-throughs and set lists as an iCalendar feed (RFC 5545): a person's own, or those of one ensemble.

A run-through is a step in person with a date: it stands in the feeds of who plays and of who hears it. Of a person's own feed the
dates are theirs: a later one that was given to them, nothing that they are excused from.

A feed names tunes and steps and nothing of their chords, so it tells a player nothing that is held back.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import secrets
from collections.abc import Callable
from typing import Any

from django.db.models import Prefetch, Q
from django.urls import reverse
from django.utils import timezone
from icalendar import Calendar, Event

from api.models import Feed
from assessments.access import assignments_led, assignments_played, set_lists_seen
from assessments.kinds import IN_PERSON, KINDS
from assessments.models import Assignment, Leeway, PlannedTune, SetList, SetTune, Step
from studio.access import ensembles_led, ensembles_played, leads, plays_in
from studio.models import Ensemble, Programme, User

PAST = dt.timedelta(days=120)  # what is longer ago has left the feed
MOST = 1000  # events of one feed
READ_STEP = dt.timedelta(hours=1)
RUN_THROUGHS = [kind.id for kind in KINDS.values() if kind.how == IN_PERSON]


def make_feed(*, owner: User, ensemble: Ensemble | None) -> str:
    """A new feed; returns the secret part of its address, which nobody can read again."""
    key = secrets.token_urlsafe(32)
    Feed.objects.create(owner=owner, ensemble=ensemble, digest=_digest(key))
    return key


def end_feed(*, feed_id: int, owner: User) -> bool:
    """False when there is none of that person's, or it was ended before."""
    return bool(Feed.objects.filter(pk=feed_id, owner=owner, ended=None).update(ended=timezone.now()))


def open_feed(key: str) -> Feed | None:
    """The feed under this address; None when there is none, or its owner may not read it any more."""
    found = (
        Feed.objects.select_related("owner", "ensemble__term")
        .filter(digest=_digest(key), ended=None, owner__is_active=True)
        .first()
    )
    if found is None or not may_read(found.owner, found.ensemble):
        return None
    now = timezone.now()
    if found.read is None or now - found.read > READ_STEP:
        Feed.objects.filter(pk=found.pk).update(read=now)
    return found


def may_read(user: User, ensemble: Ensemble | None) -> bool:
    return ensemble is None or leads(user, ensemble) or plays_in(user, ensemble)


def calendar_of(feed: Feed, absolute: Callable[[str], str]) -> bytes:
    """The feed as text/calendar. `absolute` makes an address of a path."""
    made = Calendar()
    made.add("prodid", "-//Topform//Due dates//EN")
    made.add("version", "2.0")
    made.add("method", "PUBLISH")
    made.add("name", _name(feed))
    made.add("x-wr-calname", _name(feed))
    made.add("refresh-interval", dt.timedelta(hours=6), parameters={"value": "DURATION"})
    host = absolute("/").split("//", 1)[-1].strip("/") or "topform"
    for step, due in due_steps(feed):
        made.add_component(_due(step, due, host, absolute))
    for found in set_lists(feed):
        made.add_component(_played(found, host, absolute))
    for row in planned(feed):
        made.add_component(_known_by(row, host))
    return bytes(made.to_ical())


def due_steps(feed: Feed) -> list[tuple[Step, dt.datetime]]:
    """Steps that are asked, each with its date, from lately on: two queries."""
    since = timezone.now() - PAST
    if feed.ensemble:
        wanted = Q(assignment__in=Assignment.objects.filter(ensemble=feed.ensemble, closed=None), due__gte=since)
    else:
        played = Q(assignment__in=_open(assignments_played(feed.owner)))
        later = Q(leeways__player=feed.owner, leeways__due__gte=since)
        heard = Q(assignment__in=_open(assignments_led(feed.owner)), kind__in=RUN_THROUGHS)
        wanted = (played & (Q(due__gte=since) | later)) | (heard & Q(due__gte=since))
    steps = Step.objects.filter(wanted, closed=None).distinct()
    rows = list(steps.select_related("assignment__tune", "assignment__ensemble").order_by("due", "pk")[:MOST])
    own = {} if feed.ensemble else _leeways(feed.owner, rows)
    dated = [(step, own.get(step.pk, step.due)) for step in rows]
    return [(step, due) for step, due in dated if due is not None and due >= since]


def _open(assignments: Any) -> Any:
    return assignments.filter(closed=None).order_by().values("pk")


def _leeways(owner: User, steps: list[Step]) -> dict[int, dt.datetime | None]:
    """Step → the owner's own date of it; None: excused."""
    rows = Leeway.objects.filter(player=owner, step__in=steps)
    return {row.step_id: None if row.excused else row.due for row in rows if row.excused or row.due}


def set_lists(feed: Feed) -> list[SetList]:
    """What is played on which day, with its tunes in order: two queries."""
    rows = set_lists_seen(feed.owner).filter(on__gte=timezone.localdate() - PAST)
    if feed.ensemble:
        rows = rows.filter(ensemble=feed.ensemble)
    tunes = SetTune.objects.select_related("revision__version__tune").defer("revision__text", "revision__analysis")
    return list(rows.prefetch_related(Prefetch("tunes", tunes)).order_by("on", "pk")[:MOST])


def planned(feed: Feed) -> list[PlannedTune]:
    """Tunes to be known by a day; only in the feed of an ensemble, and only for who leads it: a plan is the leader's."""
    if not feed.ensemble or not leads(feed.owner, feed.ensemble):
        return []
    since = timezone.localdate() - PAST
    rows = PlannedTune.objects.filter(ensemble=feed.ensemble, known_by__gte=since).select_related("tune")
    return list(rows.order_by("known_by", "pk")[:MOST])


def _name(feed: Feed) -> str:
    return f"{feed.ensemble or 'Your work'} ({Programme.current().name})"


def _due(step: Step, due: dt.datetime, host: str, absolute: Callable[[str], str]) -> Event:
    event, tune = Event(), step.assignment.tune.title
    event.add("uid", f"step-{step.pk}@{host}")
    event.add("dtstamp", step.assignment.created)
    event.add("dtstart", due)
    event.add("duration", dt.timedelta(0))
    what = "Run-through" if step.kind in RUN_THROUGHS else "Due"
    event.add("summary", f"{what}: {tune}, {step.name}")
    event.add("description", f"{step.assignment.title} ({step.assignment.ensemble})")
    event.add("url", absolute(reverse("work:assignment", args=[step.assignment_id])))
    event.add("transp", "TRANSPARENT")
    return event


def _played(found: SetList, host: str, absolute: Callable[[str], str]) -> Event:
    """A whole day (3.6.1: a date without an end is that day): a set list has no time of day."""
    event = Event()
    event.add("uid", f"set-{found.pk}@{host}")
    event.add("dtstamp", found.created)
    event.add("dtstart", found.on)
    event.add("summary", f"Set: {found.ensemble.name}")
    if found.where:
        event.add("location", found.where)
    tunes = [row.revision.version.tune.title for row in found.tunes.all()]
    if tunes:
        event.add("description", "\n".join(f"{place}. {title}" for place, title in enumerate(tunes, 1)))
    event.add("url", absolute(reverse("work:set-list", args=[found.pk])))
    event.add("transp", "TRANSPARENT")
    return event


def _known_by(row: PlannedTune, host: str) -> Event:
    event = Event()
    event.add("uid", f"planned-{row.pk}@{host}")
    event.add("dtstamp", row.added)
    event.add("dtstart", row.known_by)
    event.add("summary", f"To be known: {row.tune.title}")
    event.add("transp", "TRANSPARENT")
    return event


def _digest(key: str) -> str:
    return hashlib.sha256(key.encode()).hexdigest()


def feeds_of(user: User) -> Any:
    """A person's feeds that work."""
    return Feed.objects.filter(owner=user, ended=None).select_related("ensemble__term")


def choices(user: User) -> list[Ensemble]:
    """Ensembles of terms that have not ended, in which the person plays or which they lead."""
    rows = ensembles_led(user) | ensembles_played(user)
    return list(rows.filter(term__ends__gte=timezone.localdate()).distinct().select_related("term").order_by("name"))
