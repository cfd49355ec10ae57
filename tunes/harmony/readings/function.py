"""What a chord does in its key: degree, quality, role, kind, and the chord it aims at.

A `Function` is written two ways: as a Roman numeral (``V7/ii``) and as the numbers players say
(``5 of 2``).  Degrees are always counted from the **major** scale of the local tonic, in both
modes, as jazz numerals do: the third of C minor is ``b3`` (Nettles & Graf 1997; Mulholland &
Hojnacki, *The Berklee Book of Jazz Harmony*, 2013).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property, lru_cache

ROLES = ("tonic", "subdominant", "predominant", "dominant", "passing", "colour", "none")
"""tonic: at rest, as 1 or in its place · subdominant: with the sound of 4, where a run lands on it, it falls back to 1 or stands with its flat 7 ·
predominant: prepares a dominant · dominant: demands a resolution ·
passing: links two chords by step · colour: modal or ornamental · none: no chord sounds."""


def family_of(role: str) -> str:
    """The family of a role among tonic, predominant and dominant: a subdominant is of the family of what leads to 5."""
    return "predominant" if role == "subdominant" else role


KINDS: dict[str, str] = {
    "diatonic": "a chord of the key itself",
    "applied": "the dominant of a chord other than the tonic",
    "tritone-substitute": "a dominant a tritone away from the one it replaces, falling a semitone",
    "backdoor": "the flat-seven dominant, rising a tone to a major or minor tonic",
    "related-ii": "the minor (or half-diminished) chord that goes with a dominant as its ii",
    "dominant-chain": "one of a run of dominants, each resolving to the next",
    "interchange": "borrowed from the parallel key or mode",
    "leading-diminished": "a diminished seventh a semitone below its target: a rootless dominant",
    "passing-diminished": "a diminished seventh between two chords a tone apart",
    "auxiliary-diminished": "a diminished seventh beside the chord it decorates",
    "common-tone-diminished": "a diminished seventh on the root of the chord that follows or precedes it",
    "augmented-dominant": "an augmented triad standing for a dominant",
    "blues": "a dominant-seventh sound at rest: the home sound of the blues",
    "line-cliche": "one chord held while an inner voice moves by step",
    "major-third-cycle": "a tonic a major third from the last, in a cycle of thirds",
    "pedal": "a chord over a bass note that stays",
    "vamp": "part of a repeating pair of chords that needs no resolution",
    "plagal": "a subdominant sound that falls back to the chord it came from or to the tonic",
    "chromatic-approach": "the same kind of chord a semitone from its goal",
    "deceptive": "a dominant that goes elsewhere than it promises",
    "unresolved": "a dominant that is left standing",
    "chromatic": "a chord from outside the key, for its colour",
    "no-chord": "no chord sounds",
}

_ROMAN = ("", "I", "II", "III", "IV", "V", "VI", "VII")
_WORDS = {"b": "flat", "#": "sharp"}
_MINOR = ("m", "dim", "o", "°", "ø")
_SPOKEN_QUALITY = {
    "": "",
    "7": "",
    "maj7": "",
    "6": "",
    "m": "minor",
    "m7": "minor",
    "m6": "minor 6",
    "mmaj7": "minor major 7",
    "m7b5": "half diminished",
    "dim7": "diminished",
    "dim": "diminished",
    "aug": "augmented",
    "7sus": "sus",
    "sus": "sus",
    "5": "",
}
_MINOR_DEGREES = ("2", "3", "6")
_MAJOR_QUALITIES = ("", "6", "maj7")
_WRITTEN_QUALITY = {
    "m": "",
    "m7": "7",
    "m6": "6",
    "mmaj7": "(maj7)",
    "m7b5": "ø7",
    "dim7": "°7",
    "dim": "°",
    "aug": "+",
    "5": "5",
}


@lru_cache(maxsize=256)
def split_degree(degree: str) -> tuple[str, int]:
    """Accidentals and number of a degree.

    >>> split_degree("#4"), split_degree("b7"), split_degree("1")
    (('#', 4), ('b', 7), ('', 1))
    """
    number = degree.lstrip("#b")
    if not number.isdigit() or not 1 <= int(number) <= 7:
        raise ValueError(f"{degree!r} is not a scale degree: write 1 to 7 with b or # before it")
    return degree[: len(degree) - len(number)], int(number)


def roman(degree: str, minor: bool) -> str:
    """A degree as a Roman numeral, lower case for minor.

    >>> roman("b3", False), roman("2", True)
    ('bIII', 'ii')
    """
    signs, number = split_degree(degree)
    text = _ROMAN[number]
    return signs + (text.lower() if minor else text)


@lru_cache(maxsize=256)
def say_degree(degree: str) -> str:
    """A degree as players say it.

    >>> say_degree("b7"), say_degree("#4")
    ('flat 7', 'sharp 4')
    """
    signs, number = split_degree(degree)
    return " ".join([*(_WORDS[s] for s in signs), str(number)])


@dataclass(frozen=True)
class Function:
    """What one chord does in its local key.

    `degree` is the root against the local tonic (``"1"``, ``"b3"``, ``"#4"``); `quality` is the chord
    reduced to one of ``"" 6 maj7 7 7sus sus m m6 m7 mmaj7 m7b5 dim dim7 aug 5``; `role` is one of
    `ROLES`, `kind` a key of `KINDS`.  `target` is the degree (in the same key) of the chord that an
    applied chord aims at, `target_minor` whether that chord is minor.  `of` says as what the chord is
    read against its target: ``"5"`` dominant, ``"sub5"`` tritone substitute, ``"2"`` related ii,
    ``"7"`` leading diminished, ``"b7"`` backdoor, or None when it is named by its own degree.
    """

    degree: str
    quality: str
    role: str
    kind: str
    target: str | None = None
    target_minor: bool = False
    of: str | None = None

    @property
    def minor(self) -> bool:
        """Whether the numeral is written in lower case.

        >>> Function("1", "maj7", "tonic", "diatonic").numeral, Function("2", "m7", "predominant", "diatonic").numeral
        ('Imaj7', 'ii7')
        """
        return self.quality.startswith(_MINOR) and not self.quality.startswith("maj")

    @property
    def _body(self) -> str:
        return _WRITTEN_QUALITY.get(self.quality, self.quality)

    @cached_property
    def numeral(self) -> str:
        """The written form.

        >>> Function("6", "7", "dominant", "applied", "2", True, "5").numeral
        'V7/ii'
        >>> Function("b2", "7", "dominant", "tritone-substitute", "1", False, "sub5").numeral
        'subV7'
        >>> Function("#4", "dim7", "passing", "passing-diminished").numeral
        '#iv°7'
        >>> Function("5", "m7", "predominant", "related-ii", "4", False, "2").numeral
        'ii7/IV'
        """
        if self.kind == "no-chord":
            return "N.C."
        head = {"5": "V", "sub5": "subV", "2": "ii" if self.minor else "II", "7": "vii", "b7": "bVII"}
        if self.of is None or (self.of not in head):
            return roman(self.degree, self.minor) + self._body
        text = head[self.of] + self._body
        if self.target is None or self.target == "1":
            return text
        return f"{text}/{roman(self.target, self.target_minor)}"

    @cached_property
    def spoken(self) -> str:
        """What players say.

        >>> Function("b6", "7", "dominant", "tritone-substitute", "5", False, "sub5").spoken
        'sub 5 of 5'
        >>> Function("#4", "dim7", "passing", "passing-diminished").spoken
        'sharp 4 diminished'
        >>> Function("4", "m6", "colour", "interchange").spoken
        '4 minor 6'
        """
        if self.kind == "no-chord":
            return "no chord"
        heads = {"5": "5", "sub5": "sub 5", "2": "2", "7": "7 diminished", "b7": "flat 7"}
        if self.of in heads:
            text = heads[self.of or ""]
            if self.target is None or self.target == "1":
                return text
            return f"{text} of {self.spoken_target}"
        return " ".join(x for x in (say_degree(self.degree), self._spoken_quality()) if x)

    @property
    def spoken_target(self) -> str:
        """The target as players say it; one of another kind than that degree has in major says so: "5 minor", "2 major"."""
        return f"{say_degree(self.target or '1')} {self.target_quality}".rstrip()

    @property
    def target_quality(self) -> str:
        """ "minor" or "major" where the target is not what its degree has in major and its name says so, else ""."""
        if self.kind == "dominant-chain" or self.of not in ("5", "sub5"):
            return ""
        if self.target == "5" and self.target_minor:
            return "minor"
        return "major" if self.target in _MINOR_DEGREES and not self.target_minor else ""

    def _spoken_quality(self) -> str:
        """The bare number is the chord that degree has in major; anything else says what it is."""
        word = _SPOKEN_QUALITY.get(self.quality, "")
        if self.quality == "maj7" and self.degree == "5":
            return "major 7"  # the bare 5 is a dominant
        if word == "minor" and self.degree in _MINOR_DEGREES and self.kind in ("diatonic", "related-ii"):
            return ""
        if self.quality == "7" and self.degree != "5":
            return "dominant"
        if self.quality in _MAJOR_QUALITIES and self.degree in (*_MINOR_DEGREES, "7"):
            return "major"
        return word

    def to_json(self) -> dict[str, object]:
        """A plain dict; `from_json` reads it back."""
        return {
            "degree": self.degree,
            "quality": self.quality,
            "role": self.role,
            "kind": self.kind,
            "target": self.target,
            "target_minor": self.target_minor,
            "of": self.of,
            "numeral": self.numeral,
            "spoken": self.spoken,
        }

    @classmethod
    def from_json(cls, data: Mapping[str, object]) -> Function:
        """The inverse of `to_json`; raises KeyError when a field is missing."""
        target, of = data["target"], data["of"]
        return cls(
            degree=str(data["degree"]),
            quality=str(data["quality"]),
            role=str(data["role"]),
            kind=str(data["kind"]),
            target=None if target is None else str(target),
            target_minor=bool(data["target_minor"]),
            of=None if of is None else str(of),
        )
