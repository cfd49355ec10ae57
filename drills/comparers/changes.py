"""Marks one bar taken down by ear against the agreed chart, chord by chord: root, quality and function, with credit for
a chord that can sound there.  The relations and their shares stand in `tunes.harmony.comparison.substitutions`.

A bar earns the shares of its chords weighed by their beats; the rule named is that of the chord that earned least.  A
chord added between two agreed ones costs nothing, but is told.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from drills.comparers.heard_bar import BASS, HeardBar, metre_of, read_heard
from drills.comparers.types import Context, Echo, Mark, StoredKey, Strictness
from drills.comparers.wording import capital, chord_text, joined, key_text, place_name, reading_interval
from tunes.by_ear.reading import Sounding
from tunes.harmony.chords import parse_symbol
from tunes.harmony.comparison.substitutions import ChordComparison, compare_chords
from tunes.harmony.pitch.spelling import Interval, Key
from tunes.harmony.readings.function import Function

RULE_PREFIX = "changes-"
Chord = Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class _Verdict:
    """One agreed chord: what it earned, by which rule, and what there is to say of it."""

    points: float
    rule: str
    words: str


def echo_changes(text: str, context: Context) -> Echo:
    """The chords of a bar as read; with ``part`` "bass" the notes."""
    read = read_heard(text, metre_of(context.metre), context.part)
    return Echo(read.problem, False, 0, len(text)) if read.problem else Echo(read.echo, True)


def mark_changes(key: StoredKey, text: str, strictness: Strictness, context: Context) -> Mark:
    """The mark of one bar heard.  ``key["part"]`` is "bass" where only the bass notes were asked."""
    move, chords = reading_interval(key, context), key["chords"]
    place = capital(place_name(key))
    truth = f"{place} has {_named(chords, move)}."
    if not text.replace("?", "").strip():
        return Mark(0.0, "blank", truth, "")
    part = str(key.get("part") or "")
    read = read_heard(text, metre_of(str(key.get("metre") or "")), part)
    if not read.soundings:
        return Mark(0.0, "unreadable", f"{read.problem} {truth}", "")
    verdicts = [_verdict(chord, read, part, move) for chord in chords]
    weights = [Fraction(chord["beats"]) for chord in chords]
    earned = sum(float(weight) * found.points for weight, found in zip(weights, verdicts, strict=True))
    least = min(verdicts, key=lambda found: found.points)
    words = [read.problem, *_told(chords, verdicts, move), truth, "" if read.problem else _added(chords, read)]
    return Mark(round(earned / float(sum(weights)), 4), least.rule, " ".join(w for w in words if w), read.echo)


def _named(chords: Sequence[Chord], move: Interval) -> str:
    if len(chords) == 1 and chords[0]["chord"] == "N.C.":
        return "no chord"
    return " ".join("N.C." if chord["chord"] == "N.C." else chord_text(chord["chord"], move) for chord in chords)


def _told(chords: Sequence[Chord], verdicts: Sequence[_Verdict], move: Interval) -> list[str]:
    """What is said chord by chord: of a bar with several, only of those that are not right, each named."""
    if len(chords) == 1:
        return [verdicts[0].words]
    return [
        f"Beat {chord['beat']}, {_named([chord], move)}: {found.words}"
        for chord, found in zip(chords, verdicts, strict=True) if found.points < 1 and found.words
    ]  # fmt: skip


def _verdict(chord: Chord, read: HeardBar, part: str, move: Interval) -> _Verdict:
    heard = read.at(Fraction(chord["onset"]))
    if heard is None:
        return _Verdict(0.0, "unreadable", "nothing readable stands there.")
    agreed = parse_symbol(chord["chord"]).symbol
    sound = heard.chord.transposed(-move) if heard.chord else heard.bass - move if heard.bass else None
    if agreed is None or sound is None:
        same = agreed is None and sound is None
        return _Verdict(
            float(same), f"{RULE_PREFIX}{'same' if same else 'contradicts'}", "" if same else _silence(agreed is None)
        )
    found = compare_chords(agreed, sound, Key.parse(chord["key"]), _function(chord))
    said = "That is the bass." if (part, found.relation.id) == (BASS, "bass-only") else found.sentence
    words = " ".join(word for word in (said, _foreign(found, chord["key"], move), _parts(found)) if word)
    return _Verdict(_points(found, part), RULE_PREFIX + found.relation.id, words)


def _silence(agreed: bool) -> str:
    return "Nothing sounds there." if agreed else "A chord sounds there."


def _function(chord: Chord) -> Function | None:
    return Function.from_json(chord["expected"]) if chord.get("expected") else None


def _points(found: ChordComparison, part: str) -> float:
    """Where only the bass was asked, the bass is the whole of it."""
    if part == BASS:
        return {"bass-only": 1.0, "chord-tone-bass": 0.5}.get(found.relation.id, 0.0)
    return found.relation.credit


def _foreign(found: ChordComparison, key: str, move: Interval) -> str:
    """Which notes speak against the key, for a chord that has no place there."""
    if found.relation.id != "contradicts" or not found.foreign:
        return ""
    notes = joined([(note + move).display for note in found.foreign])
    return f"{notes} would be foreign to {key_text(key, move)} here."


def _parts(found: ChordComparison) -> str:
    if found.relation.id in ("same", "bass-only", "chord-tone-bass"):
        return ""
    root, kind = ("right" if right else "other" for right in (found.root, found.quality))
    return f"{root.capitalize()} root, {kind} kind of chord, {found.function} function in the key."


def added(chords: Sequence[Chord], read: HeardBar) -> list[Sounding]:
    """What stands where the agreed chart goes on with the chord before."""
    answering = [read.at(Fraction(chord["onset"])) for chord in chords]
    return [s for s in read.soundings if s not in answering and (s.chord or s.bass)]


def foreign_to(chords: Sequence[Chord], extra: Sequence[Sounding], move: Interval) -> int:
    """How many added chords have nothing of the chord that goes on there: not half of one would be earned by them."""
    count = 0
    for one in extra:
        at = [chord for chord in chords if Fraction(chord["onset"]) <= one.start]
        agreed = parse_symbol(at[-1]["chord"]).symbol if at else None
        if agreed is not None and one.chord is not None:
            found = compare_chords(agreed, one.chord.transposed(-move), Key.parse(at[-1]["key"]), _function(at[-1]))
            count += found.relation.credit < _HALF
    return count


_HALF = 0.5


def _added(chords: Sequence[Chord], read: HeardBar) -> str:
    extra = added(chords, read)
    if not extra:
        return ""
    names = joined([s.chord.display if s.chord else s.bass.display if s.bass else "" for s in extra])
    return f"You also wrote {names} there; the chart goes on with the chord before."
