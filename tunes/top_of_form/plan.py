"""What the page plays: bass, shells and click over several choruses, with silences that grow. Pure.

Places and lengths are beats of a quarter note from the first downbeat; pitches are MIDI numbers, concert.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from tunes.harmony.charts import Chart
from tunes.harmony.chords import ChordSymbol
from tunes.top_of_form.score import Place

MOST_CHORUSES = 8
_BASS_LOW, _SHELL_LOW = 28, 52  # E1, E3


@dataclass(frozen=True)
class Plan:
    """`chords` are (beat, length, bass, shells); `silences` are (from, to) spans without any sound."""

    beats: float
    chorus_beats: float
    places: tuple[Place, ...]
    chords: tuple[tuple[float, float, int, tuple[int, ...]], ...]
    bars: tuple[float, ...]
    silences: tuple[tuple[float, float], ...]

    def to_json(self) -> dict[str, Any]:
        return {
            "beats": self.beats, "chorus": self.chorus_beats, "chords": self.chords, "bars": self.bars,
            "silences": self.silences, "places": [[p.beat, p.kind, p.chorus, p.silent] for p in self.places],
        }  # fmt: skip


def make_plan(chart: Chart, choruses: int, silence: str = "growing") -> Plan:
    """Several choruses of a chart. `silence` is "none", "growing", or "long" (every second half is silent)."""
    choruses = max(1, min(choruses, MOST_CHORUSES))
    bars, chords, bridges, length = _one_chorus(chart)
    silences = _silences(bars, length, choruses, silence)
    places: list[Place] = []
    for chorus in range(choruses):
        start = chorus * length
        places.append(_place(start, "top", chorus, silences))
        places += [_place(start + beat, "bridge", chorus, silences) for beat in bridges]
    places.append(_place(choruses * length, "top", choruses, silences))
    return Plan(
        beats=choruses * length,
        chorus_beats=length,
        places=tuple(places),
        chords=tuple(
            (chorus * length + at, long, bass, shells)
            for chorus in range(choruses)
            for at, long, bass, shells in chords
        ),
        bars=tuple(chorus * length + bar for chorus in range(choruses) for bar in bars),
        silences=silences,
    )


def _place(beat: float, kind: str, chorus: int, silences: tuple[tuple[float, float], ...]) -> Place:
    return Place(beat, kind, chorus + 1, any(start <= beat < end for start, end in silences))


Chord = tuple[float, float, int, tuple[int, ...]]


def _one_chorus(chart: Chart) -> tuple[list[float], list[Chord], list[float], float]:
    """Bar lines, chords, tops of bridges and length of one chorus, pickup left out."""
    bars: list[float] = []
    chords: list[Chord] = []
    bridges: list[float] = []
    at = Fraction(0)
    section = None
    letters = [s.label.strip().rstrip("'123456789") for s in chart.sections]
    for place in chart.unfold():
        bar = chart.bars[place.bar]
        if bar.is_pickup:
            continue
        quarter = Fraction(4, bar.metre.unit)
        if section is not None and bar.section != section and _is_bridge(letters, bar.section):
            bridges.append(float(at))
        section = bar.section
        bars.append(float(at))
        for slot in bar.slots:
            if slot.symbol is not None:
                start, long = at + slot.start * quarter, slot.duration * quarter
                chords.append((float(start), float(long), bass_of(slot.symbol), shells_of(slot.symbol)))
        at += bar.beats * quarter
    return bars, chords, bridges, float(at)


def _is_bridge(letters: list[str], section: int) -> bool:
    """A section of another letter than the first one: B of AABA, C of ABAC, "Bridge"."""
    return bool(letters[section]) and letters[section] != letters[0]


def _silences(bars: list[float], length: float, choruses: int, silence: str) -> tuple[tuple[float, float], ...]:
    """From the second chorus on the end of each chorus falls silent: two bars, four, eight, up to half of it."""
    if silence == "none" or not bars:
        return ()
    spans = []
    for chorus in range(1, choruses):
        count = len(bars) // 2 if silence == "long" else min(2**chorus, max(1, len(bars) // 2))
        start = bars[max(0, len(bars) - count)]
        spans.append((chorus * length + start, (chorus + 1) * length))
    return tuple(spans)


def bass_of(symbol: ChordSymbol) -> int:
    """The bass note from E1 up to D sharp 2."""
    return _above((symbol.bass or symbol.root).pc, _BASS_LOW)


def shells_of(symbol: ChordSymbol) -> tuple[int, ...]:
    """3rd and 7th (or what stands for them) from E3 up: the shell of the chord."""
    notes = [note for note in (symbol.third, symbol.seventh or symbol.fifth) if note is not None]
    return tuple(sorted({_above(note.pc, _SHELL_LOW) for note in notes}))


def _above(pc: int, low: int) -> int:
    return low + (pc - low) % 12
