"""Names of scales as players type them, read to degrees: "D dorian", "lyd b7", "mixolydian b9 b13", "half-whole dim".

The degrees are the scales' definitions (logical); which names are used is common practice, no source.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from drills.comparers.note_names import read_notes
from tunes.harmony.answers.words import plain
from tunes.harmony.pitch.spelling import Interval, NoteName, SpellingError, degree_interval

# pattern of the name (lower case), its degrees; longer names first
SCALE_NAMES: tuple[tuple[str, str], ...] = (
    (r"super\s?-?locrian|altered(?:\s+scale|\s+dominant)?|alt|diminished[\s-]whole[\s-]?tone", "1 b2 b3 b4 b5 b6 b7"),
    (
        r"(?:half[\s-]whole|h[\s-]?w|1[\s/-]2)(?:\s+dim(?:inished)?)?|dominant\s+dim(?:inished)?|octatonic",
        "1 b2 b3 3 #4 5 6 b7",
    ),
    (r"(?:whole[\s-]half|w[\s-]?h|2[\s/-]1)(?:\s+dim(?:inished)?)?|dim(?:inished)?(?:\s+scale)?", "1 2 b3 4 b5 b6 6 7"),
    (r"whole[\s-]?tone", "1 2 3 #4 #5 b7"),
    (r"lyd(?:ian)?\s+aug(?:mented)?", "1 2 3 #4 #5 6 7"),
    (r"ion(?:ian)?\s+aug(?:mented)?", "1 2 3 4 #5 6 7"),
    (r"lyd(?:ian)?\s+dom(?:inant)?|acoustic|overtone", "1 2 3 #4 5 6 b7"),
    (r"phryg(?:ian)?\s+dom(?:inant)?", "1 b2 3 4 5 b6 b7"),
    (r"melodic\s+minor|jazz\s+minor|mel(?:odic)?\.?\s+min(?:or)?", "1 2 b3 4 5 6 7"),
    (r"harmonic\s+minor|harm(?:onic)?\.?\s+min(?:or)?", "1 2 b3 4 5 b6 7"),
    (r"harmonic\s+major", "1 2 3 4 5 b6 7"),
    (r"minor\s+pentatonic", "1 b3 4 5 b7"),
    (r"(?:major\s+)?pentatonic", "1 2 3 5 6"),
    (r"blues(?:\s+scale)?", "1 b3 4 b5 5 b7"),
    (r"mixo(?:lydian)?|mix|dominant(?:\s+scale)?", "1 2 3 4 5 6 b7"),
    (r"dor(?:ian)?", "1 2 b3 4 5 6 b7"),
    (r"phryg(?:ian)?", "1 b2 b3 4 5 b6 b7"),
    (r"lyd(?:ian)?", "1 2 3 #4 5 6 7"),
    (r"loc(?:rian)?", "1 b2 b3 4 b5 b6 b7"),
    (r"aeol(?:ian)?|(?:natural|pure)\s+minor|minor(?:\s+scale)?", "1 2 b3 4 5 b6 b7"),
    (r"ion(?:ian)?|major(?:\s+scale)?", "1 2 3 4 5 6 7"),
)
_NAMES = re.compile(
    "|".join(f"(?P<s{i}>(?<![a-z])(?:{pattern})(?![a-z]))" for i, (pattern, _) in enumerate(SCALE_NAMES))
)
_CHANGE = re.compile(r"[\s,(]*(b|#|nat(?:ural)?\.?\s*)\s?(2|3|4|5|6|7|9|11|13)(?!\d)\)?")
_ROOT = re.compile(r"(?:^|[\s,(])([A-Ga-g](?:bb|##|b|#)?)(?:\s(flat|sharp))?\s*$")
_AS_SEVEN = {"9": "2", "11": "4", "13": "6"}
_NONE = re.compile(r"(?i)\b(?:none|no\s+notes?|nothing|no\s+difference|all\s+in|same\s+notes)\b")


@dataclass(frozen=True, slots=True)
class ScaleReading:
    """``degrees`` of the scale named, empty when none was; ``root`` None when not typed; ``notes`` typed beside the name;
    ``none`` when it was said that no note differs; ``name`` for the echo."""

    name: str = ""
    degrees: tuple[str, ...] = ()
    root: NoteName | None = None
    notes: tuple[NoteName, ...] = ()
    none: bool = False
    problem: str = ""

    def pcs(self, root: NoteName) -> frozenset[int]:
        """Pitch classes of the scale on a root."""
        return frozenset(note.pc for note in scale_notes(root, self.degrees))

    @property
    def echo(self) -> str:
        """ "D dorian, differs: F♯"."""
        parts = [" ".join(part for part in (self.root.display if self.root else "", self.name) if part)]
        if self.notes:
            parts.append("note " + " ".join(note.display for note in self.notes))
        elif self.none:
            parts.append("no other note")
        return ", ".join(part for part in parts if part)


def scale_notes(root: NoteName, degrees: tuple[str, ...]) -> tuple[NoteName, ...]:
    """The notes of a scale, spelled from its root.

    >>> [note.text for note in scale_notes(NoteName.parse("Eb"), read_scale("lydian b7").degrees)]
    ['Eb', 'F', 'G', 'A', 'Bb', 'C', 'Db']
    """
    return tuple(root + degree_interval(degree) for degree in degrees)


def read_scale(text: str) -> ScaleReading:
    """A scale name with its changes, its root if typed, and the notes typed after it.

    >>> read_scale("D dorian, B").echo, read_scale("A mixolydian b9 b13: Bb C# F").echo
    ('D dorian, note B', 'A mixolydian b9 b13, note B♭ C♯ F')
    """
    source = plain(text[:400]).text
    match = _NAMES.search(source.lower())
    none = bool(_NONE.search(source))
    if match is None:
        return _notes_only(_NONE.sub(" ", source), none)
    degrees = SCALE_NAMES[int(str(match.lastgroup)[1:])][1].split()
    end, words = match.end(), [match[0].strip()]
    while change := _CHANGE.match(source, end):
        sign = "" if change[1].startswith("n") else change[1]
        degrees = changed(degrees, sign, change[2])
        words.append((sign or "natural ") + change[2])
        end = change.end()
    root, rest = _root(source[: match.start()]), _NONE.sub(" ", source[end:])
    notes, problem = _notes(rest)
    return ScaleReading(" ".join(words), tuple(degrees), root, notes, none, problem)


def changed(degrees: list[str], sign: str, number: str) -> list[str]:
    """A scale with one degree altered: "b9" lowers the 2nd, "natural 9" sets it right.

    >>> changed("1 2 3 4 5 6 b7".split(), "b", "13")
    ['1', '2', '3', '4', '5', 'b6', 'b7']
    """
    plain_number = _AS_SEVEN.get(number, number)
    return [sign + plain_number if degree.lstrip("#b") == plain_number else degree for degree in degrees]


def _root(before: str) -> NoteName | None:
    match = _ROOT.search(before)
    if match is None:
        return None
    sign = {"flat": "b", "sharp": "#"}.get(match[2] or "", "")
    try:
        return NoteName.parse(match[1][0].upper() + match[1][1:] + sign)
    except SpellingError:
        return None


def _notes(text: str) -> tuple[tuple[NoteName, ...], str]:
    if not re.search(r"[A-Za-z]", text):
        return (), ""
    reading = read_notes(
        re.sub(r"(?i)\b(?:scale|mode|differs?|different|with|has|from|key|raised|lowered)\b", " ", text)
    )
    if reading.problem and not reading.notes:
        return (), "" if "no note" in reading.problem.message else reading.problem.text
    return reading.notes, reading.problem.text if reading.problem else ""


def _notes_only(text: str, none: bool) -> ScaleReading:
    notes, problem = _notes(text)
    if not notes and not none:
        return ScaleReading(
            problem=problem or "Name a scale, such as D dorian, and the note that differs from the key, or none."
        )
    return ScaleReading(notes=notes, none=none, problem=problem)


def moved(notes: tuple[NoteName, ...], interval: Interval) -> tuple[NoteName, ...]:
    """Notes in another pitch."""
    return tuple(note + interval for note in notes)
