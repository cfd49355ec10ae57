"""A carried line as the page plays it: the line, and the band of the site under it."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from drills.band.chorus import in_sound as band_in_sound
from drills.band.chorus import play_chorus
from drills.band.styles import style_for
from drills.chord_scales import ninth_of
from drills.lines.line import Line, LineChord
from drills.lines.passage import Passage
from drills.lines.scales import ChordScale
from drills.sheets import in_sound
from tunes.harmony.scales.scales import scale_in

PARTS = ("bass", "piano", "drums", "swing")


def over_band(line: Line, tempo: int, style: str = "") -> dict[str, Any]:
    """What `drills.sheets.in_sound` gives, with bass, piano and drums of the band in concert pitch. `style` by id; the first that
    fits the bar where there is none. A line that is for the piano itself has no second pianist, and no bass in its way."""
    down = -line.shift
    chords = tuple(replace(c, symbol=c.symbol.transposed(down) if c.symbol else None) for c in line.chords)
    key = line.key.transposed(down.simple)
    part = Passage(key, line.bars, chords, {})
    length = max(bar.length for bar in line.bars)
    band = band_in_sound(play_chorus(part, style_for(length, style), _scale_of, "line"))
    parts = ("drums", "swing") if line.kind == "piano" else PARTS
    return in_sound(line, tempo) | {name: band[name] for name in parts}


def _scale_of(chord: LineChord) -> ChordScale:
    assert chord.symbol is not None
    choice = scale_in(chord.symbol, None, None)
    return ChordScale(f"{choice.root.display} {choice.name}", choice.notes, choice.reason, ninth=ninth_of(choice))
