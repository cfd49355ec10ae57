"""The reader as the scorer of recorded solos calls it: a thin adapter, no logic of its own.

    PYTHONPATH=. python SCORER.py --engine tests.bench.solos --data SOLOS.json.gz

Scorer and solos are research data and no part of the project.
"""

from __future__ import annotations

from functools import lru_cache
from typing import Any

from tunes.harmony.charts.bars import Metre
from tunes.harmony.chords import ChordSymbol, parse_symbol
from tunes.melody import Change, Grid, LineIndex, Note, Tap, chord_fit, read
from tunes.melody import place as place_onsets


@lru_cache(maxsize=4096)
def symbol_of(text: str) -> ChordSymbol | None:
    return None if text == "NC" else parse_symbol(text).symbol


def notes_of(rows: list[dict[str, Any]]) -> list[Note]:
    return [Note(row["on"], row["dur"], row["pitch"]) for row in rows]


def read_solo(notes: list[dict[str, Any]], chords: list[dict[str, Any]], meter: tuple[int, int]) -> dict[str, Any]:
    grid = Grid.even(Metre(*meter))
    length, beat = float(grid.bars[0].length), float(grid.bars[0].beat)
    changes = [Change((c["bar"] - 1) * length + (c["beat"] - 1) * beat, symbol_of(c["symbol"])) for c in chords]
    found = read(notes_of(notes), changes, grid)
    return {
        "notes": [{"degree": n.degree, "semitones": n.semitones, "role": n.role} for n in found.notes],
        "lines": [{"starts": list(line.starts), "length": line.length} for line in found.lines],
        "habits": [
            {"function": h.function, "semitones": h.semitones, "times": h.times, "of": h.of, "p": h.p}
            for h in found.habits
        ],
    }  # fmt: skip


def fit(notes: list[tuple[int, float]], symbol: str) -> float:
    chord = symbol_of(symbol)
    return chord_fit(notes, chord) if chord else float("-inf")


def prepare_lines(solos: list[list[dict[str, Any]]]) -> LineIndex:
    return LineIndex([[note["pitch"] for note in solo] for solo in solos])


def find_line(index: LineIndex, intervals: list[int], changed: int) -> list[tuple[int, int]]:
    return index.find(intervals, changed)


def place(onsets: list[float], taps: list[dict[str, Any]], meter: tuple[int, int] = (4, 4)) -> list[dict[str, Any]]:
    found = place_onsets(onsets, [Tap(tap["s"], tap["bar"], tap["beat"]) for tap in taps], meter[0])
    return [{"bar": one.bar, "beat": one.beat, "tick": str(one.tick)} for one in found]
