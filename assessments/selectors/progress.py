"""What a player's progress is drawn from: practice, keys, bars that wait, tunes learned. For the player alone."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from dataclasses import dataclass
from typing import Any

from django.utils import timezone

from drills.models import Practice, PracticeCue
from drills.services.practice import HELD
from studio.models import Membership, Term
from tunes.access import closed
from tunes.harmony.charts.bar_count import bar_count
from tunes.harmony.pitch.spelling import Key
from tunes.study import chart_of

from ..called import done_of, twelve
from ..models import Recall
from ..progress import WEEKS, FailingBars, Step, TempoLine, failing, known_over_terms, tempo_line
from .ledger import learned_days

MOST_DRILLS, MOST_PRACTICES, MOST_TUNES, MOST_CUES = 12, 2000, 60, 400


@dataclass(frozen=True)
class Keys:
    """The twelve keys of one tune: (name, whether it has gone well)."""

    tune: str
    what: str
    keys: tuple[tuple[str, bool], ...]

    @property
    def done(self) -> int:
        return sum(gone for _, gone in self.keys)


@dataclass(frozen=True)
class Progress:
    """Everything the page draws."""

    tempi: tuple[TempoLine, ...]
    keys: tuple[Keys, ...]
    failing: tuple[FailingBars, ...]
    terms: tuple[Step, ...]

    @property
    def once(self) -> tuple[TempoLine, ...]:
        """Drills that held in a single week: no line yet."""
        return tuple(line for line in self.tempi if len(line.spots) == 1)

    @property
    def empty(self) -> bool:
        return not (self.tempi or self.keys or self.failing or any(step.known for step in self.terms))


def progress_of(player: Any, now: dt.datetime) -> Progress:
    """A fixed number of queries, however much was done."""
    today = timezone.localdate(now)
    return Progress(_tempi(player, today), _keys(player), _failing(player, now), _terms(player, today))


def _tempi(player: Any, today: dt.date) -> tuple[TempoLine, ...]:
    since = timezone.now() - dt.timedelta(weeks=WEEKS)
    rows = Practice.objects.filter(user=player, when__gte=since, went__in=HELD)
    columns = ("item", "item__title", "revision__version__tune__title", "when", "tempo")
    played: dict[int, tuple[str, str, list[tuple[dt.date, int]]]] = {}
    for item, title, tune, when, tempo in rows.values_list(*columns)[:MOST_PRACTICES]:
        played.setdefault(item, (title, tune, []))[2].append((timezone.localdate(when), tempo))
    busiest = sorted(played.values(), key=lambda row: -len(row[2]))[:MOST_DRILLS]
    lines = (tempo_line(title, tune, days, today) for title, tune, days in busiest)
    return tuple(line for line in lines if line is not None)


def _keys(player: Any) -> tuple[Keys, ...]:
    found = []
    rows = Recall.objects.filter(player=player).exclude(what=Recall.What.MELODY).select_related("tune")
    for row in rows.order_by("tune__title", "what")[:MOST_TUNES]:
        home = Key.parse(row.keys[0]) if row.keys else Key.parse("C")
        gone = done_of(home, row.keys)
        named = tuple((key.tonic.display, done) for key, done in zip(twelve(home), gone, strict=True))
        found.append(Keys(row.tune.title, row.get_what_display(), named))
    return tuple(found)


def _failing(player: Any, now: dt.datetime) -> tuple[FailingBars, ...]:
    rows = PracticeCue.objects.filter(user=player, settled=None, created__lte=now)
    columns = ("revision__version__tune", "revision__version__tune__title", "revision__text", "bar")
    bars: dict[tuple[int, str], list[int]] = defaultdict(list)
    ends: dict[int, int] = {}
    for tune, title, text, bar in rows.values_list(*columns)[:MOST_CUES]:
        count = bar_count(chart_of(text))
        bars[tune, title].append(count.sounding_of(bar))
        ends[tune] = max(ends.get(tune, 0), *count.chorus)
    shut = closed(player, {tune for tune, _ in bars})
    return tuple(
        failing(title, tune, found, ends[tune])
        for (tune, title), found in sorted(bars.items(), key=lambda row: row[0][1])
        if tune not in shut
    )


def _terms(player: Any, today: dt.date) -> tuple[Step, ...]:
    chairs = Membership.objects.filter(user=player, role=Membership.Role.PLAYER)
    terms = Term.objects.filter(ensembles__in=chairs.values("ensemble_id"), starts__lte=today)
    rows = list(terms.order_by("starts").distinct().values_list("name", "ends"))
    learned = [timezone.localdate(day) for day in learned_days(player)]
    return known_over_terms(rows, learned, today)
