"""One answer as data: what was said, what was left open, and where it lies on the line of fifths."""

from __future__ import annotations

from dataclasses import dataclass, field

from tunes.harmony.readings.function import roman, say_degree, split_degree

SUBSTITUTE = "sub5"
_DEGREE_FIFTHS = {1: 0, 2: 2, 3: 4, 4: -1, 5: 1, 6: 3, 7: 5}
_FRAMES = ("5", "2", "7", "b7")
IMPLIED_QUALITY: dict[str, str] = {"5": "7", SUBSTITUTE: "7", "b7": "7", "2": "m7", "7": "dim7"}
"""The quality a name carries in itself: "5 of 2" is a dominant seventh without saying so."""


def degree_fifths(degree: str) -> int:
    """Place of a degree (or "sub5") on the line of fifths, the tonic at 0.

    >>> degree_fifths("b7"), degree_fifths("#4"), degree_fifths("sub5")
    (-2, 6, -5)
    """
    if degree == SUBSTITUTE:
        return -5
    signs, number = split_degree(degree)
    return _DEGREE_FIFTHS[number] + 7 * (signs.count("#") - signs.count("b"))


def degree_at(fifths: int) -> str:
    """The degree at a place on the line of fifths; the inverse of `degree_fifths`.

    >>> degree_at(-2), degree_at(3), degree_at(-5)
    ('b7', '6', 'b2')
    """
    shift, place = divmod(fifths + 1, 7)
    number = (4, 1, 5, 2, 6, 3, 7)[place]
    return ("#" * shift if shift > 0 else "b" * -shift) + str(number)


@dataclass(frozen=True, slots=True)
class Answer:
    """One answer as it was understood, before anyone compares it with a key.

    ``head`` is the number as said ("5" in "5 of 2"); ``of`` the chain of goals from the nearest outwards
    (("5", "2") in "5 of 5 of 2"); ``substitute`` a tritone substitute; ``backdoor`` said by that name.
    ``quality`` is the chord reduced as in `functions.Function`, None when it was not given; ``lower`` tells
    whether a Roman numeral was in lower case (None: a figure).  ``no_chord``: N.C.  ``goal`` is the quality that the
    nearest goal was said to have ("m" in "5 of 5 minor"), None when it was left open: told back, never compared.
    ``bass`` is what was said to lie under the chord: a note ("E"), a number ("5") or the figures of an inversion
    ("64").  ``stroke`` tells that the last goal was written after a stroke: over a chord with that bass it names the
    bass (`basses.over_bass`).  ``sort`` is set where only the kind of chord was named ("applied", "passing",
    "common-tone"), without saying which.
    """

    head: str
    quality: str | None = None
    of: tuple[str, ...] = ()
    substitute: bool = False
    backdoor: bool = False
    lower: bool | None = None
    no_chord: bool = False
    goal: str | None = field(default=None, compare=False)
    bass: str = ""
    stroke: bool = field(default=False, compare=False)
    sort: str = ""

    @property
    def frame(self) -> str | None:
        """As what the chord is named against its goal ("5", "sub5", "2", "7", "b7"), None when by its own degree."""
        if self.substitute:
            return SUBSTITUTE
        if self.backdoor:
            return "b7"
        return self.head if self.of and not self.sort and self.head in _FRAMES else None

    @property
    def target(self) -> str | None:
        """Degree of the goal in the key; "1" for a bare "sub 5" or "backdoor"."""
        if self.of:
            return degree_at(sum(degree_fifths(step) for step in self.of))
        return "1" if self.substitute or self.backdoor else None

    @property
    def degree(self) -> str:
        """Degree of the root in the key.

        >>> Answer("5", of=("2",)).degree, Answer("5", of=("2",), substitute=True).degree
        ('6', 'b3')
        """
        base = sum(degree_fifths(step) for step in self.of)
        if self.of and self.of[0] == SUBSTITUTE and self.head == "2":
            return degree_at(base + 1)  # the ii that goes with a substitute lies a fifth above it
        own = SUBSTITUTE if self.substitute else ("b7" if self.backdoor else self.head)
        return degree_at(base + degree_fifths(own))

    @property
    def full_quality(self) -> str | None:
        """The quality as given, else the one the name implies, else None."""
        return self.quality if self.quality is not None else IMPLIED_QUALITY.get(self.frame or "")

    @property
    def numeral(self) -> str:
        """The written form: "V7/ii", "subV7", "#iv°7".

        >>> Answer("5", of=("5", "2")).numeral, Answer("b7", "7").numeral, Answer("2").numeral
        ('V7/V/ii', 'bVII7', '2')
        """
        if self.no_chord:
            return "N.C."
        quality = self.full_quality
        if quality is None and self.lower is None and not self.of:
            return self.head
        minor = quality.startswith(("m", "dim")) and quality != "maj7" if quality else bool(self.lower)
        body = _BODY.get(quality or "", quality or "")
        head = "subV" if self.substitute else ("bVII" if self.backdoor else roman(self.head, minor))
        return "/".join([head + body, *(_target_roman(step) for step in self.of)])

    @property
    def spoken(self) -> str:
        """What players say: "5 of 2", "sub 5", "flat 7".

        >>> Answer("5", of=("2",)).spoken, Answer("#4", "dim7").spoken
        ('5 of 2', 'sharp 4 diminished')
        """
        if self.no_chord:
            return "no chord"
        head = "sub 5" if self.substitute else ("backdoor flat 7" if self.backdoor else say_degree(self.head))
        word = "" if self.frame else _WORD.get(self.quality or "", "")
        steps = ["sub 5" if step == SUBSTITUTE else say_degree(step) for step in self.of]
        return " of ".join([" ".join(x for x in (head, word) if x), *steps])


_BODY = {
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
_WORD = {
    "m": "minor",
    "m7": "minor 7",
    "m6": "minor 6",
    "mmaj7": "minor major 7",
    "m7b5": "half diminished",
    "dim7": "diminished",
    "dim": "diminished",
    "aug": "augmented",
    "7": "7",
    "maj7": "major 7",
    "6": "6",
    "7sus": "7 sus",
    "sus": "sus",
}
_MINOR_TARGETS = ("2", "3", "6", "#4", "7")


def _target_roman(step: str) -> str:
    return "subV" if step == SUBSTITUTE else roman(step, step in _MINOR_TARGETS)
