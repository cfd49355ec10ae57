"""Pitches and intervals by letter and accidental, never as bare pitch classes that lose the spelling.

Conventions: a semitone count is signed and upward; diatonic steps count letters (a unison is 0 steps, a
third 2), as in the `diatonic` and `chromatic` parts of MusicXML's `transpose`; octaves are scientific (C4 is
middle C, MIDI 60). The line of fifths puts C at 0, G at 1, F at −1: a note name is one integer on it, which is
what makes transposition keep the spelling (Temperley, *The Cognition of Basic Musical Structures*, MIT Press
2001, ch. 5, uses the same line).
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

LETTERS = "CDEFGAB"
_STEP_SEMITONES = (0, 2, 4, 5, 7, 9, 11)  # the major scale: semitones above C of each letter
_LETTER_SEMITONES = dict(zip("CDEFGAB", _STEP_SEMITONES, strict=True))
_LETTER_FIFTHS = {"F": -1, "C": 0, "G": 1, "D": 2, "A": 3, "E": 4, "B": 5}
_FIFTHS_LETTERS = "FCGDAEB"
_PERFECT_STEPS = frozenset({0, 3, 4})
_MOST_ACCIDENTALS = 4
_SIGNS = str.maketrans({"♭": "b", "♯": "#", "♮": "", "＃": "#", "𝄫": "bb", "𝄪": "##"})

Mode = Literal["major", "minor"]


class SpellingError(ValueError):
    """A note, interval or key name that cannot be read; the message says what is accepted."""


@dataclass(frozen=True, slots=True)
class Interval:
    """A signed distance: diatonic `steps` (letters) and `semitones`.

    >>> Interval.parse("M3"), (-Interval.parse("m2")).name, (Interval.parse("P5") + Interval.parse("M3")).name
    (Interval(steps=2, semitones=4), '-m2', 'M7')
    """

    steps: int
    semitones: int

    @classmethod
    def parse(cls, text: str) -> Interval:
        """Read "P5", "M3", "m7", "A4", "d5", "-M2", "M9", "dd7"; raises SpellingError."""
        match = re.fullmatch(r"(-?)(P|M|m|A{1,8}|d{1,8})(\d{1,3})", text.strip())
        number = int(match[3]) if match else 0
        if match is None or number == 0:
            raise SpellingError(f"{text!r} is not an interval; write P5, M3, m7, A4, d5 or -M2")
        steps = number - 1
        perfect = steps % 7 in _PERFECT_STEPS
        quality = match[2]
        if (quality == "P") != perfect and quality in "PMm":
            raise SpellingError(f"{text!r}: a {number} is {'perfect' if perfect else 'major or minor'}")
        natural = _STEP_SEMITONES[steps % 7] + 12 * (steps // 7)
        semitones = natural + _quality_shift(quality, perfect)
        return cls(-steps, -semitones) if match[1] else cls(steps, semitones)

    @property
    def name(self) -> str:
        """Quality and number, with a minus when it goes down: "P5", "-m2", "A4"."""
        if self.steps < 0 or (self.steps == 0 and self.semitones < 0):
            return "-" + (-self).name
        perfect = self.steps % 7 in _PERFECT_STEPS
        shift = self.semitones - _STEP_SEMITONES[self.steps % 7] - 12 * (self.steps // 7)
        return f"{_quality_name(shift, perfect)}{self.steps + 1}"

    @property
    def fifths(self) -> int:
        """Distance on the line of fifths (a perfect fifth up is 1), octaves ignored."""
        return self.semitones * 7 - self.steps * 12

    @property
    def simple(self) -> Interval:
        """The same interval brought within one octave, upward."""
        octaves = self.steps // 7
        return Interval(self.steps - 7 * octaves, self.semitones - 12 * octaves)

    def __neg__(self) -> Interval:
        return Interval(-self.steps, -self.semitones)

    def __add__(self, other: Interval) -> Interval:
        return Interval(self.steps + other.steps, self.semitones + other.semitones)

    def __sub__(self, other: Interval) -> Interval:
        return self + -other


UNISON = Interval(0, 0)
OCTAVE = Interval(7, 12)


def _quality_shift(quality: str, perfect: bool) -> int:
    if quality in ("P", "M"):
        return 0
    if quality == "m":
        return -1
    count = len(quality)
    return count if quality[0] == "A" else -count - (0 if perfect else 1)


def _quality_name(shift: int, perfect: bool) -> str:
    if perfect:
        return "P" if shift == 0 else ("A" * shift if shift > 0 else "d" * -shift)
    if shift in (0, -1):
        return "M" if shift == 0 else "m"
    return "A" * shift if shift > 0 else "d" * (-shift - 1)


@dataclass(frozen=True, slots=True, order=True)
class NoteName:
    """A letter "A".."G" and `alter` semitones (−1 flat, +1 sharp, ±2 double); no octave."""

    letter: str
    alter: int = 0

    @classmethod
    def parse(cls, text: str) -> NoteName:
        """Read "Bb", "B♭", "F##", "Fx", "C"; the letter is a capital. Raises SpellingError."""
        return _parse_name(text)

    @classmethod
    def from_fifths(cls, fifths: int) -> NoteName:
        """The name at a place on the line of fifths: −2 is B flat, 6 is F sharp.

        >>> [NoteName.from_fifths(n).text for n in (-2, 0, 6, 12)]
        ['Bb', 'C', 'F#', 'B#']
        """
        return _name_at(fifths)

    @property
    def fifths(self) -> int:
        """Place on the line of fifths, C = 0."""
        return _LETTER_FIFTHS[self.letter] + 7 * self.alter

    @property
    def step(self) -> int:
        """Letter as a number, C = 0 … B = 6."""
        return LETTERS.index(self.letter)

    @property
    def pc(self) -> int:
        """Pitch class 0–11, C = 0."""
        return (_LETTER_SEMITONES[self.letter] + self.alter) % 12

    @property
    def text(self) -> str:
        """ASCII: "Bb", "F##"."""
        return self.letter + ("#" * self.alter if self.alter > 0 else "b" * -self.alter)

    @property
    def display(self) -> str:
        """With real signs: "B♭", "F♯♯" (two signs, because few fonts carry the double ones)."""
        return self.letter + self.accidental

    @property
    def accidental(self) -> str:
        """The signs alone: "", "♭", "♯♯"."""
        return "♯" * self.alter if self.alter > 0 else "♭" * -self.alter

    @property
    def spoken(self) -> str:
        """For a screen reader: "B flat", "F double sharp"."""
        return spoken_sign(self.alter, self.letter)

    def __add__(self, interval: Interval) -> NoteName:
        return _name_at(self.fifths + interval.fifths)

    def __sub__(self, interval: Interval) -> NoteName:
        return _name_at(self.fifths - interval.fifths)

    def interval_to(self, other: NoteName) -> Interval:
        """The ascending simple interval to another name.

        >>> NoteName.parse("E").interval_to(NoteName.parse("Bb")).name
        'd5'
        """
        steps = (other.step - self.step) % 7
        semitones = _STEP_SEMITONES[other.step] - _STEP_SEMITONES[self.step] + other.alter - self.alter
        return Interval(steps, semitones + (12 if other.step < self.step else 0))

    def __str__(self) -> str:
        return self.text


@lru_cache(maxsize=4096)
def _parse_name(text: str) -> NoteName:
    plain = text.strip().translate(_SIGNS)
    match = re.fullmatch(r"([A-G])(b*|#*|x)", plain)
    if match is None or len(match[2]) > _MOST_ACCIDENTALS:
        hint = f"; write it with a capital: {text.strip().capitalize()}" if plain[:1] in "abcdefg" and plain else ""
        raise SpellingError(f"{text!r} is not a note name such as C, Bb or F#{hint}")
    signs = match[2]
    alter = 2 if signs == "x" else (len(signs) if signs.startswith("#") else -len(signs))
    return NoteName(match[1], alter)


@lru_cache(maxsize=512)
def _name_at(fifths: int) -> NoteName:
    letter = _FIFTHS_LETTERS[(fifths + 1) % 7]
    return NoteName(letter, (fifths + 1) // 7)


def spoken_sign(alter: int, name: str) -> str:
    """ "B" with −1 → "B flat"; used for notes and, turned round, for degrees."""
    word = "sharp" if alter > 0 else "flat"
    count = {0: "", 1: "", 2: "double ", 3: "triple "}.get(abs(alter), f"{abs(alter)} times ")
    return name if alter == 0 else f"{name} {count}{word}"


@dataclass(frozen=True, slots=True)
class Pitch:
    """A name in an octave. The octave belongs to the letter: Cb4 sounds as B3, B#3 as C4 (MIDI 60)."""

    name: NoteName
    octave: int

    @classmethod
    def parse(cls, text: str) -> Pitch:
        """Read "Bb3", "C4", "F#-1"; raises SpellingError."""
        match = re.fullmatch(r"([A-Ga-g][b#x♭♯𝄫𝄪]*)(-?\d{1,2})", text.strip())
        if match is None:
            raise SpellingError(f"{text!r} is not a pitch such as Bb3 or C4")
        return cls(NoteName.parse(match[1]), int(match[2]))

    @classmethod
    def nearest(cls, name: NoteName, midi: int) -> Pitch:
        """The pitch of that name nearest to a MIDI number; the lower one when two are as near."""
        base = cls(name, 0).midi
        octave = (midi - base + 5) // 12
        return cls(name, octave)

    @property
    def midi(self) -> int:
        name = self.name
        return 12 * (self.octave + 1) + _LETTER_SEMITONES[name.letter] + name.alter

    @property
    def text(self) -> str:
        return f"{self.name.text}{self.octave}"

    @property
    def display(self) -> str:
        return f"{self.name.display}{self.octave}"

    @property
    def steps(self) -> int:
        """Diatonic height: 7 per octave, C0 = 0 (what a staff shows)."""
        return 7 * self.octave + self.name.step

    def __add__(self, interval: Interval) -> Pitch:
        """
        >>> (Pitch.parse("Bb3") + Interval.parse("M9")).text, (Pitch.parse("C4") + Interval.parse("-m2")).text
        ('C5', 'B3')
        """
        octave = (self.steps + interval.steps) // 7
        return Pitch(self.name + interval, octave)

    def __sub__(self, interval: Interval) -> Pitch:
        return self + -interval

    def __str__(self) -> str:
        return self.text


_BELOW = {"lydian": -1, "mixolydian": 1, "dorian": 2, "minor": 3, "phrygian": 4, "locrian": 5}
"""By how many fifths the signature of a mode lies below that of the major key on its tonic (as in MusicXML's `mode`)."""
CHURCH_MODES: dict[str, Mode] = {
    "lydian": "major",
    "mixolydian": "major",
    "dorian": "minor",
    "phrygian": "minor",
    "locrian": "minor",
}
"""The church modes that are no plain major or minor, each with the mode that its third gives it."""
_KEY_TEXT = re.compile(
    r"(?P<tonic>[A-G](?:b{1,2}|#{1,2}|x)?)\s*(?P<mode>maj(?:or)?|ma|M|min(?:or)?|mi|m|-|dur|moll"
    r"|ionian|aeolian|dor(?:ian)?|phryg(?:ian)?|lyd(?:ian)?|mixo(?:lydian)?|locrian)?\.?",
    re.IGNORECASE,
)
MOST_SIGNS = 6


@dataclass(frozen=True, slots=True)
class Key:
    """A tonic and a mode; `church` names a church mode that is neither plain major nor plain minor, `mode` is then what
    its third makes it."""

    tonic: NoteName
    mode: Mode = "major"
    church: str = ""

    @classmethod
    def parse(cls, text: str) -> Key:
        """Read "Eb major", "Eb", "Ebm", "C minor", "F# min", "E♭-", "D dorian"; raises SpellingError.

        >>> Key.parse("Ebm").text, Key.parse("F♯ maj").text, Key.parse("A").text, Key.parse("G mixo").text
        ('Eb minor', 'F# major', 'A major', 'G mixolydian')
        """
        return _parse_key(text)

    @classmethod
    def of_signature(cls, fifths: int, word: str = "major") -> Key:
        """The key of a mode ("major", "minor" or a church mode) with a signature; raises SpellingError.

        >>> [Key.of_signature(-3, word).text for word in ("major", "minor", "dorian")]
        ['Eb major', 'C minor', 'F dorian']
        """
        tonic = NoteName.from_fifths(fifths + _BELOW.get(word, 0))
        if word in CHURCH_MODES:
            return cls(tonic, CHURCH_MODES[word], word)
        return cls(tonic, "minor" if word == "minor" else "major")

    @property
    def fifths(self) -> int:
        """The signature: sharps positive, flats negative (as in MusicXML). More than 7 for odd spellings.

        >>> [Key.parse(text).fifths for text in ("D dorian", "E phrygian", "F lydian", "G mixolydian", "B locrian", "Eb dorian")]
        [0, 0, 0, 0, 0, -5]
        """
        return self.tonic.fifths - _BELOW.get(self.church or self.mode, 0)

    @property
    def word(self) -> str:
        """The word after the tonic: "major", "minor" or the church mode (a value of MusicXML's `mode`)."""
        return self.church or self.mode

    @property
    def plain(self) -> Key:
        """The major or minor key on the same tonic."""
        return Key(self.tonic, self.mode)

    @property
    def text(self) -> str:
        return f"{self.tonic.text} {self.word}"

    @property
    def short(self) -> str:
        """ "Eb", "Ebm" or "Eb dorian"."""
        if self.church:
            return self.text
        return self.tonic.text + ("m" if self.mode == "minor" else "")

    @property
    def display(self) -> str:
        return f"{self.tonic.display} {self.word}"

    @property
    def spoken(self) -> str:
        return f"{self.tonic.spoken} {self.word}"

    def transposed(self, interval: Interval) -> Key:
        return Key(self.tonic + interval, self.mode, self.church)

    @property
    def relative(self) -> Key:
        """The minor or major key with the same signature."""
        minor = self.mode == "major"
        return Key(NoteName.from_fifths(self.fifths + (3 if minor else 0)), "minor" if minor else "major")

    @property
    def parallel(self) -> Key:
        """Same tonic, other mode."""
        return Key(self.tonic, "minor" if self.mode == "major" else "major")

    def degree_of(self, name: NoteName) -> str:
        """The degree against the MAJOR scale of the tonic, in both modes (as jazz numerals count).

        >>> Key.parse("C minor").degree_of(NoteName.parse("Eb")), Key.parse("Bb").degree_of(NoteName.parse("E"))
        ('b3', '#4')
        """
        return degree_between(self.tonic, name)

    def note_at(self, degree: str) -> NoteName:
        """The note of a degree such as "b7", "#4", "2"; raises SpellingError."""
        return self.tonic + degree_interval(degree)

    def __str__(self) -> str:
        return self.text


@lru_cache(maxsize=512)
def _parse_key(text: str) -> Key:
    plain = text.strip().translate(_SIGNS)
    match = _KEY_TEXT.fullmatch(plain)
    if match is None:
        raise SpellingError(f"{text!r} is not a key such as Eb major, F# minor or Gm")
    tonic = match["tonic"]
    word = match["mode"] or ""
    name = NoteName.parse(tonic[0].upper() + tonic[1:].lower())
    church = next((mode for mode in CHURCH_MODES if len(word) > 2 and mode.startswith(word.lower())), "")
    if church:
        return Key(name, CHURCH_MODES[church], church)
    minor = word in ("m", "-") or word.lower().startswith(("mi", "mol", "aeo"))
    return Key(name, "minor" if minor else "major")


@lru_cache(maxsize=1024)
def degree_interval(degree: str) -> Interval:
    """ "b7" → m7, "#11" → A11, "bb7" → d7: the interval of a degree above its root. Raises SpellingError."""
    match = re.fullmatch(r"(b{0,8}|#{0,8})(\d{1,2})", degree)
    if match is None or match[2] in ("0", "00"):
        raise SpellingError(f"{degree!r} is not a degree such as 5, b7 or #11")
    steps = int(match[2]) - 1
    shift = len(match[1]) if match[1].startswith("#") else -len(match[1])
    return Interval(steps, _STEP_SEMITONES[steps % 7] + 12 * (steps // 7) + shift)


@lru_cache(maxsize=4096)
def degree_between(root: NoteName, name: NoteName) -> str:
    """The degree 1–7 of a note above a root, with its accidental against the major scale."""
    interval = root.interval_to(name)
    shift = interval.semitones - _STEP_SEMITONES[interval.steps]
    return ("#" * shift if shift > 0 else "b" * -shift) + str(interval.steps + 1)


def sensible(key: Key) -> Key:
    """The key as a player would read it: at most six signs, flats rather than sharps at six.

    >>> [sensible(Key.parse(text)).text for text in ("E#", "F#", "Cb", "D# minor", "Ab minor")]
    ['F major', 'Gb major', 'B major', 'Eb minor', 'G# minor']
    """
    signs = (key.fifths + MOST_SIGNS) % 12 - MOST_SIGNS
    return Key(NoteName.from_fifths(key.tonic.fifths - key.fifths + signs), key.mode, key.church)


def transposition(source: Key, target: Key) -> Interval:
    """The nearer interval (at most a tritone, up when equal) that carries one tonic to the other.

    >>> transposition(Key.parse("C"), Key.parse("Bb")).name, transposition(Key.parse("F"), Key.parse("A")).name
    ('-M2', 'M3')
    """
    up = source.tonic.interval_to(target.tonic)
    return up if up.semitones <= 6 else up - OCTAVE


MAJOR_KEYS: tuple[Key, ...] = tuple(Key(NoteName.from_fifths(n), "major") for n in range(-6, 6))
MINOR_KEYS: tuple[Key, ...] = tuple(Key(NoteName.from_fifths(n + 3), "minor") for n in range(-6, 6))
