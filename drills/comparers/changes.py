"""Marks a chord taken down by ear against the agreed chart: root, quality and function, with credit for a chord that
can sound there.  The relations and their shares stand in `tunes.harmony.substitutions`."""

from __future__ import annotations

from drills.comparers.note_names import read_notes
from drills.comparers.types import Context, Echo, Mark, StoredKey, Strictness
from drills.comparers.wording import bar_name, capital, chord_text, joined, key_text, reading_interval
from tunes.harmony.chord_symbol import ChordSymbol
from tunes.harmony.functions import Function
from tunes.harmony.spelling import Interval, Key, NoteName
from tunes.harmony.substitutions import ChordComparison, compare_chords
from tunes.harmony.symbols import parse_symbol

BASS = "bass"
RULE_PREFIX = "changes-"


def echo_changes(text: str, context: Context) -> Echo:
    """The chord as read; with ``part`` "bass" the note."""
    if context.part == BASS:
        reading = read_notes(text)
        if reading.problem:
            return Echo(reading.problem.text, False, reading.problem.start, reading.problem.end)
        return Echo(f"bass note {reading.echo}", True)
    found = parse_symbol(text.strip())
    if found.problem:
        return Echo(found.problem.text, False, found.problem.start, found.problem.end)
    return Echo(found.symbol.display if found.symbol else "N.C.: no chord", True)


def mark_changes(key: StoredKey, text: str, strictness: Strictness, context: Context) -> Mark:
    """The mark of one chord heard.  ``key["part"]`` is "bass" where only the bass note was asked."""
    move = reading_interval(key, context)
    place = capital(bar_name(key.get("bar"), int(key.get("pass", 1))))
    truth = f"{place} has {'no chord' if key['chord'] == 'N.C.' else chord_text(key['chord'], move)}."
    if not text.strip():
        return Mark(0.0, "blank", f"This one was left open. {truth}", "")
    part = str(key.get("part") or "")
    understood = echo_changes(text, Context(context.key, context.written, part))
    if not understood.ok:
        return Mark(0.0, "unreadable", f"{understood.text} {truth}", "")
    agreed = parse_symbol(key["chord"]).symbol
    heard = _heard(text, part)
    if agreed is None or heard is None:
        same = agreed is None and heard is None
        rule = f"{RULE_PREFIX}{'same' if same else 'contradicts'}"
        return Mark(1.0 if same else 0.0, rule, truth, understood.text)
    concert = heard.transposed(-move) if isinstance(heard, ChordSymbol) else heard - move
    found = compare_chords(agreed, concert, Key.parse(key["key"]), _function(key))
    points = _points(found, part)
    said = "That is the bass." if (part, found.relation.id) == (BASS, "bass-only") else found.relation.sentence
    words = [said, _foreign(found, key, move), truth, _parts(found)]
    return Mark(points, RULE_PREFIX + found.relation.id, " ".join(word for word in words if word), understood.text)


def _heard(text: str, part: str) -> ChordSymbol | NoteName | None:
    if part == BASS:
        notes = read_notes(text).notes
        return notes[0] if notes else None
    return parse_symbol(text.strip()).symbol


def _function(key: StoredKey) -> Function | None:
    return Function.from_json(key["expected"]) if key.get("expected") else None


def _points(found: ChordComparison, part: str) -> float:
    """Where only the bass was asked, the bass is the whole of it."""
    if part == BASS:
        return {"bass-only": 1.0, "chord-tone-bass": 0.5}.get(found.relation.id, 0.0)
    return found.relation.credit


def _foreign(found: ChordComparison, key: StoredKey, move: Interval) -> str:
    """Which notes speak against the key, for a chord that has no place there."""
    if found.relation.id != "contradicts" or not found.foreign:
        return ""
    notes = joined([(note + move).display for note in found.foreign])
    return f"{notes} would be foreign to {key_text(key['key'], move)} here."


def _parts(found: ChordComparison) -> str:
    if found.relation.id in ("same", "bass-only", "chord-tone-bass"):
        return ""
    said = [f"root {'right' if found.root else 'another'}", f"kind {'right' if found.quality else 'another'}",
            f"function {'the same' if found.function == 'same' else found.function}"]  # fmt: skip
    return capital(", ".join(said)) + "."
