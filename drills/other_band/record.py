"""Results of the other band: evidence of the ear on a tune, once for each round; what was missed and what is known by now."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django.db import transaction
from django.utils import timezone

from drills.models import PracticeCue
from drills.services.practice import cue_bars
from studio.models import User
from tunes.models import EarResult, Tune

from .judge import BAR, CHORDS, Judged
from .sheet import Round

SOURCE = "other-band"  # of the bars that come back to practice
RECENT = 20  # rounds that are looked back on
A_NIGHT = 10  # hours: what was missed comes back after sleep, not at once; common practice, no source
KNOWN_AT = BAR + CHORDS / 2  # points of a bar from which its change counts as heard out


def record(*, user: User, tune: Tune, round_: Round, judged: Judged) -> EarResult:
    """Keep the result of a round. The same round sent twice is kept once."""
    drawn = round_.drawn
    assert drawn is not None
    mark = round_.choice.mark
    with transaction.atomic():
        User.objects.select_for_update().get(pk=user.pk)
        kept = EarResult.objects.filter(player=user, tune=tune, kind=EarResult.Kind.OTHER_BAND, detail__round=mark)
        found = kept.first()
        if found is not None:
            return found
        _cue(user, round_, judged, mark)
        return EarResult.objects.create(
            player=user, tune=tune, kind=EarResult.Kind.OTHER_BAND, score=judged.score, detail=_detail(round_, judged, mark)
        )  # fmt: skip


def _cue(user: User, round_: Round, judged: Judged, mark: str) -> None:
    """Missed bars come back to practice the next day; what was missed before and is heard now does no longer."""
    revision, chart = round_.choice.revision, round_.material.study.chart
    written = [chart.bars[place.bar].number for place in chart.unfold()]
    missed = {written[bar.place] for bar in judged.missed}
    heard = {written[bar.place] for bar in judged.bars if bar.changed} - missed
    now = timezone.now()
    open_ones = PracticeCue.objects.filter(user=user, revision=revision, source__startswith=SOURCE, settled=None)
    open_ones.filter(bar__in=heard).update(settled=now)
    why = f"With the other band {judged.heard} of {judged.asked} bars heard."
    cue_bars(
        user=user, revision=revision, bars=missed, why=why, source=f"{SOURCE} {mark}", when=now + dt.timedelta(hours=A_NIGHT)
    )  # fmt: skip


def _detail(round_: Round, judged: Judged, mark: str) -> dict[str, Any]:
    assert round_.drawn is not None
    points = {bar.place: bar.points for bar in judged.bars if bar.changed}
    offers = round_.drawn.offers
    known = [o.id for o in offers if all(points.get(place, 0) >= KNOWN_AT for place in o.places)]
    missed = {bar.place for bar in judged.missed}
    return {
        "round": mark, "amount": round_.choice.amount, "revision": round_.choice.revision, "heard": judged.heard,
        "asked": judged.asked, "stray": judged.stray, "known": known,
        "missed": [_missed(round_, place, o.version, o.id) for o in offers for place in o.places if place in missed],
    }  # fmt: skip


def _missed(round_: Round, place: int, version: str, mark: str) -> dict[str, Any]:
    """A bar to ask about again: its number as played, the version that plays it (its id; 0 for a rule), its chords."""
    bar = round_.played.chart.bars[place]
    number = mark.removeprefix("v").partition(":")[0] if version else "0"
    return {
        "bar": bar.number, "version": int(number), "change": mark,
        "chords": [[slot.text, str(slot.start), str(slot.duration)] for slot in bar.slots],
    }  # fmt: skip


def known_changes(user: User, tune: Tune) -> tuple[str, ...]:
    """Changes that a player heard out in the last rounds on a tune. One query."""
    rows = EarResult.objects.filter(player=user, tune=tune, kind=EarResult.Kind.OTHER_BAND).order_by("-pk")
    found: set[str] = set()
    for row in rows[:RECENT]:
        found |= set(row.detail.get("known", ()))
    return tuple(sorted(found))
