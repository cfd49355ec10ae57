"""Ask before telling: what is asked of a bar, what was answered, which bars stay hidden until then. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from fractions import Fraction
from typing import Any

from tunes.harmony.chords import ChordSymbol
from tunes.harmony.scales.tables import SCALES
from tunes.solos.bars import SoloForm
from tunes.solos.notes import Bars
from tunes.solos.reading import SAID, SoloReading

CHORD_ITSELF, OWN_TUNE = "chord", "own"
# Scales among which the answer lies, by family of the chord (common practice, no source). The order tells nothing.
SCALES_OF: dict[str, tuple[str, ...]] = {
    "dominant": ("altered", "half-whole", "lydian-b7", "mixolydian", "whole-tone"),
    "minor": ("dorian", "harmonic-minor", "melodic-minor"), "half-diminished": ("locrian", "locrian-9"),
    "diminished": ("half-whole", "whole-half"), "major": ("ionian", "lydian"),
}  # fmt: skip


def hidden_bars(asks: Iterable[Any], *, sees_all: bool = False) -> frozenset[int]:
    """The bars that are asked and that this reader (`ask.mine`) has not answered; none for who teaches it."""
    return frozenset() if sees_all else frozenset(ask.bar for ask in asks if ask.mine is None)


def scale_options(symbol: ChordSymbol) -> list[tuple[str, str]]:
    """(value, words) of what a bar over that chord may be."""
    rows = [
        (scale, f"{symbol.root.display} {SCALES[scale].name}")
        for scale in SCALES_OF.get(symbol.family, SCALES_OF["major"]) if scale in SCALES
    ]  # fmt: skip
    return [*rows, (CHORD_ITSELF, "the chord itself"), (OWN_TUNE, "a tune of its own")]


def asked_of(ask: Any, form: SoloForm, written: Bars) -> dict[str, Any]:
    """The questions about one bar: a scale for each chord, what its last note does."""
    bar = form.bars[ask.bar]
    scales = [
        {"place": place, "name": chord.symbol.display, "options": scale_options(chord.symbol)}
        for place, chord in enumerate(bar.chords[:2]) if chord.symbol
    ]  # fmt: skip
    return {"row": ask, "number": bar.number, "scales": scales, "note": _last_note(written, ask.bar, bar.metre.unit)}


def _last_note(written: Bars, bar: int, unit: int) -> str:
    at, found = Fraction(0), ""
    for entry in written[bar]:
        if entry.pitch is not None:
            beat = at * unit / 4
            whole = int(beat)
            where = (
                f"beat {whole + 1}"
                if beat == whole
                else f"the and of {whole + 1}"
                if beat - whole == Fraction(1, 2)
                else f"after beat {whole + 1}"
            )
            found = f"{entry.pitch.name.display}, {where}"
        at += entry.length
    return found


def answer_of(posted: Mapping[str, str], form: SoloForm, bar: int) -> dict[str, str]:
    """What was said, from what the form may send; {} when nothing was."""
    said: dict[str, str] = {}
    for place, chord in enumerate(form.bars[bar].chords[:2]):
        if chord.symbol is None:
            continue
        value = posted.get(f"scale-{place}", "")
        words = dict(scale_options(chord.symbol)).get(value)
        if words:
            said[f"scale-{place}"] = words
    if (role := posted.get("role", "")) in SAID:
        said["role"] = SAID[role]
    return said


def answered_words(said: Mapping[str, str]) -> str:
    scales = [said[name] for name in sorted(said) if name.startswith("scale")]
    return "; ".join([*scales, *([f"the last note: {said['role']}"] if "role" in said else [])])


def told_words(bar: int, reading: SoloReading) -> str:
    """What the last note of a bar was read as, in a sentence."""
    notes = reading.of_bar(bar)
    return f"{notes[-1].words}: {SAID[notes[-1].reading.role]}" if notes else ""
