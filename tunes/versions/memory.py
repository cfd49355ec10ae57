"""A tune as it is kept in the head: form, key areas, where each section is heading, what recurs, the variants. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from tunes.engine import name_form
from tunes.harmony.analysis.pipeline import KeyArea
from tunes.harmony.charts import Chart
from tunes.harmony.charts.bar_count import BarCount, bar_count, stretch_name
from tunes.harmony.pitch.spelling import Key
from tunes.harmony.progressions.idioms import BUILT_IN, Idiom, Occurrence, find_idioms, make_idiom
from tunes.study import StudyChart
from tunes.versions.sides import Line, side_by_side


@dataclass(frozen=True)
class AreaLine:
    """A stretch in one key: its bars in words, and the key's place against the home key."""

    key: Key
    bars: str
    degree: str


@dataclass(frozen=True)
class SectionLine:
    """One section: how it is spoken in numbers, and where it is heading.

    `same_as` names the earlier section it repeats; then the numbers are not said again. `place` says where it stands.
    """

    label: str
    place: str
    same_as: str
    spoken: tuple[str, ...]
    lands: str


@dataclass(frozen=True)
class IdiomLine:
    """An idiom by the name the class gave it, and the bars where it begins."""

    name: str
    places: tuple[str, ...]


@dataclass(frozen=True)
class VariantLine:
    """A bar that another version plays otherwise."""

    bar: int
    name: str
    line: Line
    number: int


@dataclass(frozen=True)
class MemorySheet:
    """Everything on the sheet, in the key of the study it was made from."""

    form: str
    form_reason: str
    key: Key
    bars: int
    areas: tuple[AreaLine, ...]
    sections: tuple[SectionLine, ...]
    idioms: tuple[IdiomLine, ...]
    variants: tuple[VariantLine, ...]


def memory_of(study: StudyChart, named: Iterable[Any] = (), others: Sequence[tuple[str, Chart]] = ()) -> MemorySheet:
    """The sheet of a study. `named` are the class's idioms (`name`, `pattern`); others are named versions."""
    count = bar_count(study.chart)
    form = name_form(study.chart)
    return MemorySheet(
        form=form.name,
        form_reason=form.reason,
        key=study.key,
        bars=max(count.chorus, default=0),
        areas=tuple(_area(study, area, count) for area in study.analysis.areas),
        sections=tuple(_sections(study, form, count)),
        idioms=_idioms(study, named, count),
        variants=_variants(study, others),
    )


def _area(study: StudyChart, area: KeyArea, count: BarCount) -> AreaLine:
    degree = study.key.degree_of(area.key.tonic)
    return AreaLine(area.key, count.stretch_at(area.first, area.last), degree)


def _sections(study: StudyChart, form: Any, count: BarCount) -> Iterable[SectionLine]:
    letters: list[str] = []
    for section in form.sections:
        label = section.label or section.letter
        last = section.first + section.bars - 1
        events = [e.index for e in study.events if section.first <= e.chorus_bar <= last]
        same = letters[section.same_as] if section.same_as is not None and section.same_as < len(letters) else ""
        letters.append(label)
        spoken = () if same else _spoken(study, events)
        yield SectionLine(label, _stands(study.chart, section, count), same, spoken, _lands(study, events, count))


def _stands(chart: Chart, section: Any, count: BarCount) -> str:
    first, written = count.chorus[section.first], chart.bars[chart.unfold()[section.first].bar].number
    return stretch_name(first, first + section.bars - 1) + ("" if first == written else f" (written {written})")


def _spoken(study: StudyChart, events: Sequence[int]) -> tuple[str, ...]:
    """The numbers of a section, a change of key said where it happens, repeated chords said once."""
    words: list[str] = []
    key: Key | None = None
    for event in events:
        reading = study.reading(event)
        said = reading.function.spoken
        if key is not None and reading.key != key:
            said = (
                f"in {reading.key.tonic.display}{'' if reading.key.word == 'major' else f' {reading.key.word}'}: {said}"
            )
        key = reading.key
        if study.events[event].symbol is not None and (not words or words[-1] != said):
            words.append(said)
    return tuple(words)


def _lands(study: StudyChart, events: Sequence[int], count: BarCount) -> str:
    """Where the last chord of a section is heading: its goal, the chord it rests on, or nowhere."""
    if not events:
        return ""
    reading = study.reading(events[-1])
    symbol = study.events[events[-1]].symbol
    aim = None if reading.resolution == "onward" else reading.resolves_to
    if aim is not None and aim not in events:
        goal = study.events[aim]
        where = "the top" if aim <= events[-1] else count.name_at(goal.index)
        return f"heads for {goal.symbol.display} at {where}" if goal.symbol else ""
    if study.analysis.landing[events[-1]] == 0 and symbol is not None:
        return f"comes to rest on {symbol.display}, {reading.function.spoken} of {reading.key.display}"
    return f"ends on {symbol.display}, {reading.function.spoken}" if symbol is not None else ""


def _idioms(study: StudyChart, named: Iterable[Any], count: BarCount) -> tuple[IdiomLine, ...]:
    """The class's idioms where they occur; the plain ones stand in until the class has named any."""
    patterns: list[Idiom] = []
    for row in named:
        try:
            patterns.append(make_idiom(f"own-{row.pk}", row.name, row.pattern))
        except ValueError:
            continue
    names = {idiom.id: idiom.name for idiom in patterns or BUILT_IN.values()}
    places: dict[str, list[str]] = {}
    for found in find_idioms(study.analysis, patterns or None):
        places.setdefault(found.idiom, []).append(_place(found, count))
    return tuple(IdiomLine(names[key], tuple(dict.fromkeys(rows))) for key, rows in places.items())


def _place(found: Occurrence, count: BarCount) -> str:
    to = f" (of {found.of})" if found.of != "1" else ""
    return count.stretch_at(found.first, found.last) + to


def _variants(study: StudyChart, others: Sequence[tuple[str, Chart]]) -> tuple[VariantLine, ...]:
    if not others:
        return ()
    table = side_by_side(study.chart, [chart for _name, chart in others])
    found = []
    for line in table.lines:
        for number, cell in enumerate(line.cells):
            if line.number is not None and not cell.same and not cell.missing:
                found.append(VariantLine(line.number, others[number][0], line, number))
    return tuple(sorted(found, key=lambda variant: variant.number))
