"""How well a handful of notes fits a chord, against other chords and scales: with a margin, never a bare name.

A note over a chord is as likely as it is in recorded solos, given the interval that it is reached by and the one that
it is left by (`models/neighbours.json`, counts with their provenance). Longer notes weigh more, a note that comes again
weighs less. A scale is a bag of equally likely notes with little left over for the others. Fits are in nats (natural
logarithms of odds) and only their differences mean anything. The notes of one bar alone name its chord one time in seven, so a small
margin is "open".
"""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import exp, log
from pathlib import Path

from tunes.harmony.chords import ChordSymbol, make_symbol
from tunes.harmony.pitch.spelling import Interval, Key, NoteName, degree_interval
from tunes.harmony.scales.scales import scale_in
from tunes.harmony.scales.tables import SCALES

from .notes import Change, Grid, Note
from .tones import chord_class, tones_of

MODEL = Path(__file__).with_name("models") / "neighbours.json"
FEWEST_NOTES = 4
OPEN_BELOW = 2.0
"""Nats: below this margin a bar is open. Above it the written chord fits better than a chord of the same solo on another root
in seven of eight recorded bars."""
_LONGEST = 2.0
_LENGTH_COUNTS = 0.4
_AGAIN_COUNTS = -0.3
_OFFHAND = 0.08
"""Share of notes outside the scale that a line in a scale has."""
_BROKEN = 0.2
"""Share of bars that only break their chord."""
_SMOOTH = 150
_TRITONE = Interval(3, 6)
_NONE = 12
_ALTERED_DEGREES = ("b9", "#9", "b13")

Sounds = Sequence[tuple[int, float]]
"""(MIDI pitch, crotchets) in order of time."""


def colour_class(symbol: ChordSymbol) -> str:
    """The class of a chord, dominants told apart by their written tensions."""
    cls = chord_class(symbol)
    if cls != "dominant":
        return cls
    if any(degree in symbol.degrees for degree in _ALTERED_DEGREES):
        return "dominant altered"
    return "dominant ♯11" if "#11" in symbol.degrees else cls


Table = tuple[Sequence[Sequence[float]], Sequence[Sequence[float]]]


@lru_cache(maxsize=1)
def _tables() -> Mapping[str, Table]:
    """For each class: logarithms of the shares of the twelve notes, by the interval before (13 rows) and after."""
    data = json.loads(MODEL.read_text(encoding="utf-8"))["counts"]
    return {cls: (_logs(rows["before"]), _logs(rows["after"])) for cls, rows in data.items()}


def _logs(rows: Sequence[Sequence[int]]) -> list[list[float]]:
    totals = [sum(row[n] for row in rows) for n in range(12)]
    size = sum(totals) + 24
    usual = [(n + 2) / size for n in totals]
    return [[log((row[n] + _SMOOTH * usual[n]) / (sum(row) + _SMOOTH)) for n in range(12)] for row in rows]


def weights(sounds: Sounds) -> list[float]:
    """What each note counts: the root of its length, less when it comes again."""
    seen: Counter[int] = Counter()
    found = []
    for midi, length in sounds:
        seen[midi % 12] += 1
        found.append(min(max(length, 0.05), _LONGEST) ** _LENGTH_COUNTS * seen[midi % 12] ** _AGAIN_COUNTS)
    return found


def chord_fit(sounds: Sounds, symbol: ChordSymbol) -> float:
    """How well notes fit a chord, in nats: greater is better; compare only over the same notes.

    A player either plays a line over the chord or breaks the chord: the fit is that of both together.
    """
    each = weights(sounds)
    line, broken = _as_line(sounds, each, symbol), log(_BROKEN) + scale_fit(sounds, _chord_pcs(symbol))
    top = max(line, broken)
    return top + log(exp(line - top) + exp(broken - top))


def _as_line(sounds: Sounds, each: Sequence[float], symbol: ChordSymbol) -> float:
    tables = _tables()
    before, after = tables.get(colour_class(symbol)) or tables["major"]
    root, total = symbol.root.pc, 0.0
    for place, ((midi, _), weight) in enumerate(zip(sounds, each, strict=True)):
        note = (midi - root) % 12
        back = (sounds[place - 1][0] - midi) % 12 if place else _NONE
        on = (sounds[place + 1][0] - midi) % 12 if place + 1 < len(sounds) else _NONE
        total += weight * (before[back][note] + after[on][note]) / 2
    return total


def scale_fit(sounds: Sounds, pcs: frozenset[int]) -> float:
    """How well notes fit a scale, given as pitch classes, in nats that compare with `chord_fit`."""
    inside, outside = log((1 - _OFFHAND) / len(pcs)), log(_OFFHAND / max(1, 12 - len(pcs)))
    return sum(
        w * (inside if midi % 12 in pcs else outside) for (midi, _), w in zip(sounds, weights(sounds), strict=True)
    )


@dataclass(frozen=True, slots=True)
class Candidate:
    """Something that notes may fit: `kind` says what it is to the written chord, `name` is in ASCII.

    kind    "written", "tritone substitute", "related 2", "chord to come", "chord before", "key", "scale", "other scale".
    fit     nats; inside  share of the notes, by their weight, that it contains (0 to 1).
    """

    kind: str
    name: str
    fit: float
    inside: float


@dataclass(frozen=True, slots=True)
class BarFit:
    """How the notes over one chord in one bar fit.

    bar, change   number of the bar, index of the chord. first, last  indices of the notes, both included.
    candidates    the best fit first.
    margin        nats between the written chord and the best other chord; negative when that fits better.
    verdict       "written", "other" or "open" (few notes, or a margin that says nothing).
    """

    bar: int
    change: int
    first: int
    last: int
    candidates: tuple[Candidate, ...]
    margin: float
    verdict: str

    @property
    def best(self) -> Candidate:
        return self.candidates[0]


_CHORDS = frozenset({"written", "tritone substitute", "related 2", "chord to come", "chord before"})


def fit_bars(notes: Sequence[Note], changes: Sequence[Change], grid: Grid) -> tuple[BarFit, ...]:
    """For every chord of every bar that holds a note. Notes and changes in order of time."""
    spans: dict[tuple[int, int], list[int]] = {}
    at = -1
    for index, (note, bar) in enumerate(zip(notes, grid.numbers(n.onset for n in notes), strict=True)):
        while at + 1 < len(changes) and changes[at + 1].start <= note.onset + 1e-4:
            at += 1
        if at >= 0 and changes[at].symbol is not None:
            spans.setdefault((bar, at), []).append(index)
    return tuple(_bar_fit(bar, at, places, notes, changes) for (bar, at), places in spans.items())


def _bar_fit(bar: int, at: int, places: Sequence[int], notes: Sequence[Note], changes: Sequence[Change]) -> BarFit:
    sounds = [(notes[n].midi, float(notes[n].duration or 0.5)) for n in places]
    found = sorted(_candidates(sounds, at, changes), key=lambda one: -one.fit)
    written = next(one.fit for one in found if one.kind == "written")
    others = [one.fit for one in found if one.kind in _CHORDS and one.kind != "written"]
    margin = written - max(others) if others else 0.0
    verdict = "open"
    if len(places) >= FEWEST_NOTES and abs(margin) >= OPEN_BELOW:
        verdict = "written" if margin > 0 else "other"
    return BarFit(bar, at, places[0], places[-1], tuple(found), margin, verdict)


def _candidates(sounds: Sounds, at: int, changes: Sequence[Change]) -> list[Candidate]:
    change = changes[at]
    chords = _chords(at, changes)
    found = [
        Candidate(kind, symbol.text, chord_fit(sounds, symbol), _share(sounds, _chord_pcs(symbol)))
        for kind, symbol in chords
    ]
    for kind, name, pcs in _scales(change):
        found.append(Candidate(kind, name, scale_fit(sounds, pcs), _share(sounds, pcs)))
    return found


def _chord_pcs(symbol: ChordSymbol) -> frozenset[int]:
    tones = tones_of(symbol)
    return frozenset((tones.root + n) % 12 for n in tones.inside)


def _share(sounds: Sounds, pcs: frozenset[int]) -> float:
    each = weights(sounds)
    return sum(w for (midi, _), w in zip(sounds, each, strict=True) if midi % 12 in pcs) / sum(each)


def _chords(at: int, changes: Sequence[Change]) -> list[tuple[str, ChordSymbol]]:
    """The written chord and the chords that players put in its place, each sound once."""
    symbol = changes[at].symbol
    assert symbol is not None
    rows = [("written", symbol)]
    if symbol.family == "dominant":
        rows.append(("tritone substitute", make_symbol(_as_written(symbol.root - _TRITONE), ("1", "3", "5", "b7"))))
        rows.append(("related 2", make_symbol(symbol.root + Interval(4, 7), ("1", "b3", "5", "b7"))))
    beside = (("chord to come", changes[at + 1 :]), ("chord before", changes[at - 1 :: -1] if at else ()))
    rows += [(kind, other) for kind, row in beside if (other := _another(row, symbol)) is not None]
    seen: set[tuple[int, str]] = set()
    kept = []
    for kind, one in rows:
        sound = (one.root.pc, colour_class(one))
        if sound not in seen:
            seen.add(sound)
            kept.append((kind, one))
    return kept


def _as_written(root: NoteName) -> NoteName:
    """C flat and F flat, and what has two signs, as a chart would have them."""
    usual = {"Cb": "B", "Fb": "E", "E#": "F", "B#": "C"}
    if abs(root.alter) > 1:
        return NoteName.from_fifths((root.fifths + 5) % 12 - 5)
    return NoteName.parse(usual.get(root.text, root.text))


def _another(changes: Sequence[Change], symbol: ChordSymbol) -> ChordSymbol | None:
    """The first chord of another name."""
    return next((c.symbol for c in changes if c.symbol is not None and c.symbol != symbol), None)


_USUAL = {
    "dominant": ("altered", "half-whole", "lydian-b7", "whole-tone", "mixolydian-b9b13"), "minor": ("melodic-minor", "harmonic-minor"),
    "half-diminished": ("locrian-9",), "diminished": ("half-whole",), "major": ("lydian",),
}  # fmt: skip


def _scales(change: Change) -> list[tuple[str, str, frozenset[int]]]:
    """(kind, name, pitch classes) of the plain scale of the key, the usual scale of the chord and its alternatives."""
    symbol = change.symbol
    assert symbol is not None
    rows: list[tuple[str, str, frozenset[int]]] = []
    if change.key is not None:
        rows.append(("key", change.key.text, _key_pcs(change.key)))
    usual = scale_in(symbol, change.function, change.key)
    rows.append(("scale", f"{symbol.root.text} {usual.name}", frozenset(note.pc for note in usual.notes)))
    for scale in _USUAL.get(symbol.family, ()):
        if scale != usual.scale:
            pcs = frozenset((symbol.root + interval).pc for interval in _intervals(scale))
            rows.append(("other scale", f"{symbol.root.text} {SCALES[scale].name}", pcs))
    return rows


@lru_cache(maxsize=64)
def _intervals(scale: str) -> tuple[Interval, ...]:
    return tuple(degree_interval(degree) for degree in SCALES[scale].degrees)


def _key_pcs(key: Key) -> frozenset[int]:
    steps = (0, 2, 4, 5, 7, 9, 11) if key.mode == "major" else (0, 2, 3, 5, 7, 8, 10)
    return frozenset((key.tonic.pc + step) % 12 for step in steps)
