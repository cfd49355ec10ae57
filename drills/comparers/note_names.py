"""Reads note names as players type them: "Bb", "B♭", "f#", "B flat", "D F A C", "DFAC"; German names get a hint."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from tunes.harmony.answers.words import Plain, plain
from tunes.harmony.pitch.spelling import NoteName
from tunes.harmony.problems import Problem

LONGEST = 600
_NOTE = r"[A-Ga-g](?:bb|##|b|#|x)?\d?"
_RUN = re.compile(rf"(?:{_NOTE})+")
_ONE = re.compile(r"([A-Ga-g])(bb|##|b|#|x)?\d?")
_WORD = re.compile(r"[^\s,;|/>–—=:()\[\]-]+")
_FILLERS = frozenset({"and", "then", "to", "the", "note", "notes", "natural", "is", "none", "nothing", "no"})
_DEGREES = re.compile(r"[b#]?\d{1,2}|[135679]?(?:rd|th|nd|st)|root")
_GERMAN = {
    "es": "Eb",
    "as": "Ab",
    "des": "Db",
    "ges": "Gb",
    "ces": "Cb",
    "fes": "Fb",
    "h": "B",
    "fis": "F#",
    "cis": "C#",
    "gis": "G#",
    "dis": "D#",
    "ais": "A#",
    "eis": "E#",
    "his": "B#",
}
_SYLLABLES = frozenset({"do", "re", "mi", "fa", "sol", "la", "si", "ti"})


@dataclass(frozen=True, slots=True)
class NotesReading:
    """The notes in the order typed, and what could not be read."""

    notes: tuple[NoteName, ...]
    problem: Problem | None = None

    @property
    def echo(self) -> str:
        """The notes with real signs, or the problem."""
        return self.problem.text if self.problem else " ".join(note.display for note in self.notes)


def read_notes(text: str) -> NotesReading:
    """Every note name in a text, in order.

    >>> read_notes("b♭, f# – DFAC").echo, read_notes("B flat and F sharp").echo
    ('B♭ F♯ D F A C', 'B♭ F♯')
    >>> read_notes("Es").echo
    '“Es” is the German name. Type Eb instead.'
    """
    if len(text) > LONGEST:
        return NotesReading((), Problem("This is too long for a few notes.", "C E G", LONGEST, len(text)))
    source = plain(text)
    notes: list[NoteName] = []
    for match in _WORD.finditer(source.text):
        problem = _take(match, source, notes)
        if problem is not None:
            return NotesReading(tuple(notes), problem)
    if not notes and not _says_none(source.text):
        return NotesReading((), Problem("There is no note here.", "note names, such as C E G", 0, len(text)))
    return NotesReading(tuple(notes))


def _says_none(text: str) -> bool:
    return any(word.lower() in ("none", "no", "nothing") for word in text.split())


def _take(match: re.Match[str], source: Plain, notes: list[NoteName]) -> Problem | None:
    """Add the notes of one word; a problem when it is none."""
    word = match[0].strip(".'\"")
    low = word.lower()
    if low in ("flat", "flats", "sharp", "sharps") and notes:
        last = notes.pop()
        notes.append(NoteName(last.letter, last.alter + (1 if low.startswith("sharp") else -1)))
        return None
    if not word or low in _FILLERS or _DEGREES.fullmatch(low):
        return None
    if low in _GERMAN:
        return Problem(f"“{word}” is the German name.", _GERMAN[low], *source.where(*match.span()))
    if _RUN.fullmatch(word):
        notes.extend(_notes_in(word))
        return None
    if low in _SYLLABLES:
        return Problem(f"“{word}” is a syllable.", "letters: C D E F G A B", *source.where(*match.span()))
    return Problem(f"“{word[:20]}” is not a note name.", "C, Bb or F#", *source.where(*match.span()))


def _notes_in(word: str) -> Iterator[NoteName]:
    for letter, sign in _ONE.findall(word):
        alter = 2 if sign == "x" else sign.count("#") - sign.count("b")
        yield NoteName(letter.upper(), alter)


def names(notes: Sequence[NoteName]) -> str:
    """Notes for a page: "D F A C"."""
    return " ".join(note.display for note in notes)
