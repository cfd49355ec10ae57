"""Which pages of today's plan a device keeps: the plan, its tunes, drills and bands."""

from __future__ import annotations

from collections.abc import Iterator
from urllib.parse import urlencode, urlsplit

from django.urls import Resolver404, resolve, reverse
from django.utils import timezone

from drills.bands import styles_of, usual_style
from drills.lines.passage import EmptyPassage
from studio.models import User
from studio.offline import MAY_BE_KEPT
from tunes.access import closed
from tunes.models import ChartRevision
from tunes.selectors import latest_revisions
from tunes.study import ChartUnreadable, study_chart

from ..today import plan, until_tomorrow
from .today import desk_of

CHORUSES = 3  # of the band of each tune; another one stands in for a seed that was not fetched
MOST = 6  # tunes


def pages_of(user: User) -> list[str]:
    """Addresses of the pages of today's plan that may be kept, the plan first. Tunes whose chords are held back are left out."""
    today = timezone.localdate()
    desk = desk_of(user)
    lines = plan(desk.works, desk.habit.minutes, today, until_tomorrow(desk.habit.left_out, today)).lines
    tunes = list(dict.fromkeys(line.work.tune for line in lines if line.work.tune))[:MOST]
    shut = closed(user, tunes)
    found = [reverse("work:desk")]
    for revision in latest_revisions().filter(version__tune__in=[tune for tune in tunes if tune not in shut]):
        found += [reverse("tunes:tune", args=[revision.version.tune_id]), *_band(revision)]
    found += [line.work.url for line in lines if line.work.tune not in shut and _kept(line.work.url)]
    return list(dict.fromkeys(found))


def _band(revision: ChartRevision) -> Iterator[str]:
    """The page of the band and a few choruses as it asks for them."""
    tune = revision.version.tune
    try:
        styles = styles_of(study_chart(revision))
    except (EmptyPassage, ChartUnreadable):
        return
    yield reverse("drills:band", args=[revision.pk])
    for turn in range(CHORUSES):
        asked = urlencode({"style": usual_style(tune, styles), "seed": f"kept-{turn}"})
        yield f"{reverse('drills:band_chorus', args=[revision.pk])}?{asked}"


def _kept(address: str) -> bool:
    try:
        return resolve(urlsplit(address).path).view_name in MAY_BE_KEPT
    except Resolver404:
        return False
