"""Bars chosen on a chart, made into a progression: what it is, where else it comes, what may be left loose.

Everything is asked by the address (`from`, `to`: bars as played; `begin`, `end`: events inside the first and the last of
them; `close`, `where`, `count`, `bass`, `opt`), so that a choice can be sent on, and what is named is what was shown.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from typing import Any

from tunes import repertoire, selectors
from tunes.harmony.charts.bar_count import BarCount, bar_count
from tunes.harmony.progressions import chosen as engine
from tunes.harmony.progressions.idioms import Occurrence, find_idioms
from tunes.models import ChartRevision, Idiom
from tunes.study import StudyChart

SHOWN = 6  # places named on the page; the idiom's own page has all
CLOSENESS_SAID = (
    (engine.KIND, "the kind of each chord", "Minor, dominant, major: any 6, 7 or tension."),
    (engine.EXACT, "these chords", "Minor 7 is not minor 6. Tensions stay free."),
    (engine.ANY, "any chord on these degrees", "Only the roots count."),
)
WHERE_SAID = (
    (engine.ANYWHERE, "anywhere", "In the key, or on the way to another chord."),
    (engine.HOME, "only at home", "Counted in the key of the passage."),
    (engine.AWAY, "only on the way to another chord", ""),
    (engine.SOUND, "by the distances alone", "Whatever the chords do in their key."),
)


@dataclass(frozen=True)
class Option:
    """One choice of what is left loose, with how many other places it finds; None: it makes no pattern here."""

    value: str
    label: str
    help: str
    current: bool
    others: int | None


@dataclass(frozen=True)
class Line:
    """One chord of the progression, for the page."""

    number: int
    symbols: tuple[Any, ...]
    degree: str
    spoken: str
    kind: str
    bass: str
    optional: bool


@dataclass(frozen=True)
class Chosen:
    """A progression made from bars: its pattern, how it is said, and what it finds. `others`: places besides this one."""

    events: tuple[int, ...]
    where: str
    pattern: str
    said: str
    counted_from: str
    lines: tuple[Line, ...]
    closeness: tuple[Option, ...]
    places: tuple[Option, ...]
    centres: tuple[Option, ...]
    has_bass: bool
    bass: bool
    others: int
    tunes: int
    fold: bool
    found: tuple[repertoire.Spot, ...]
    called: tuple[Idiom, ...]


@dataclass(frozen=True)
class Library:
    """What a search needs, read once for a page: the agreed charts, what is held back, the names given so far."""

    revision: int
    agreed: repertoire.Agreed
    hidden: Collection[int]
    idioms: Sequence[Idiom]
    fold: bool  # substitutes count as what they replace


def chosen_events(query: Any, study: StudyChart) -> tuple[int, ...]:
    """The events of the bars that are asked for, () when none are. From a later bar to an earlier one: round to the top."""
    count = bar_count(study.chart)
    ends = _number(query.get("from")), _number(query.get("to") or query.get("from"))
    bars = sorted(set(count.events))
    if ends[0] not in bars or ends[1] not in bars:
        return ()
    first = _at(count, ends[0])
    last = _at(count, ends[1])
    begin = _number(query.get("begin"))
    end = _number(query.get("end"))
    begin = begin if begin in first else first[0]
    end = end if end in last else last[-1]
    return engine.between(begin, end, len(study.events)) if begin is not None and end is not None else ()


def _number(text: str | None) -> int | None:
    return int(text) if text and text.isascii() and text.isdigit() and len(text) < 6 else None


def _at(count: BarCount, bar: int | None) -> list[int]:
    return [event for event, number in enumerate(count.events) if number == bar]


def ends_of(query: Any, study: StudyChart, events: Sequence[int]) -> dict[str, Any]:
    """What the fields of the first and the last bar offer: bars as played, and the chords inside the bars chosen."""
    count = bar_count(study.chart)
    offered: dict[str, Any] = {"bars": sorted(set(count.events)), "from": None, "to": None}
    for name, side, at in (("from", "begin", 0), ("to", "end", -1)):
        if events:
            bar = count.events[events[at]]
            inside = [(event, study.events[event].symbol) for event in _at(count, bar)]
            offered |= {name: bar, side: events[at], f"{side}s": inside if len(inside) > 1 else ()}
    return offered


def make(query: Any, study: StudyChart, events: tuple[int, ...], library: Library) -> Chosen:
    """The progression of these events. Raises `NotAPattern` with what to choose instead."""
    offered = engine.centres(study.analysis, events)
    wanted = _number(query.get("count")) or 0
    centre = offered[min(wanted, len(offered) - 1)]
    steps = engine.steps_of(study.analysis, events, centre)
    loose = _loose(query, centre, steps)
    pattern = engine.written(steps, loose)
    found = _Finder(study, events, library)
    others = found.others(pattern)
    if others is None:  # its own place does not answer to it: the distances alone always do
        loose = replace(loose, where=engine.SOUND)
        pattern = engine.written(steps, loose)
        others = found.others(pattern) or 0
    places = found.places(pattern)
    return Chosen(
        events=events,
        where=bar_count(study.chart).stretch_at(events[0], events[-1]),
        pattern=pattern,
        said=_said(steps, loose),
        counted_from=centre.note.display,
        lines=tuple(_line(number, step, loose, study) for number, step in enumerate(steps)),
        closeness=_options(CLOSENESS_SAID, "closeness", loose, steps, found),
        places=_options(WHERE_SAID, "where", loose, steps, found),
        centres=_centres(offered, centre),
        has_bass=any(step.bass for step in steps),
        bass=loose.bass,
        others=others,
        tunes=found.tunes(places),
        fold=library.fold,
        found=found.shown(places),
        called=tuple(idiom for idiom in library.idioms if found.is_called(idiom, pattern)),
    )


def _loose(query: Any, centre: engine.Centre, steps: Sequence[engine.Step]) -> engine.Loose:
    close, where = query.get("close"), query.get("where")
    allowed = {engine.ANYWHERE, engine.SOUND, engine.HOME if centre.home else engine.AWAY}
    numbers = {_number(text) for text in query.getlist("opt")}
    return engine.Loose(
        closeness=close if close in engine.CLOSENESS else engine.KIND,
        where=where if where in allowed else engine.ANYWHERE,
        bass=query.get("bass") == "yes",
        optional=frozenset(number for number in range(len(steps)) if number in numbers),
    )


class _Finder:
    """Searches for one page: each pattern once."""

    def __init__(self, study: StudyChart, events: tuple[int, ...], library: Library) -> None:
        self.study, self.events, self.library = study, events, library
        self._known: dict[str, Any] = {}

    def places(self, pattern: str) -> Any:
        """Where a pattern occurs in the agreed charts, by revision."""
        if pattern not in self._known:
            idiom, library = Idiom(name="chosen", pattern=pattern), self.library
            self._known[pattern] = repertoire.places(
                idiom, hidden=library.hidden, fold=library.fold, agreed=library.agreed
            )
        return self._known[pattern]

    def others(self, pattern: str) -> int | None:
        """How many places besides the chosen one; None when that one is not among those that it finds."""
        if not engine.finds_itself(self.study.analysis, self.events, pattern):
            return None
        found = self.places(pattern)
        own = [place for _, place in found.within([self.library.revision]) if self.is_here(place)]
        return len(found) - len(own)

    def tunes(self, found: Any) -> int:
        """In how many charts they stand, the chosen place left out."""
        own = found.within([self.library.revision])
        only_here = bool(own) and all(self.is_here(place) for _, place in own)
        return len(found.names()) - only_here

    def shown(self, found: Any) -> tuple[repertoire.Spot, ...]:
        """The first of them, the chosen place left out."""
        rows = []
        for revision, place in found:
            if revision != self.library.revision or not self.is_here(place):
                rows.append((revision, place))
            if len(rows) == SHOWN:
                break
        return tuple(repertoire.spots(rows))

    def is_here(self, place: Occurrence) -> bool:
        return engine.is_here(place, self.events, len(self.study.events))

    def is_called(self, idiom: Idiom, pattern: str) -> bool:
        """Whether a name that was given already is that of this pattern, or of just these chords."""
        if idiom.pattern == pattern:
            return True
        try:
            known = repertoire.read_idiom(idiom)
        except ValueError:
            return False
        ends = (self.events[0], self.events[-1])
        return any((found.first, found.last) == ends for found in find_idioms(self.study.analysis, [known]))


def _options(
    rows: Sequence[tuple[str, str, str]],
    name: str,
    loose: engine.Loose,
    steps: Sequence[engine.Step],
    found: _Finder,
) -> tuple[Option, ...]:
    """The choices of one kind that make a pattern here, each with what it would find."""
    made = []
    for value, label, words in rows:
        current = getattr(loose, name) == value
        try:
            others = found.others(engine.written(steps, replace(loose, **{name: value})))  # type: ignore[arg-type]
        except engine.NotAPattern:
            others = None
        if others is not None or current:
            made.append(Option(value, label, words, current, others))
    return tuple(made)


def _centres(offered: Sequence[engine.Centre], current: engine.Centre) -> tuple[Option, ...]:
    words = {True: "the key of the passage", False: "where it leads"}
    return tuple(
        Option(str(number), f"{centre.note.display}, {words[centre.home]}", "", centre == current, None)
        for number, centre in enumerate(offered)
    )


def _line(number: int, step: engine.Step, loose: engine.Loose, study: StudyChart) -> Line:
    symbols = tuple(dict.fromkeys(study.events[event].symbol for event in step.events))
    return Line(
        number,
        symbols,
        step.degree,
        degree_said(step.degree),
        step.said(loose.closeness),
        degree_said(step.bass) if loose.bass and step.bass else "",
        number in loose.optional,
    )


def _said(steps: Sequence[engine.Step], loose: engine.Loose) -> str:
    """The whole progression in words: "2 minor, 5 dominant, 1 major"."""
    words: list[str] = []
    for number, step in enumerate(steps):
        kind = "" if loose.closeness == engine.ANY else f" {step.said(loose.closeness)}"
        bass = f" over {degree_said(step.bass)}" if loose.bass and step.bass else ""
        said = degree_said(step.degree) + kind + bass
        said = f"{said} if you like" if number in loose.optional else said
        if not words or words[-1] != said:
            words.append(said)
    return ", ".join(words)


def degree_said(degree: str) -> str:
    """A degree as players say it: "flat 7", "sharp 4", "2".

    >>> degree_said("b7"), degree_said("#4"), degree_said("2")
    ('flat 7', 'sharp 4', '2')
    """
    words = {"": "", "b": "flat ", "#": "sharp ", "bb": "double flat ", "##": "double sharp "}
    return words.get(degree[:-1], degree[:-1]) + degree[-1:]


def library_for(revision: ChartRevision, agreed: repertoire.Agreed, hidden: Collection[int], query: Any) -> Library:
    """What the searches of one page need."""
    return Library(revision.pk, agreed, hidden, list(selectors.idioms()), query.get("fold") == "yes")
