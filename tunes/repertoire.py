"""Idioms across the repertoire: how often each occurs, and where.

One index per process holds the analyses of the agreed charts. Before each search it is brought up to date: charts
whose newest revision, or whose overrules, have changed are read again, the others are left alone. A web process fills it
when it starts (`read_ahead`), beside its first requests.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import datetime
from threading import Lock

from tunes import selectors
from tunes.engine import version
from tunes.harmony.analysis.pipeline import Analysis
from tunes.harmony.charts.bar_count import bar_count
from tunes.harmony.chords import ChordSymbol
from tunes.harmony.pitch.spelling import Key
from tunes.harmony.progressions import idioms as engine
from tunes.harmony.progressions.index import Found, IdiomIndex
from tunes.models import ChartRevision, Idiom, Tune
from tunes.study import ChartUnreadable, StudyChart, chart_of, study_chart

Stamp = tuple[datetime, tuple[int, ...]]
Agreed = tuple[dict[int, Stamp], dict[int, int]]  # what `selectors.agreed_stamps` gives
Place = tuple[int, engine.Occurrence]  # id of a revision, and where in its chart


@dataclass(frozen=True)
class Total:
    """How often an idiom occurs. `problem` says why its pattern cannot be read."""

    idiom: Idiom
    places: int
    tunes: int
    problem: str = ""


@dataclass(frozen=True)
class Occurrence:
    """One place where an idiom occurs, for a page; bars as played, and as written beside; `bars` in words. `wraps`: it runs through the repeat of the form."""

    tune: Tune
    version_id: int
    number: int
    section: str
    bars: str
    first_bar: int
    last_bar: int
    written_first_bar: int
    written_last_bar: int
    bar_index: int
    key: Key
    of: str
    wraps: bool
    symbols: tuple[ChordSymbol | None, ...]


@dataclass(frozen=True)
class Spot:
    """Where a progression stands, in brief: bars as played, in words."""

    tune: Tune
    version_id: int
    number: int
    bars: str
    bar_index: int
    wraps: bool


class Shelf:
    """The index of the agreed charts, kept up to date from the database."""

    def __init__(self, *, fold: bool) -> None:
        self._index: IdiomIndex[int] = IdiomIndex(fold=fold)
        self._stamps: dict[int, Stamp] = {}
        self._lock = Lock()

    def find(self, idiom: engine.Idiom, stamps: dict[int, Stamp]) -> Found[int]:
        """The places, each built when it is read: a page builds its own rows only."""
        with self._lock:
            self._refresh(stamps)
            return self._index.find(idiom)

    def bring_up(self, stamps: dict[int, Stamp]) -> None:
        """Read what has changed."""
        with self._lock:
            self._refresh(stamps)

    def _refresh(self, stamps: dict[int, Stamp]) -> None:
        for gone in set(self._stamps) - set(stamps):
            self._index.discard(gone)
            del self._stamps[gone]
        stale = {pk for pk, stamp in stamps.items() if self._stamps.get(pk) != stamp}
        plain = _as_stored([pk for pk in stale if not stamps[pk][1]]) if stale else {}
        for pk, analysis in plain.items():
            self._file(pk, stamps[pk], analysis)
        rest = stale - set(plain)
        for revision in selectors.revisions_for_study().filter(pk__in=rest) if rest else ():
            try:
                self._file(revision.pk, stamps[revision.pk], study_chart(revision).analysis)
            except ChartUnreadable:
                self._file(revision.pk, stamps[revision.pk], None)

    def _file(self, pk: int, stamp: Stamp, analysis: Analysis | None) -> None:
        self._index.discard(pk)
        self._stamps[pk] = stamp
        if analysis is not None:
            self._index.add(pk, analysis)


def _as_stored(revisions: Collection[int]) -> dict[int, Analysis]:
    """The analyses of charts without overrules as this engine wrote them: their text, which costs most, need not be read."""
    rows = ChartRevision.objects.filter(pk__in=revisions, engine=version()).order_by().values_list("pk", "analysis")
    return {pk: Analysis.from_json(stored) for pk, stored in rows if stored.get("readings")}


def read_ahead() -> None:
    """Fill the index, before somebody asks for it."""
    stamps, _ = selectors.agreed_stamps()
    for shelf in _SHELVES.values():
        shelf.bring_up(stamps)


_SHELVES = {False: Shelf(fold=False), True: Shelf(fold=True)}


def read_idiom(idiom: Idiom) -> engine.Idiom:
    """The idiom as the engine takes it; raises ValueError with what is wrong with its pattern."""
    return engine.make_idiom(f"own-{idiom.pk}", idiom.name, idiom.pattern)


def totals(
    idioms: Sequence[Idiom], *, hidden: Collection[int] = (), fold: bool = False, agreed: Agreed | None = None
) -> list[Total]:
    """How often each occurs in the agreed charts, those of the tunes in `hidden` left out. `agreed`: read before."""
    stamps, tunes = agreed or selectors.agreed_stamps()
    found = []
    for idiom in idioms:
        try:
            wanted = read_idiom(idiom)
        except ValueError as problem:
            found.append(Total(idiom, 0, 0, str(problem)))
            continue
        rows = _SHELVES[fold].find(wanted, stamps).within(pk for pk in stamps if tunes[pk] not in hidden)
        found.append(Total(idiom, len(rows), len(rows.names())))
    return found


def places(
    idiom: Idiom, *, hidden: Collection[int] = (), fold: bool = False, agreed: Agreed | None = None
) -> Found[int]:
    """Where an idiom occurs, by revision id, in the order of the agreed charts; raises ValueError when its pattern cannot be read."""
    stamps, tunes = agreed or selectors.agreed_stamps()
    return _SHELVES[fold].find(read_idiom(idiom), stamps).within(pk for pk in stamps if tunes[pk] not in hidden)


def holders(idioms: Sequence[Idiom], *, agreed: Agreed | None = None) -> dict[int, set[int]]:
    """For each idiom by id, the tunes (by id) whose agreed chart holds it; none for a pattern that cannot be read."""
    stamps, tunes = agreed or selectors.agreed_stamps()
    found: dict[int, set[int]] = {}
    for idiom in idioms:
        try:
            names = _SHELVES[False].find(read_idiom(idiom), stamps).names()
        except ValueError:
            names = []
        found[idiom.pk] = {tunes[pk] for pk in names if pk in tunes}
    return found


def described(found: Sequence[Place]) -> list[Occurrence]:
    """The places of one page with their tunes, bars and chords. Three queries."""
    wanted = {pk for pk, _ in found}
    revisions = {row.pk: row for row in selectors.revisions_for_study().filter(pk__in=wanted)}
    studies = {pk: study_chart(row) for pk, row in revisions.items()}
    rows = []
    for pk, place in found:
        if pk in revisions:
            version = revisions[pk].version
            rows.append(_described(version.tune, version.pk, revisions[pk].number, studies[pk], place))
    return rows


def spots(found: Sequence[Place]) -> list[Spot]:
    """The places of one page with their tunes and bars. One query."""
    rows = {
        row.pk: row
        for row in ChartRevision.objects.filter(pk__in={pk for pk, _ in found}).select_related("version__tune")
    }
    made = []
    for pk, place in found:
        if pk in rows:
            count, version = bar_count(chart_of(rows[pk].text)), rows[pk].version
            bars, wraps = count.stretch_at(place.first, place.last), place.last < place.first
            made.append(Spot(version.tune, version.pk, rows[pk].number, bars, count.event_bars[place.first], wraps))
    return made


def _described(tune: Tune, version: int, number: int, study: StudyChart, place: engine.Occurrence) -> Occurrence:
    first, last = study.events[place.first], study.events[place.last]
    wraps = place.last < place.first
    inside = (
        [*study.events[place.first :], *study.events[: place.last + 1]]
        if wraps
        else study.events[place.first : place.last + 1]
    )
    chart, count = study.chart, bar_count(study.chart)
    return Occurrence(
        tune=tune,
        version_id=version,
        number=number,
        section=chart.sections[chart.bars[first.bar].section].label if chart.sections else "",
        first_bar=count.events[place.first],
        last_bar=count.events[place.last],
        written_first_bar=chart.bars[first.bar].number,
        written_last_bar=chart.bars[last.bar].number,
        bars=count.stretch_at(place.first, place.last),
        bar_index=first.bar,
        key=study.reading(place.last).key,
        of=place.of,
        wraps=wraps,
        symbols=tuple(event.symbol for event in inside),
    )
