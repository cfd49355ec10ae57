"""Lines that a class has cut from its solos: read back from the notes they were cut from, and where else they stand.

One index per process holds the agreed charts, brought up to date before each search, as for idioms (`tunes.repertoire`).
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from threading import Lock
from typing import Any

from django.db.models import Q, QuerySet
from django.http import Http404
from django.shortcuts import get_object_or_404

from drills.line_strips import Fit, Form, Strip, fits_of, form_of, reasons_of, strip_of
from drills.lines.compass import compass_of
from drills.lines.line import Line
from drills.models import KeptLine
from drills.vocabulary import (
    Carried,
    CutLine,
    Place,
    Places,
    VocabularyIndex,
    cut,
    in_twelve_keys,
    over_form,
    over_place,
)
from studio.access import ensembles_led, leads
from studio.instruments import CONCERT, Instrument
from tunes import selectors as repertoire
from tunes.access import held_back
from tunes.harmony.charts.bar_count import bar_count
from tunes.harmony.pitch.spelling import Key
from tunes.models import ChartRevision, Solo, SoloAsk, SoloRevision
from tunes.pitch import Sight, seen
from tunes.solos import selectors as solos
from tunes.solos.access import visible
from tunes.solos.bars import solo_form
from tunes.solos.notes import sounding
from tunes.solos.reading import over_changes
from tunes.study import ChartUnreadable, chart_of, study_chart

PER_PAGE = 12
Agreed = tuple[dict[int, Any], dict[int, int]]  # what `tunes.selectors.agreed_stamps` gives


def still_asked(user: Any) -> QuerySet[SoloAsk]:
    """Bars of solos about which a person has still to say what they hear; none of the solos they teach."""
    return SoloAsk.objects.exclude(answers__player=user).exclude(
        solo__shared_with__in=ensembles_led(user).order_by().values("pk")
    )


def lines_seen(user: Any) -> QuerySet[KeptLine]:
    """The lines of the solos that a person may see; not those of tunes whose analysis is held back from them, nor of solos
    of which a bar is asked before it is told."""
    rows = _of_solos_seen(user)
    tunes = set(rows.order_by().values_list("solo__revision__version__tune", flat=True))
    return rows.exclude(solo__revision__version__tune__in=list(held_back(user, tunes)))


def _of_solos_seen(user: Any) -> QuerySet[KeptLine]:
    rows = KeptLine.objects.filter(solo__in=visible(user).order_by().values("pk")).exclude(
        solo__in=still_asked(user).values("solo")
    )
    return rows.select_related("solo__revision__version__tune", "solo__written_by", "solo__shared_with", "kept", "by")


def line_or_404(user: Any, pk: int, also: Iterable[int] = ()) -> tuple[KeptLine, set[int]]:
    """One of `lines_seen`, and which of the tunes `also` are held back from this person: lines lead nowhere there."""
    row = get_object_or_404(_of_solos_seen(user), pk=pk)
    own = row.solo.revision.version.tune_id
    held = set(held_back(user, {own, *also}))
    if own in held:
        raise Http404
    return row, held


def may_name(user: Any, row: KeptLine) -> bool:
    """Who names a line or throws it away: who cut it, who wrote its solo, and who leads the ensemble."""
    solo = row.solo
    return user.pk in (row.by_id, solo.written_by_id) or bool(solo.shared_with_id and leads(user, solo.shared_with_id))


def not_yet_cut(user: Any, solo: Solo) -> str:
    """Why this person may not cut lines from a solo yet, "" if they may. One query."""
    if still_asked(user).filter(solo=solo).exists():
        return "Say first what you hear in the bars that are asked; then lines can be cut from this solo."
    return ""


def search(rows: QuerySet[KeptLine], words: str) -> QuerySet[KeptLine]:
    """Those whose name, functions, degrees, player or tune hold every word."""
    for word in words.split():
        rows = rows.filter(
            Q(name__icontains=word)
            | Q(functions__icontains=word)
            | Q(degrees__icontains=f" {word} ")
            | Q(solo__player__icontains=word)
            | Q(solo__revision__version__tune__title__icontains=word)
        )
    return rows


def cut_from(solo: Solo, kept: SoloRevision, first: int, last: int, *, name: str = "") -> CutLine:
    """The notes `first` to `last` of kept notes as a line. Raises `NothingToCut`."""
    study, covers = solos.study_of(solo), solos.covers(solo)
    form = solo_form(study, covers, CONCERT)
    heard = sounding(solos.read_stored(kept.notes, len(form.bars)), form.starts, form.lengths)
    notes, changes, grid, _ = over_changes(heard, form.study, covers)
    source = f"{solo.player} on {solo.revision.version.tune.title}"
    return cut(notes, changes, grid, first, last, source, name)


def line_of(row: KeptLine) -> CutLine:
    """A kept line, cut again from its notes."""
    return cut_from(row.solo, row.kept, row.first, row.last, name=row.name)


class Shelf:
    """The agreed charts, ready to be asked where a line can stand."""

    def __init__(self) -> None:
        self._index: VocabularyIndex[int] = VocabularyIndex()
        self._stamps: dict[int, Any] = {}
        self._forms: dict[int, Form] = {}
        self._lock = Lock()

    def find(self, line: CutLine, hidden: Collection[int], agreed: Agreed | None = None) -> Places[int]:
        """Every place by revision, those where it fits first (`fitting` of them); tunes in `hidden` left out. A place is built when
        it is read: a page builds its own alone. `agreed`: read before."""
        stamps, tunes = agreed or repertoire.agreed_stamps()
        with self._lock:
            self._refresh(stamps)
            return self._index.find(line).within({pk for pk in stamps if tunes[pk] not in hidden})

    def _refresh(self, stamps: dict[int, Any]) -> None:
        for gone in set(self._stamps) - set(stamps):
            self._index.discard(gone)
            del self._stamps[gone]
            self._forms.pop(gone, None)
        stale = [pk for pk, stamp in stamps.items() if self._stamps.get(pk) != stamp]
        for revision in repertoire.revisions_for_study().filter(pk__in=stale) if stale else ():
            self._index.discard(revision.pk)
            self._stamps[revision.pk] = stamps[revision.pk]
            try:
                study = study_chart(revision)
                self._index.add(revision.pk, study.chart, study.analysis)
                self._forms[revision.pk] = form_of(study)
            except ChartUnreadable:
                continue

    def form(self, revision: int) -> Form:
        """The form of a chart that a line was found in."""
        return self._forms[revision]


SHELF = Shelf()


@dataclass(frozen=True)
class Standing:
    """One place of a line, for a page: its tune and chart, its first event there, the name of its bar, and why it does not fit
    ("" where it does)."""

    revision: ChartRevision
    event: int
    bar: str
    why_not: str


@dataclass(frozen=True)
class InChart:
    """All places of a line in one chart, for a page: drawn on its form, those where it fits to be opened, the reasons of the
    others."""

    revision: ChartRevision
    strip: Strip
    fits: tuple[Fit, ...]
    reasons: tuple[tuple[str, str], ...]


def in_charts(found: Sequence[tuple[int, Places[int]]]) -> list[InChart]:
    """The charts of one page. One query."""
    rows = (
        ChartRevision.objects.filter(pk__in={pk for pk, _ in found}).select_related("version__tune").defer("analysis")
    )
    by_pk = {row.pk: row for row in rows}
    drawn = []
    for pk, places in found:
        if pk in by_pk:
            form, here = SHELF.form(pk), [place for _, place in places]
            drawn.append(InChart(by_pk[pk], strip_of(form, here), fits_of(form, here), reasons_of(form, here)))
    return drawn


def described(found: Sequence[tuple[int, Place]]) -> list[Standing]:
    """The places of one page. One query."""
    rows = (
        ChartRevision.objects.filter(pk__in={pk for pk, _ in found}).select_related("version__tune").defer("analysis")
    )
    by_pk = {row.pk: row for row in rows}
    return [standing(by_pk[pk], place) for pk, place in found if pk in by_pk]


def standing(revision: ChartRevision, place: Place) -> Standing:
    chart = chart_of(revision.text)
    return Standing(revision, place.first, bar_count(chart).name_at(place.first), place.why_not)


def place_in(line: CutLine, revision: ChartRevision, event: int) -> Place | None:
    """The place of a line in one chart that begins at an event; None when there is none any more."""
    study = study_chart(revision)
    index: VocabularyIndex[int] = VocabularyIndex()
    index.add(revision.pk, study.chart, study.analysis)
    return next((place for _, place in index.find(line) if place.first == event), None)


def carried(line: CutLine, revision: ChartRevision, place: Place, player: Instrument) -> Carried:
    """The bars of one place with the line in them, as an instrument reads them."""
    study = seen(study_chart(revision), Sight(instrument=player))
    return over_place(study, line, place, compass_of(player), player.key)


def twelve(line: CutLine, player: Instrument) -> tuple[tuple[Key, Carried], ...]:
    """The line in every key as an instrument reads it, in fourths from the key it was played in (C for a line without one)."""
    return in_twelve_keys(line, compass_of(player), written_for=player.key)


def on_paper(line: CutLine, player: Instrument) -> list[Line]:
    """The keys in which the line fits, to print."""
    return [found.line for _, found in twelve(line, player) if found.line is not None]


def through(line: CutLine, revision: ChartRevision, player: Instrument) -> Line:
    """The whole chorus of a chart with the line wherever it fits, guide tones between."""
    study = study_chart(revision)
    index: VocabularyIndex[int] = VocabularyIndex()
    index.add(revision.pk, study.chart, study.analysis)
    places = [place for _, place in index.find(line)]
    return over_form(seen(study, Sight(instrument=player)), line, places, compass_of(player), player.key)
