"""What stands in one bar of a by-ear sheet, read. Pure; starts and durations are beats of the bar."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from fractions import Fraction

from tunes.harmony.charts import Bar, Chart, Metre, Slot, parse_chart
from tunes.harmony.charts.bars import BLANK
from tunes.harmony.chords import NO_CHORD, ChordSymbol
from tunes.harmony.pitch.spelling import NoteName, SpellingError
from tunes.harmony.problems import Problem


@dataclass(frozen=True)
class Sounding:
    """One thing heard: a chord, a bare bass note, or silence (both None)."""

    start: Fraction
    duration: Fraction
    chord: ChordSymbol | None = None
    bass: NoteName | None = None

    @property
    def text(self) -> str:
        if self.chord is not None:
            return self.chord.text
        return self.bass.text if self.bass is not None else NO_CHORD


@dataclass(frozen=True)
class BarReading:
    """What a bar was understood as. `problem` says what to type instead; the readable part stands."""

    soundings: tuple[Sounding, ...] = ()
    problem: str = ""

    @property
    def echo(self) -> str:
        """How it was understood, never whether it is right."""
        return "  ".join(sounding.text for sounding in self.soundings)

    def at(self, start: Fraction) -> Sounding | None:
        """What sounds at a beat."""
        return next((s for s in self.soundings if s.start <= start < s.start + s.duration), None)


def read_bar(bass: str, chords: str, metre: Metre) -> BarReading:
    """The bar as typed: chords where there are any, else the bass notes alone."""
    if chords.strip():
        return read_chords(chords, metre)
    return read_bass(bass, metre) if bass.strip() else BarReading()


def read_chords(text: str, metre: Metre) -> BarReading:
    """Chords of one bar in chart text: "Dm7 G7", "C / / F7", "N.C."."""
    if "|" in text or "\n" in text:
        return BarReading((), "One bar stands in one field: no bar lines here.")
    if text.strip() == "%":
        return BarReading((), "Type the chord again: every bar is heard for itself.")
    reading = parse_chart(f"metre: {metre.text}\n| {text} |")
    if reading.chart is None or len(reading.chart.bars) != 1:
        return BarReading((), "This cannot be read as one bar. Type chords such as Dm7 G7.")
    problem = _problem(reading.problems[0]) if reading.problems else ""
    slots = reading.chart.bars[0].slots
    found = tuple(
        Sounding(slot.start, slot.duration, slot.symbol) for slot in slots if slot.symbol or slot.text == NO_CHORD
    )
    return BarReading(found, problem)


def _problem(problem: Problem) -> str:
    """What is wrong and what to type; a chart may leave a chord open with a question mark, a bar heard may not."""
    if problem.suggestion == BLANK:
        return f"{problem.message.partition('. ')[0]}. Type a chord such as Dm7, or leave it out."
    return problem.text


def read_bass(text: str, metre: Metre) -> BarReading:
    """Bass notes of one bar, evenly spread: "D G", "c", "Bb B C"."""
    words = re.split(r"[\s,;]+", text.strip())
    share = Fraction(metre.beats, len(words))
    found, problem = [], ""
    for place, word in enumerate(words):
        try:
            note = NoteName.parse(word[:1].upper() + word[1:])
        except SpellingError:
            problem = f"“{word[:12]}” is not a note. Type C, Bb or F#."
            continue
        found.append(Sounding(place * share, share, bass=note))
    return BarReading(tuple(found), problem)


def heard_chart(chart: Chart, heard: Mapping[int, BarReading]) -> Chart:
    """The agreed chart with every bar replaced for which chords were heard; bars as indices into it."""
    bars = tuple(_heard_bar(bar, heard.get(index)) for index, bar in enumerate(chart.bars))
    return replace(chart, bars=bars)


def _heard_bar(bar: Bar, reading: BarReading | None) -> Bar:
    if reading is None or reading.problem or not reading.soundings or any(s.bass for s in reading.soundings):
        return bar
    slots = tuple(Slot(s.chord, s.start, s.duration, s.text) for s in reading.soundings)
    return replace(bar, slots=slots)
