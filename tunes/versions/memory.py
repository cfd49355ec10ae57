"""A tune as it is kept in the head: the numbers of every section once, where they head, what recurs, the variants. Pure."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from tunes.engine import name_form
from tunes.harmony.analysis.pipeline import Reading
from tunes.harmony.charts import Chart
from tunes.harmony.charts.bar_count import BarCount, bar_count
from tunes.harmony.pitch.spelling import Key
from tunes.harmony.progressions.idioms import BUILT_IN, Idiom, Occurrence, find_idioms, make_idiom
from tunes.harmony.readings.function import say_degree
from tunes.study import StudyChart
from tunes.versions.folding import Block, Said, folded, many
from tunes.versions.instead import Instead, instead
from tunes.versions.sides import Played, side_by_side

_NUMBER = re.compile(r"(.*?)(\d+)(.*)")


@dataclass(frozen=True)
class Stretch:
    """One section on the strip of the whole form: bars as played, and its phrases of the melody by letter."""

    label: str
    first: int
    last: int
    phrases: str = ""


@dataclass(frozen=True)
class NumberBlock:
    """A block of numbers, and where each of its endings is heading."""

    block: Block
    lands: tuple[str, ...]


@dataclass(frozen=True)
class IdiomLine:
    """An idiom by the name the class gave it, and the bars where it stands: "9 to 11", "4 to 5 (of 2)"."""

    name: str
    places: tuple[str, ...]


@dataclass(frozen=True)
class MemorySheet:
    """Everything on the sheet, in the key of the study it was made from."""

    form: str
    form_reason: str
    key: Key
    bars: int
    strip: tuple[Stretch, ...]
    blocks: tuple[NumberBlock, ...]
    idioms: tuple[IdiomLine, ...]
    variants: tuple[Instead, ...]

    @property
    def dense(self) -> bool:
        """Whether it has to be set smaller to stay on one sheet."""
        return many([one.block for one in self.blocks])


def memory_of(
    study: StudyChart,
    named: Iterable[Any] = (),
    others: Sequence[tuple[str, Chart]] = (),
    phrases: Sequence[Any] = (),
) -> MemorySheet:
    """The sheet of a study. `named` are the class's idioms (`name`, `pattern`), others named versions, `phrases` those of
    the melody (`label`, `first`: a bar as played)."""
    count, form = bar_count(study.chart), name_form(study.chart)
    strip = []
    for section in form.sections:
        inside = count.chorus[section.first : section.first + section.bars]
        letters = [phrase.label for phrase in phrases if phrase.first in inside]
        strip.append(Stretch(section.label or section.letter, max(inside[0], 1), inside[-1], " ".join(letters)))
    return MemorySheet(
        form=form.name,
        form_reason=form.reason,
        key=study.key,
        bars=max(count.chorus, default=0),
        strip=tuple(strip),
        blocks=_blocks(study, form.sections, count),
        idioms=_idioms(study, named, count),
        variants=_variants(study, others),
    )


def in_numbers(spoken: str, key: str = "") -> Said:
    """A function as players say it, its number apart from the words around it.

    >>> in_numbers("sub 5 of 2").before, in_numbers("sub 5 of 2").number, in_numbers("sub 5 of 2").after
    ('sub', '5', 'of 2')
    """
    found = _NUMBER.fullmatch(spoken)
    if found is None:
        return Said(before=spoken, key=key)
    return Said(found[2], found[1].strip(), found[3].strip(), key)


def key_said(key: Key, home: Key) -> str:
    """A key against the home key, as players place it: "in A♭, the flat 3", "in F, home"."""
    name = key.tonic.display + ("" if key.word == "major" else f" {key.word}")
    if key == home:
        return f"in {name}, home"
    degree = say_degree(home.degree_of(key.tonic))
    return f"in {name}" + (f", the {degree}" if degree != "1" else "")


def _blocks(study: StudyChart, sections: Sequence[Any], count: BarCount) -> tuple[NumberBlock, ...]:
    starts = {section.first for section in sections}
    said: list[list[Said]] = [[] for _ in study.chart.unfold()]
    key = study.key
    for event in study.events:
        reading = study.reading(event.index)
        if event.chorus_bar in starts and not said[event.chorus_bar]:
            key = study.key  # a section is learned by itself: it says its key anew
        one = _said(event, reading, key_said(reading.key, study.key) if reading.key != key else "")
        here = said[event.chorus_bar]
        if one is not None and (not here or here[-1] != one):
            here.append(one)
            key = reading.key
    blocks = folded(study.chart, sections, [tuple(bar) for bar in said])
    return tuple(NumberBlock(block, _all_lands(study, block, count)) for block in blocks)


def _said(event: Any, reading: Reading, key: str) -> Said | None:
    if event.symbol is not None:
        return in_numbers(reading.function.spoken, key)
    return {"/": None, "?": Said(before="not known")}.get(event.text, Said(before="no chord"))


def _all_lands(study: StudyChart, block: Block, count: BarCount) -> tuple[str, ...]:
    """Where the block heads at its end, for each time that it heads elsewhere: "1st time heads for 1 at bar 9"."""
    found: dict[str, list[str]] = {}
    for first, last, times in zip(block.first, block.last, block.times, strict=True):
        events = [event.index for event in study.events if first <= event.chorus_bar <= last]
        found.setdefault(_lands(study, events, count), []).append(times)
    kept = {lands: list(dict.fromkeys(times)) for lands, times in found.items() if lands}
    return tuple(f"{' and '.join(times)}: {lands}" if times[0] else lands for lands, times in kept.items())


def _lands(study: StudyChart, events: Sequence[int], count: BarCount) -> str:
    """Where the last chord of a section is heading: its goal, the chord it rests on, or nowhere."""
    if not events:
        return ""
    reading = study.reading(events[-1])
    symbol = study.events[events[-1]].symbol
    aim = None if reading.resolution == "onward" else reading.resolves_to
    if aim is not None and aim not in events:
        where = "the top" if aim <= events[-1] else count.names_at([aim])
        return f"heads for {study.reading(aim).function.spoken}, at {where}" if study.events[aim].symbol else ""
    if symbol is None:
        return ""
    if study.analysis.landing[events[-1]] == 0:
        return f"comes to rest on {reading.function.spoken}"
    return f"ends on {reading.function.spoken}"


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
    return count.stretch_at(found.first, found.last).removeprefix("bars ").removeprefix("bar ") + to


def _variants(study: StudyChart, others: Sequence[tuple[str, Chart]]) -> tuple[Instead, ...]:
    if not others:
        return ()

    def say(played: Played, beside: Sequence[Played]) -> Said:
        key, own = played.reading.key, beside[0].reading.key if beside else study.key
        return in_numbers(played.reading.function.spoken, "" if key == own else key_said(key, study.key))

    table = side_by_side(study.chart, [chart for _name, chart in others])
    return instead(table, [name for name, _chart in others], say)
