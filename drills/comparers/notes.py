"""Marks answers that are a few notes of one chord: its tones, its 3rd and 7th, the nearest note of the next.

Notes are compared as the player reads them (concert or written).  A note that only sounds right, spelled
otherwise, earns part of its share and is named.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from drills.comparers.note_names import names, read_notes
from drills.comparers.types import Context, Echo, Mark, StoredKey, Strictness
from drills.comparers.wording import capital, chord_text, degree_name, joined, place_name, reading_interval
from drills.marking_rules import points_for
from tunes.harmony.pitch.spelling import Interval, NoteName

EXTRA_COST = 0.5
"""What a note too many costs, as a share of one asked note."""
DIMINISHED_SEVENTH = "bb7"


@dataclass(frozen=True, slots=True)
class Tones:
    """How given notes compare with asked ones: (degree, note) pairs right, respelled (with what was written) and
    missing, and the notes that belong to neither asked nor optional."""

    right: tuple[tuple[str, NoteName], ...]
    respelled: tuple[tuple[str, NoteName, NoteName], ...]
    missing: tuple[tuple[str, NoteName], ...]
    extra: tuple[NoteName, ...]

    @property
    def points(self) -> float:
        """Share of the asked notes, 0..1."""
        asked = len(self.right) + len(self.respelled) + len(self.missing)
        if asked == 0:
            return 0.0 if self.extra else 1.0
        earned = len(self.right) + points_for("notes-enharmonic", False) * len(self.respelled)
        return max(0.0, (earned - EXTRA_COST * len(self.extra)) / asked)

    @property
    def rule(self) -> str:
        """The rule that cost most."""
        if not (self.respelled or self.missing or self.extra):
            return "notes-exact"
        if not (self.right or self.respelled):
            return "other" if self.extra else "notes-missing"
        lost = {
            "notes-missing": float(len(self.missing)),
            "notes-extra": EXTRA_COST * len(self.extra),
            "notes-enharmonic": (1 - points_for("notes-enharmonic", False)) * len(self.respelled),
        }
        return max(lost, key=lambda rule: lost[rule])


def compare_notes(
    given: Sequence[NoteName],
    asked: Sequence[tuple[str, NoteName]],
    optional: Sequence[NoteName] = (),
    *,
    any_spelling: bool = False,
) -> Tones:
    """Match the given notes to the asked ones; each note counts once, in any order.

    `any_spelling`: another name for the same sound is as right, as it is for a diminished seventh, which is read
    as a sixth more often than with two flats (common practice, no source).

    >>> n = NoteName.parse
    >>> compare_notes([n("G"), n("Cb")], [("1", n("G")), ("3", n("B"))]).points
    0.875
    """
    left = list(dict.fromkeys(given))
    right = [(degree, note) for degree, note in asked if note in left]
    left = [note for note in left if note not in {name for _, name in right}]
    respelled, missing = [], []
    for degree, note in asked:
        if (degree, note) in right:
            continue
        twin = next((other for other in left if other.pc == note.pc), None)
        if twin is None:
            missing.append((degree, note))
            continue
        left.remove(twin)
        if any_spelling or degree == DIMINISHED_SEVENTH:
            right.append((degree, twin))
        else:
            respelled.append((degree, note, twin))
    spare = {note.pc for note in optional} | {note.pc for _, note in right}
    extra = tuple(note for note in left if note.pc not in spare)
    return Tones(tuple(right), tuple(respelled), tuple(missing), extra)


def echo_notes(text: str, context: Context) -> Echo:
    """The notes as understood."""
    reading = read_notes(text)
    if reading.problem:
        return Echo(reading.problem.text, False, reading.problem.start, reading.problem.end)
    return Echo(reading.echo or "no notes", True)


def mark_tones(key: StoredKey, text: str, strictness: Strictness, context: Context) -> Mark:
    """The mark of "chord-tones" and "guide-tones": the key has ``asked`` [degree, note] pairs and ``optional`` notes."""
    move = reading_interval(key, context)
    asked = [(str(degree), NoteName.parse(note) + move) for degree, note in key["asked"]]
    truth = f"{_place(key)}, {chord_text(key['chord'], move)}: {spelled_out(asked)}."
    if not text.strip():
        return Mark(0.0, "blank", truth, "")
    reading = read_notes(text)
    if reading.problem:
        return Mark(0.0, "unreadable", f"{reading.problem.text} {truth}", reading.echo)
    optional = [NoteName.parse(note) + move for note in key.get("optional") or ()]
    found = compare_notes(reading.notes, asked, optional)
    words = [_opener(found), truth, *remarks(found), str(key.get("remark") or "")]
    return Mark(round(found.points, 2), found.rule, " ".join(word for word in words if word), reading.echo)


def _opener(found: Tones) -> str:
    return _OPENERS[found.rule]


_OPENERS = {
    "notes-exact": "All of them.",
    "notes-enharmonic": "All there by ear; the spelling differs.",
    "notes-missing": "Not all of them yet.",
    "notes-extra": "More than was asked.",
    "other": "None of the notes asked for is there.",
}


def remarks(found: Tones) -> list[str]:
    """One sentence for each kind of slip, naming the notes."""
    said = [
        f"{wrote.display} sounds right; as the {degree_name(degree)} it is written {note.display}."
        for degree, note, wrote in found.respelled
    ]
    if found.missing:
        said.append(
            f"Not there: {joined([f'{note.display} (the {degree_name(degree)})' for degree, note in found.missing])}."
        )
    if found.extra:
        said.append(f"Not in the chord: {joined([note.display for note in found.extra])}.")
    return said


def spelled_out(asked: Sequence[tuple[str, NoteName]]) -> str:
    """ "D (root), F (3rd)"."""
    return ", ".join(f"{note.display} ({degree_name(degree)})" for degree, note in asked)


def _place(key: StoredKey) -> str:
    return capital(place_name(key))


def mark_nearest(key: StoredKey, text: str, strictness: Strictness, context: Context) -> Mark:
    """The mark of "nearest": which note of the next chord lies nearest to the note given."""
    move = reading_interval(key, context)
    nearest = [NoteName.parse(note) + move for note in key["nearest"]]
    truth = _nearest_truth(key, nearest, move)
    if not text.strip():
        return Mark(0.0, "blank", truth, "")
    reading = read_notes(text)
    if reading.problem or not reading.notes:
        return Mark(0.0, "unreadable", f"{reading.echo} {truth}".strip(), "")
    rule = _nearest_rule(reading.notes, nearest, [NoteName.parse(note) + move for note in key["tones"]])
    return Mark(points_for(rule, False), rule, f"{_NEAREST_SAID[rule]} {truth}", reading.echo)


_NEAREST_SAID = {
    "notes-exact": "That is it.",
    "notes-enharmonic": "The right sound; spelled as a note of the chord it has another name.",
    "nearest-chord-tone": "A note of the next chord, but not the nearest.",
    "notes-extra": "One note was asked; the nearest is among yours.",
    "other": "Not a note of the next chord.",
}


def _nearest_rule(given: Sequence[NoteName], nearest: Sequence[NoteName], tones: Sequence[NoteName]) -> str:
    if len(set(given)) > 1:
        return (
            "notes-extra"
            if set(given) & set(nearest) and set(given) - set(nearest)
            else ("notes-exact" if set(given) <= set(nearest) else "other")
        )
    note = given[0]
    if note in nearest:
        return "notes-exact"
    if note.pc in {one.pc for one in nearest}:
        return "notes-enharmonic"
    return "nearest-chord-tone" if note.pc in {one.pc for one in tones} else "other"


def _nearest_truth(key: StoredKey, nearest: Sequence[NoteName], move: Interval) -> str:
    origin = NoteName.parse(key["from"]) + move
    distance = int(key["distance"])
    far = "it stays where it is" if distance == 0 else f"{distance} half step{'s' if distance > 1 else ''} away"
    chords = f"{chord_text(key['chord'], move)} to {chord_text(key['next'], move)}"
    return f"{_place(key)}, {chords}: from {origin.display}, the {degree_name(key['degree'])}, to {joined([n.display for n in nearest], 'or')}, {far}."


__all__ = [
    "Tones",
    "compare_notes",
    "echo_notes",
    "mark_nearest",
    "mark_tones",
    "names",
    "remarks",
    "spelled_out",
]
