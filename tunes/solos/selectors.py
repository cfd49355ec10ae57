"""What reads solos. Every function says how many queries it takes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db.models import CharField, Count, OuterRef, QuerySet, Subquery, Value, prefetch_related_objects

from studio.access import instrument_of
from studio.instruments import CONCERT, INSTRUMENTS, Instrument
from studio.models import Job
from tunes.models import ChartRevision, Solo, SoloAnswer, SoloAsk, SoloRevision, SoloTaken, Tune
from tunes.recordings.form_map import FormMapProblem, bar_times
from tunes.recordings.selectors import moments_of
from tunes.selectors import read_with_a_chart
from tunes.solos.access import visible
from tunes.solos.bars import Covers, SoloForm, form_length, solo_form
from tunes.solos.notes import Bars, NotesProblem, empty, read_notes
from tunes.solos.tapped import NoPlaces, Onset, Suggested, suggest
from tunes.study import StudyChart, study_chart


def solos(user: Any, tune: Tune | None = None) -> QuerySet[Solo]:
    """The solos that a person may see, newest first, with `notes_kept` (None: only a draft) and `versions`. One query."""
    newest = SoloRevision.objects.filter(solo=OuterRef("pk")).order_by("-number")
    rows = visible(user).annotate(
        notes_kept=Subquery(newest.values("count")[:1]), versions=Count("revisions", distinct=True)
    )
    rows = rows.order_by("-changed", "-pk")
    return rows.filter(revision__version__tune=tune) if tune else rows


def heard_players(user: Any, tune: Tune) -> list[str]:
    """Names to choose from for who plays: of solos on the tune that a person may see, and who leads its recordings. Two queries."""
    names = visible(user).filter(revision__version__tune=tune).order_by("player").values_list("player", flat=True)
    return list(dict.fromkeys([*names, *(row.leader for row in tune.recordings.all())]))[:20]


def charts_to_write_over(tune: Tune) -> list[ChartRevision]:
    """The newest revision of every version of a tune, the agreed chart first. One query."""
    rows = ChartRevision.objects.filter(version__tune=tune).select_related("version").defer("analysis")
    found: dict[int, ChartRevision] = {}
    for row in rows.order_by("-version__is_agreed", "version_id", "-number"):
        found.setdefault(row.version_id, row)
    return list(found.values())


def covers(solo: Solo) -> Covers:
    return Covers(solo.first_chorus, solo.first_bar, solo.last_chorus, solo.last_bar)


def study_of(solo: Solo) -> StudyChart:
    """The concert study of the chart that a solo stands on. Two queries."""
    prefetch_related_objects([solo.revision], *read_with_a_chart())
    return study_chart(solo.revision)


def reader_of(user: Any, asked: str = "") -> Instrument:
    """For whom a page is written: the instrument asked for, else the person's own."""
    return INSTRUMENTS.get(asked) or INSTRUMENTS.get(instrument_of(user), CONCERT)


def form_of(solo: Solo, instrument: Instrument) -> SoloForm:
    """The bars of a solo as an instrument reads them. Two queries."""
    return solo_form(study_of(solo), covers(solo), instrument)


def read_stored(stored: Any, bars: int) -> Bars:
    """Stored notes; those of an older form of the chart that no longer fit come back empty rather than not at all."""
    try:
        return read_notes(stored, bars)
    except NotesProblem:
        return empty(bars)


def newest(solo: Solo) -> SoloRevision | None:
    """The newest kept notes. One query."""
    return solo.revisions.select_related("by").first()


@dataclass(frozen=True)
class Hearing:
    """Where the bars of a solo lie in its recording: their first beats and the end of the last one, in seconds."""

    times: tuple[float, ...] = ()

    @property
    def known(self) -> bool:
        return len(self.times) > 1


def hearing(solo: Solo, study: StudyChart) -> Hearing:
    """At most one query beside the recording's sound."""
    if solo.recording is None:
        return Hearing()
    sound = getattr(solo.recording, "sound", None)
    form = form_length(study.chart)
    try:
        rows = bar_times(moments_of(solo.recording), form, sound.duration if sound else None)
    except FormMapProblem:
        return Hearing()
    flat = [moment for row in rows for moment in row]
    places = [(chorus - 1) * form + bar - 1 for chorus, bar in covers(solo).places(form)]
    inside = [place for place in places if place < len(flat)]
    if not inside:
        return Hearing()
    last = inside[-1]
    step = flat[last] - flat[last - 1] if last else 2.0
    end = flat[last + 1] if last + 1 < len(flat) else flat[last] + step
    return Hearing((*(flat[place] for place in inside), end))


def suggested(solo: Solo, onsets: Sequence[Onset], *, swing: bool = True) -> Suggested:
    """Onsets in the seconds of a solo's recording as guessed notes on its bars, in concert pitch. Raises `NoPlaces`."""
    if solo.recording is None:
        raise NoPlaces("This solo names no recording: choose one, and tap its form map.")
    return suggest(onsets, form_of(solo, CONCERT), covers(solo), moments_of(solo.recording), swing=swing)


def remarks_of(user: Any, job: str) -> list[str]:
    """What was said when a file was read, for the person who sent it. At most one query."""
    if not (job.isascii() and job.isdigit() and len(job) < 10):
        return []
    found = Job.objects.filter(pk=int(job), owner=user, kind="solo-file").values_list("result", flat=True).first()
    return [str(line) for line in (found or {}).get("remarks", [])]


def asks_of(solo: Solo, user: Any) -> list[SoloAsk]:
    """What is asked about a solo, each with `mine`: this person's answer, or None. One query."""
    mine = SoloAnswer.objects.filter(ask=OuterRef("pk"), player=user)
    asks: list[Any] = list(solo.asks.select_related("by").annotate(said=Subquery(mine.values("said")[:1])))
    for ask in asks:
        ask.mine = SoloAnswer(ask=ask, said=ask.said) if ask.said is not None else None
    return asks


@dataclass(frozen=True)
class Said:
    """A person's word on a note (`kind` role) or passage (name), or what they took into practice (taken: `first` names it)."""

    kind: str
    pk: int
    first: str
    role: str
    text: str
    by: str
    since: datetime
    last: str = ""
    mine: bool = False


def said_of(solo: Solo, user: Any) -> list[Said]:
    """What people say of its notes and passages, and what this person took from it, the newest last. One query."""
    words = solo.words.order_by().values_list(
        "kind", "pk", "first", "role", "text", "by__name", "created", "last", "by"
    )
    taken = SoloTaken.objects.filter(solo=solo, user=user).order_by()
    none = Value("", CharField())
    rows = words.union(
        taken.annotate(kind=Value("taken", CharField()), role=none, by=none).values_list(
            "kind", "pk", "what", "role", "words", "by", "since", "role", "user"
        ),
        all=True,
    )
    found = [Said(*row[:5], row[5] or "", row[6], row[7], row[8] == user.pk) for row in rows]
    return sorted(found, key=lambda one: (one.since, one.pk))
