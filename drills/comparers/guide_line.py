"""Marks a written guide-tone line: is every note a 3rd or 7th, and does the line move as little as it can?"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from drills.comparers.note_names import names, read_notes
from drills.comparers.types import Context, Mark, StoredKey, Strictness
from drills.comparers.wording import capital, chord_text, joined, place_name, reading_interval
from drills.marking_rules import points_for
from tunes.harmony.pitch.spelling import Interval, NoteName

SMOOTHNESS = 0.3
"""Share of the points that is for smoothness; the rest is for the right notes."""

_Place = tuple[str, float]


def mark_guide_line(key: StoredKey, text: str, strictness: Strictness, context: Context) -> Mark:
    """The mark of one line.  A note counts at its place; a line that is too short or too long is marked as far as
    it goes."""
    move = reading_interval(key, context)
    if not text.strip():
        return Mark(0.0, "blank", _truth(key, move, None), "")
    reading = read_notes(text)
    if reading.problem:
        return Mark(0.0, "unreadable", f"{reading.problem.text} {_truth(key, move, None)}", reading.echo)
    given = reading.notes
    spots = [
        _spot(key, place, given[place] if place < len(given) else None, move) for place in range(len(key["chords"]))
    ]
    right = sum(points for _, points in spots) / len(spots)
    best = _best(key, given, move)
    smooth = smoothness(movement(given), int(best["movement"])) if _fits(spots, given) else 0.0
    points = (1 - SMOOTHNESS) * right + SMOOTHNESS * smooth * right
    rule = _rule(spots, given, smooth)
    words = [_OPENERS[rule], *_remarks(key, spots, given, move), _moved(key, given, best, spots, move)]
    return Mark(round(points, 2), rule, " ".join(word for word in words if word), reading.echo)


def movement(notes: Sequence[NoteName]) -> int:
    """Total movement in half steps, each move the shorter way round the octave."""
    return sum(min((b.pc - a.pc) % 12, (a.pc - b.pc) % 12) for a, b in pairwise(notes))


def smoothness(given: int, best: int) -> float:
    """1 for the least movement possible, falling as the line moves more: best / given.

    >>> smoothness(4, 4), smoothness(8, 4), smoothness(3, 0)
    (1.0, 0.5, 0.25)
    """
    if given <= best:
        return 1.0
    return best / given if best else 1 / (1 + given)


def _spot(key: StoredKey, place: int, note: NoteName | None, move: Interval) -> _Place:
    if note is None:
        return "notes-missing", 0.0
    options = _options(key, place, move)
    if note in options:
        return "notes-exact", 1.0
    if note.pc in {option.pc for option in options}:
        return "notes-enharmonic", points_for("notes-enharmonic", False)
    if note.pc in {(NoteName.parse(name) + move).pc for name in key["tones"][place]}:
        return "line-chord-tone", points_for("line-chord-tone", False)
    return "other", 0.0


def _options(key: StoredKey, place: int, move: Interval) -> list[NoteName]:
    """The guide tones of one chord, in the player's pitch."""
    return [NoteName.parse(name) + move for _, name in key["options"][place]]


def _fits(spots: Sequence[_Place], given: Sequence[NoteName]) -> bool:
    return len(given) == len(spots) and all(rule in ("notes-exact", "notes-enharmonic") for rule, _ in spots)


def _best(key: StoredKey, given: Sequence[NoteName], move: Interval) -> StoredKey:
    """The optimum that begins on the note the player began on, else the smoother of the two."""
    lines: list[StoredKey] = list(key["lines"])
    for line in lines:
        if given and (NoteName.parse(line["start"]) + move).pc == given[0].pc:
            return line
    return lines[0]


_OPENERS = {
    "notes-exact": "That is the line.",
    "notes-enharmonic": "The right line by ear; a spelling differs.",
    "notes-missing": "The line is shorter than the changes.",
    "notes-extra": "The line has more notes than there are chords.",
    "line-chord-tone": "Not every note is a 3rd or 7th yet.",
    "line-not-smoothest": "All 3rds and 7ths. It can move less.",
    "other": "Not every note belongs to its chord yet.",
}


def _rule(spots: Sequence[_Place], given: Sequence[NoteName], smooth: float) -> str:
    if len(given) > len(spots):
        return "notes-extra"
    worst = min(spots, key=lambda spot: spot[1])
    if worst[1] < 1:
        return worst[0]
    return "notes-exact" if smooth == 1 else "line-not-smoothest"


def _remarks(key: StoredKey, spots: Sequence[_Place], given: Sequence[NoteName], move: Interval) -> list[str]:
    said = []
    for place, (rule, _) in enumerate(spots):
        chord = chord_text(key["chords"][place], move)
        options = joined([note.display for note in _options(key, place, move)], "or")
        if rule == "notes-enharmonic":
            twin = next(n for n in _options(key, place, move) if n.pc == given[place].pc)
            said.append(f"On {chord} {given[place].display} sounds right; it is written {twin.display}.")
        elif rule in ("other", "line-chord-tone"):
            kind = "a note of the chord, but not its 3rd or 7th" if rule == "line-chord-tone" else "not in the chord"
            said.append(f"On {chord} {given[place].display} is {kind}: {options}.")
        elif rule == "notes-missing" and place == len(given):
            said.append(f"The line stops before {chord}.")
    return said


def _moved(key: StoredKey, given: Sequence[NoteName], best: StoredKey, spots: Sequence[_Place], move: Interval) -> str:
    if not _fits(spots, given):
        return _truth(key, move, best)
    own, least = movement(given), int(best["movement"])
    if own <= least:
        return f"It moves {steps_text(own)} in all, the least there is from that beginning."
    return f"It moves {steps_text(own)}; {names([NoteName.parse(n) + move for n in best['notes']])} moves {least}."


def steps_text(count: int) -> str:
    """ "1 half step", "4 half steps"."""
    return f"{count} half step{'' if count == 1 else 's'}"


def _truth(key: StoredKey, move: Interval, best: StoredKey | None) -> str:
    line = best or key["lines"][0]
    notes = names([NoteName.parse(name) + move for name in line["notes"]])
    place = capital(place_name(key))
    return f"{place} onwards, the smoothest line: {notes} ({steps_text(int(line['movement']))} in all)."
