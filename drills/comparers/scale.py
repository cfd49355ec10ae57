"""Marks the scale of a chord: its name, and the notes in which it differs from the key."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from drills.comparers.note_names import names
from drills.comparers.notes import Tones, compare_notes, remarks
from drills.comparers.scale_names import ScaleReading, read_scale
from drills.comparers.types import Context, Echo, Mark, StoredKey, Strictness
from drills.comparers.wording import capital, chord_text, key_text, place_name, reading_interval
from drills.marking_rules import points_for
from tunes.harmony.pitch.spelling import UNISON, Interval, NoteName
from tunes.harmony.scales.scales import LETTERS, scale_notes
from tunes.harmony.scales.tables import SCALES

NAME_SHARE = 0.6
"""Share of the points for the scale; the rest is for the notes that differ from the key."""


def echo_scale(text: str, context: Context) -> Echo:
    """The scale and notes as understood."""
    reading = read_scale(text)
    if reading.problem:
        return Echo(reading.problem, False, 0, len(text))
    return Echo(reading.echo, True)


def mark_scale(key: StoredKey, text: str, strictness: Strictness, context: Context) -> Mark:
    """The mark of one scale.  The key has ``root`` and ``scales``, the first of them the choice;
    each has its name, its notes and what differs from the key."""
    move = reading_interval(key, context)
    truth = _truth(key, move)
    if not text.strip():
        return Mark(0.0, "blank", truth, "")
    reading = read_scale(text)
    if reading.problem:
        return Mark(0.0, "unreadable", f"{reading.problem} {truth}", "")
    verdicts = [_verdict(reading, key, scale, place, move) for place, scale in enumerate(key["scales"])]
    points, rule, found = max(verdicts, key=lambda one: one[0])
    words = [_OPENERS[rule], truth, *_slips(found)]
    return Mark(round(points, 2), rule, " ".join(words), reading.echo)


def _verdict(
    reading: ScaleReading, key: StoredKey, scale: Mapping[str, Any], place: int, move: Interval
) -> tuple[float, str, Tones]:
    """Points, rule and notes when the answer is held against one of the scales of a key."""
    name_rule = _name_rule(reading, key, scale, move)
    if name_rule == "scale-exact" and place > 0:
        name_rule = "scale-also"
    differs = [("", NoteName.parse(note) + move) for note in scale["differs"]]
    found = compare_notes(reading.notes, differs, any_spelling=len(scale["notes"]) > LETTERS)
    name, notes = points_for(name_rule, False), found.points
    return NAME_SHARE * name + (1 - NAME_SHARE) * notes, _rule(name_rule, name, notes, bool(reading.degrees)), found


def _name_rule(reading: ScaleReading, key: StoredKey, scale: Mapping[str, Any], move: Interval) -> str:
    if not reading.degrees:
        return "scale-notes-only"
    root = NoteName.parse(key["root"]) + move
    expected = frozenset((NoteName.parse(note) + move).pc for note in scale["notes"])
    given = reading.pcs(reading.root or root)
    if given == expected:
        return "scale-exact" if reading.root is None or reading.root.pc == root.pc else "scale-same-notes"
    if reading.root is not None and reading.root.pc != root.pc:
        return "other"
    if len(given ^ expected) <= 2 and abs(len(given) - len(expected)) <= 1:
        return "scale-one-note-off"
    tones = {(NoteName.parse(note) + move).pc for note in key.get("tones") or ()}
    return "scale-fits-chord" if tones and tones <= given else "other"


def _rule(name_rule: str, name: float, notes: float, named: bool) -> str:
    """The rule that cost most."""
    if not named:
        return "scale-notes-only" if notes else "other"
    return name_rule if name < 1 or notes == 1 else "scale-name-only"


_OPENERS = {
    "scale-exact": "That is it.",
    "scale-also": "Players use that one here too.",
    "scale-same-notes": "The same notes, named from another root.",
    "scale-one-note-off": "One note away.",
    "scale-fits-chord": "It has the notes of the chord; in this place the others differ.",
    "scale-name-only": "The scale is right; look again at which notes differ from the key.",
    "scale-notes-only": "Those notes belong here; the scale was asked too.",
    "other": "Another scale fits here.",
}


def _slips(found: Tones) -> list[str]:
    said = [
        remark.replace("Not in the chord:", "In the key as well, or not in the scale:") for remark in remarks(found)
    ]
    return [remark.replace(" (the )", "").replace("as the  it is", "it is") for remark in said]


def _spelled(root: NoteName, scale: Mapping[str, Any], move: Interval) -> list[NoteName]:
    """The notes of a scale in the player's pitch; one of eight notes is spelled anew from its root, so that it reads."""
    if len(scale["notes"]) > LETTERS and scale["id"] in SCALES:
        return list(scale_notes(root, scale["id"]))
    return [NoteName.parse(note) + move for note in scale["notes"]]


def _truth(key: StoredKey, move: Interval) -> str:
    place = capital(place_name(key))
    root = (NoteName.parse(key["root"]) + move).display
    scale = key["scales"][0]
    spelled = _spelled(NoteName.parse(key["root"]) + move, scale, move)
    notes = names(spelled)
    outside = {(NoteName.parse(note) + move).pc for note in scale["differs"]}
    differs = [note for note in spelled if note.pc in outside]
    against = f"against {key_text(key['key'], move)} it differs in {names(differs)}" if differs else "all in the key"
    reason = capital(str(key.get("reason") or "").rstrip("."))
    if key.get("overridden") and move != UNISON:
        reason = ""  # it names concert notes
    said = f"{place}, {chord_text(key['chord'], move)}: {root} {scale['name']} ({notes}), {against}."
    others = ", ".join(one["name"] for one in key["scales"][1:])
    return " ".join(
        part for part in (said, f"{reason}." if reason else "", f"Also used: {others}." if others else "") if part
    )
