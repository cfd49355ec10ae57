"""What a handful of keys is to the chord that the chart has: right, turned over, without its 7th, another chord. Pure.

`VERDICTS` says what each is worth (1 = all); the shares are common practice, no source. How another chord stands to the one that is
written is `tunes.harmony.comparison.substitutions`, as for changes by ear.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from drills.lines.guide_tones import seventh_of, third_of
from drills.lines.scales import ChordScale
from tunes.harmony.chords import ChordSymbol
from tunes.harmony.chords.from_notes import chords_of, name_in_key
from tunes.harmony.comparison.substitutions import compare_chords
from tunes.harmony.pitch.spelling import Key
from tunes.harmony.readings.function import Function


@dataclass(frozen=True, slots=True)
class Verdict:
    """One row of the table: what was played, in one sentence, and its share."""

    id: str
    name: str
    sentence: str
    credit: float


_ROWS = (
    Verdict("right", "Right", "The bass, 3rd and 7th are there.", 1.0),
    Verdict("rootless", "Right, without its root", "3rd and 7th are there; the band's bass has the root.", 1.0),
    Verdict("inverted", "Turned over", "The right notes over another bass: {bass} belongs below.", 0.8),
    Verdict("no-seventh", "Without its 7th", "The 7th is missing: {seventh}.", 0.6),
    Verdict("no-third", "Without its 3rd", "The 3rd is missing: {third}.", 0.5),
    Verdict("other-chord", "Another chord", "{other}: {relation}", 0.0),
    Verdict("bare", "Bare", "Root or 5th only; 3rd and 7th say which chord it is: {third}, {seventh}.", 0.25),
    Verdict("outside", "A note outside", "{foreign} is not in {chord}.", 0.0),
    Verdict("nothing", "Not played", "Nothing was played here.", 0.0),
)
VERDICTS: dict[str, Verdict] = {row.id: row for row in _ROWS}
WITH_BOTH_GUIDES = 0.25  # share of a chord whose 3rd and 7th are there beside a note outside it
RIGHT_FROM = 0.8  # from here on the page goes on to the next chord


@dataclass(frozen=True, slots=True)
class Heard:
    """The verdict on one chord, with its sentence told and, for another chord, its name."""

    verdict: Verdict
    sentence: str
    credit: float
    chord: str = ""


def judge(
    symbol: ChordSymbol, notes: Sequence[int], scale: ChordScale, key: Key, function: Function | None = None
) -> Heard:
    """How sounding MIDI numbers stand to a chord in its place. Tensions of its scale are welcome, its avoid note is not."""
    pcs = frozenset(note % 12 for note in notes)
    if not pcs:
        return _told("nothing", symbol)
    third, seventh = third_of(symbol), seventh_of(symbol)
    has_third = third is None or third.name.pc in pcs
    has_seventh = seventh is None or seventh.name.pc in pcs
    foreign = sorted(pcs - allowed(symbol, scale))
    whole = has_third and has_seventh
    if whole and not foreign and len(pcs) > 1:
        return _whole(symbol, min(notes) % 12, pcs)
    other = _other(symbol, notes, key, function)
    if other is not None:
        return other
    if foreign:
        credit = WITH_BOTH_GUIDES if whole and len(pcs) > 1 else 0.0
        return _told("outside", symbol, credit, foreign=" and ".join(name_in_key(pc, key).display for pc in foreign))
    if (not has_third and not has_seventh) or len(pcs) == 1:
        return _told("bare", symbol)
    return _told("no-seventh" if has_third else "no-third", symbol)


def allowed(symbol: ChordSymbol, scale: ChordScale) -> frozenset[int]:
    """The chord, its bass, and its scale without the note a half step above a major 3rd (common practice: avoided)."""
    avoid = (symbol.tone("3").pc + 1) % 12 if "3" in symbol.degrees else -1
    around = {name.pc for name in scale.notes} - {avoid}
    return frozenset(symbol.pcs | around | ({symbol.bass.pc} if symbol.bass else set()))


def _whole(symbol: ChordSymbol, lowest: int, pcs: frozenset[int]) -> Heard:
    bass = symbol.bass or symbol.root
    if lowest == bass.pc:
        return _told("right", symbol)
    if bass.pc not in pcs and symbol.root.pc not in pcs:
        return _told("rootless", symbol)
    return _told("inverted", symbol, bass=bass.display)


def _other(symbol: ChordSymbol, notes: Sequence[int], key: Key, function: Function | None) -> Heard | None:
    """Another chord that a band may well play in this place, the likeliest reading of the notes that is one."""
    found = []
    for chord in chords_of(notes, key):
        relation = compare_chords(symbol, chord, key, function).relation
        if chord.root.pc != symbol.root.pc and relation.plausible:
            found.append((chord, relation))
    if not found:
        return None
    chord, relation = max(found, key=lambda row: row[1].credit)
    sentence = f"{chord.display} for {symbol.display}. {relation.sentence} A band may well play it here."
    return Heard(VERDICTS["other-chord"], sentence, relation.credit, chord.display)


def _told(name: str, symbol: ChordSymbol, credit: float | None = None, **words: str) -> Heard:
    third, seventh = third_of(symbol), seventh_of(symbol)
    names = {
        "third": third.name.display if third else "none", "seventh": seventh.name.display if seventh else "no 7th",
        "chord": symbol.display, **words,
    }  # fmt: skip
    verdict = VERDICTS[name]
    return Heard(verdict, verdict.sentence.format_map(names), verdict.credit if credit is None else credit)
