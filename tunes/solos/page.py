"""What the pages of a solo hand to the browser: bars, chords, notes and times as plain data. Pure.

Times are whole `FINEST`ths of a quarter note, so that the browser counts without rounding.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from typing import Any

from tunes.harmony.chords import ChordSymbol
from tunes.harmony.pitch.spelling import Pitch
from tunes.solos.bars import SoloBar, SoloChord, SoloForm
from tunes.solos.notes import FINEST, TUPLETS
from tunes.top_of_form.plan import bass_of, shells_of


def ticks(time: Fraction) -> int:
    return int(time * FINEST)


def step_of(pitch: Pitch) -> int:
    """Letters above C0, as the page counts them.

    >>> step_of(Pitch.parse("C4")), step_of(Pitch.parse("Bb4"))
    (28, 34)
    """
    return 7 * pitch.octave + "CDEFGAB".index(pitch.name.letter)


def form_data(form: SoloForm, concert: SoloForm) -> dict[str, Any]:
    """Bars and chords as printed, the signature, how far printed notes lie above sounding ones."""
    return {
        "quarter": FINEST,
        "tuplets": TUPLETS,
        "fifths": max(-7, min(7, form.key.fifths)),
        "clef": form.instrument.clef,
        "range": [step_of(form.instrument.low), step_of(form.instrument.high)],
        "shift": [form.shift.steps, form.shift.semitones],
        "bars": [_bar(bar) for bar in form.bars],
        "sound": [[sound_of(chord) for chord in bar.chords] for bar in concert.bars],
    }


def _bar(bar: SoloBar) -> dict[str, Any]:
    return {
        "chorus": bar.chorus, "number": bar.number, "label": bar.label, "metre": [bar.metre.beats, bar.metre.unit],
        "length": ticks(bar.length), "chords": [_chord(chord) for chord in bar.chords],
    }  # fmt: skip


def _chord(chord: SoloChord) -> dict[str, Any]:
    return {"at": ticks(chord.at)} | symbol_parts(chord.symbol)


def symbol_parts(symbol: ChordSymbol | None) -> dict[str, Any]:
    """A chord symbol in the pieces that it is set in, and as it is spoken."""
    if symbol is None:
        return {"line": "N.C.", "spoken": "no chord"}
    parts = symbol.display_parts
    found: dict[str, Any] = {
        "line": f"{parts.root}{parts.accidental}{parts.body}", "spoken": symbol.spoken,
        "tones": [tone.text for tone in symbol.tones],
    }  # fmt: skip
    return found | {name: text for name, text in (("raised", parts.superscript), ("bass", parts.bass)) if text}


def sound_of(chord: SoloChord) -> list[Any]:
    """[at, length, bass, shells…] of a concert chord, for the page's own sounds; only at and length without a chord."""
    if chord.symbol is None:
        return [ticks(chord.at), ticks(chord.length)]
    return [ticks(chord.at), ticks(chord.length), bass_of(chord.symbol), *shells_of(chord.symbol)]


def chorus_words(bars: Sequence[SoloBar]) -> str:
    """ "chorus 2", "choruses 1 to 3", "bars 5 to 8 of chorus 1": what a solo covers, in words."""
    if not bars:
        return "no bars"
    first, last = bars[0], bars[-1]
    if first.chorus != last.chorus:
        return f"choruses {first.chorus} to {last.chorus}"
    if first.number == last.number:
        return f"bar {first.number} of chorus {first.chorus}"
    return f"bars {first.number} to {last.number} of chorus {first.chorus}"
