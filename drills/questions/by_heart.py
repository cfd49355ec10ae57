"""Kind "by-heart": the empty form, filled from memory; the chords of every bar, or what they do by numbers alone.

One question stands for one bar.  A section that comes again with the same chords is written once (`every_section`
asks it each time), because what is asked is memory and not patience.  The key is stored in the chart's own key; in
which key the tune is called is settled when an attempt begins and stands in its interval, so that every go may be in
another one.  Nothing outside the key tells a chord: ``event`` is None, ``context`` holds the place, the metre and what is
asked ("" or "numbers"), and how often the section comes.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from drills.questions.base import KeyJson, Options, Question
from drills.questions.changes import changes_key, chorus_bars
from drills.questions.function import function_key
from drills.questions.places import places, sections_of
from tunes.harmony.charts.bar_count import bar_count, bar_name
from tunes.harmony.charts.bars import Event
from tunes.harmony.charts.model import Chart

KIND = "by-heart"
NUMBERS = "numbers"
Row = tuple[int, str, int]  # bar of the chorus, section, how often the section comes


def build_by_heart(study: Any, options: Options, seed: int) -> tuple[Question, ...]:
    """One question a bar in playing order; ``options.section`` keeps the sections of that letter."""
    chart: Chart = study.chart
    rows, order, asked = chorus_bars(chart), chart.unfold(), set[int]()
    made = []
    for index, section, times in _bars(chart, rows, options):
        bar = chart.bars[order[index].bar]
        again = order[index].bar in asked and not options.every_section
        if again or (options.bars and bar.number not in options.bars) or not rows[index]:
            continue
        asked.add(order[index].bar)
        made.append(_question(study, index, section, times, rows[index], options.part))
    return tuple(made)


def section_names(chart: Chart) -> tuple[str, ...]:
    """The letters of the form, each once, for whoever calls one of them."""
    return tuple(dict.fromkeys(label for label, _, _ in sections_of(chart) if label))


def _bars(chart: Chart, rows: Sequence[Sequence[Event]], options: Options) -> Iterator[Row]:
    """The bars to write, those of a section that was written before left out."""
    sections = [one for one in sections_of(chart) if not options.section or one[0] == options.section]
    sounds = [
        tuple(tuple((event.text, event.onset) for event in rows[bar]) for bar in range(first, first + bars))
        for _, first, bars in sections
    ]
    for place, (label, first, bars) in enumerate(sections):
        if sounds[place] in sounds[:place] and not options.every_section:
            continue
        times = 1 if options.every_section else sounds.count(sounds[place])
        for bar in range(first, first + bars):
            yield bar, label, times


def _question(study: Any, index: int, section: str, times: int, events: Sequence[Event], part: str) -> Question:
    bar, played = study.chart.bars[events[0].bar], bar_count(study.chart).chorus[index]
    context = {
        "section": section, "group": bar.section, "written": events[0].bar, "pass": 1, "metre": bar.metre.text,
        "endings": list(bar.endings), "part": part, "times": times, "played": played,
    }  # fmt: skip
    asked = "what do the chords do" if part == NUMBERS else "which chords"
    key = by_heart_key(study, events, part) | {"bar": bar.number, "played": played, "pass": 1, "metre": bar.metre.text}
    name = bar_name(played, bar.number).capitalize()
    return Question(f"{KIND}:{index}", KIND, f"{name}, from memory: {asked}?", None, bar.number, key, context)


def by_heart_key(study: Any, events: Sequence[Event], part: str) -> KeyJson:
    """The stored key of one bar: that of changes by ear, and for numbers the whole key of each chord's function."""
    key = changes_key(study.analysis, events, part) | {"kind": KIND}
    if part != NUMBERS:
        return key
    where, overruled = places(study.chart), getattr(study, "overridden", None) or {}
    for chord, event in zip(key["chords"], events, strict=True):
        chord["number"] = function_key(
            study.chart, study.analysis, event.index, where, overruled=event.index in overruled
        )
    return key
