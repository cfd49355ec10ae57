"""What a student may write for the function of a chord, and what it means.

Any form a musician writes is read: ``2``, ``ii``, ``IIm7``, ``5 of 2``, ``V7/ii``, ``b7``, ``sub 5 of 2``,
``bII7``, ``#iv°7``, ``backdoor``, ``related 2 of 4``, ``five of two``, with ``Ab:`` in front where a new key
area starts.  An `Answer` records what was said and what was left open ("2" alone gives a degree and no quality).
Degrees count from the major scale of the tonic in both modes, as jazz numerals do.
Reading never raises; what cannot be read comes back as a located problem that says what to type.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from tunes.harmony.answer_words import LONGEST, NUMBER_WORDS, ROMAN, Plain, Token, plain, tokens
from tunes.harmony.functions import roman, say_degree, split_degree
from tunes.harmony.problems import Problem
from tunes.harmony.spelling import Key, NoteName, SpellingError

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
    whether a Roman numeral was in lower case (None: a figure).  ``no_chord``: N.C.
    """

    head: str
    quality: str | None = None
    of: tuple[str, ...] = ()
    substitute: bool = False
    backdoor: bool = False
    lower: bool | None = None
    no_chord: bool = False

    @property
    def frame(self) -> str | None:
        """As what the chord is named against its goal ("5", "sub5", "2", "7", "b7"), None when by its own degree."""
        if self.substitute:
            return SUBSTITUTE
        if self.backdoor:
            return "b7"
        return self.head if self.of and self.head in _FRAMES else None

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
    "m": "", "m7": "7", "m6": "6", "mmaj7": "(maj7)", "m7b5": "ø7", "dim7": "°7", "dim": "°", "aug": "+", "5": "5",
}
_WORD = {
    "m": "minor", "m7": "minor 7", "m6": "minor 6", "mmaj7": "minor major 7", "m7b5": "half diminished",
    "dim7": "diminished", "dim": "diminished", "aug": "augmented", "7": "7", "maj7": "major 7", "6": "6",
    "7sus": "7 sus", "sus": "sus",
}
_MINOR_TARGETS = ("2", "3", "6", "#4", "7")


def _target_roman(step: str) -> str:
    return "subV" if step == SUBSTITUTE else roman(step, step in _MINOR_TARGETS)


@dataclass(frozen=True, slots=True)
class AnswerReading:
    """An answer, or the problem with it; the key typed in front; and the sentence a field shows.

    ``key`` is None when no key was typed.  ``echo`` never says whether the answer is right.
    """

    answer: Answer | None
    key: Key | None
    problem: Problem | None
    echo: str


def read_answer(text: str, key: Key | None = None) -> AnswerReading:
    """Read what a student typed; ``key`` is the key in force, used for the echo only.

    >>> read_answer("5 of 2", Key.parse("F")).echo
    'V7 of ii in F: D7 → Gm7'
    >>> read_answer("Ab: 2").key.text
    'Ab major'
    """
    if not text.strip():
        return AnswerReading(None, None, None, "")
    if len(text) > LONGEST:
        problem = Problem("This is too long for the name of one chord.", "5 of 2", LONGEST, len(text))
        return AnswerReading(None, None, problem, problem.text)
    typed, body = _take_key(plain(text))
    found = _read_body(body, typed is not None)
    if isinstance(found, Problem):
        return AnswerReading(None, typed, found, found.text)
    return AnswerReading(found, typed, None, echo_text(found, typed or key))


# --- the key in front -------------------------------------------------------------------------------

_NOTE = r"(?P<note>[A-Ga-g])(?P<sign>bb|##|b|#|[\s-]?(?i:flat|sharp)\b)?"
_MODE = r"\s*(?P<mode>(?i:major|minor|maj|min|mi|ma)\b|m\b|M\b|-)?"
_KEY_FRONT = re.compile(rf"\s*[(\[]?\s*(?P<word>(?i:now\s+in|in|key\s+of|key|now)\s+)?{_NOTE}{_MODE}\s*(?P<close>[)\]])?\s*(?P<colon>[:;])?,?\s*")
_KEY_BACK = re.compile(rf"\s*[(\[,]?\s*\b(?i:in|of)\s+(?i:the\s+key\s+of\s+)?{_NOTE}{_MODE}\s*[)\]]?\s*$")


def _take_key(source: Plain) -> tuple[Key | None, Plain]:
    """The key named before (``Ab: 2``, ``in Ab 2``) or after (``2 in Ab``) the number, and the rest."""
    match = _KEY_FRONT.match(source.text)
    if match and (match["colon"] or match["word"] or match["close"]):
        key = _key(match)
        if key is not None:
            return key, source.cut(match.end(), len(source.text))
    back = _KEY_BACK.search(source.text)
    if back and back.start() > 0:
        key = _key(back)
        if key is not None:
            return key, source.cut(0, back.start())
    return None, source


def _key(match: re.Match[str]) -> Key | None:
    sign = (match["sign"] or "").strip(" -").lower().replace("flat", "b").replace("sharp", "#")
    mode = match["mode"] or ""
    minor = mode.lower() in ("minor", "min", "mi") or mode in ("m", "-")
    try:
        return Key(NoteName.parse(match["note"].upper() + sign), "minor" if minor else "major")
    except SpellingError:
        return None


# --- the number -------------------------------------------------------------------------------------

_QUALITY_KINDS = ("halfdim", "dim", "dom", "aug", "sus", "alt", "maj", "min")
_EXTENSIONS = ("5", "6", "7", "9", "11", "13", "69", "6/9")
_ALTERED = ("5", "9", "11", "13", "3")
_SYMBOL = re.compile(r"\s*[A-H](?:b|#)?(?:maj|min|mi|m|M|dim|aug|sus|alt|-|\+|°|ø|/|\d|\s|\(|$)")


class _Stop(Exception):
    """Carries a problem out of the small parser below; never leaves this module."""

    def __init__(self, problem: Problem) -> None:
        super().__init__(problem.message)
        self.problem = problem


def _read_body(source: Plain, has_key: bool) -> Answer | Problem:
    if not source.text.strip():
        start, _ = source.where(0, 0)
        return Problem("The key is there, the number is missing.", "Ab: 2", start, start)
    if _SYMBOL.match(source.text) and not re.match(r"\s*B\s?[IViv1-7]", source.text):
        advice = "its number in the key, such as 2 or V/ii" if has_key else "a number, such as 2 or V/ii (a key needs a colon: Ab: 2)"
        return Problem("This is the name of a chord; say what it does in the key.", advice, *source.where(0, len(source.text)))
    words = tokens(source)
    if not words:
        return Problem("There is no number here.", "2, ii7 or 5 of 2", *source.where(0, len(source.text)))
    try:
        return _Parser(words).answer()
    except _Stop as stop:
        return stop.problem


@dataclass(slots=True)
class _Element:
    """One number with what stands around it."""

    number: str | None = None
    lower: bool | None = None
    words: tuple[str, ...] = ()
    extension: str = ""
    altered: tuple[str, ...] = ()
    substitute: bool = False
    backdoor: bool = False
    related: bool = False


class _Parser:
    """Reads one chord name: an element, then "of" elements until the end."""

    def __init__(self, words: tuple[Token, ...]) -> None:
        self.words = words
        self.at = 0

    def peek(self, ahead: int = 0) -> Token | None:
        place = self.at + ahead
        return self.words[place] if place < len(self.words) else None

    def kind(self, ahead: int = 0) -> str:
        word = self.peek(ahead)
        return word.kind if word else ""

    def fail(self, message: str, suggestion: str) -> _Stop:
        word = self.peek() or self.words[-1]
        return _Stop(Problem(message, suggestion, word.start, word.end))

    def answer(self) -> Answer:
        if self.kind() == "none":
            self.at += 1
            if self.peek():
                raise self.fail("N.C. stands alone.", "N.C.")
            return Answer("", no_chord=True)
        elements = [self.element()]
        while self.kind() == "of":
            self.at += 1
            if self.peek() is None:
                self.at -= 1
                raise self.fail("Of what? The goal is missing.", "5 of 2 or V/ii")
            elements.append(self.element())
        if self.peek():
            raise self.leftover()
        return _compose(elements)

    def leftover(self) -> _Stop:
        if self.kind() in ("roman", "digits", "number", "acc", "sub", "none", "backdoor"):
            return self.fail("One chord in each field: there is a second one here.", "the first number only")
        word = self.peek()
        shown = word.text[:20] if word else ""
        return self.fail(f"“{shown}” is not part of a chord's number.", "2, iim7, V7/ii or 5 of 2")

    def element(self) -> _Element:
        found = _Element()
        self.before(found)
        self.number(found)
        self.after(found)
        named = found.substitute or found.backdoor or found.related or {"dim", "halfdim", "dom"} & set(found.words)
        if found.number is None and not named:
            raise self.leftover() if self.peek() else self.fail("The number is missing.", "2, ii7 or 5 of 2")
        return found

    def before(self, found: _Element) -> None:
        """Words in front of the number: sub, related, backdoor, minor, diminished …"""
        while self.kind() in ("sub", "related", "backdoor", *_QUALITY_KINDS):
            kind = self.kind()
            self.at += 1
            if kind == "sub":
                found.substitute = True
                if self.kind() == "of" and self.peek(1):
                    self.at += 1
            elif kind == "related":
                found.related = True
            elif kind == "backdoor":
                found.backdoor = True
            else:
                found.words += (kind,)

    def number(self, found: _Element) -> None:
        """Accidentals and the number itself, in figures, in Roman or in words."""
        signs = ""
        first = self.at
        while self.kind() == "acc":
            text = self.words[self.at].text.lower()
            signs += {"flat": "b", "sharp": "#"}.get(text, text)
            self.at += 1
        word = self.peek()
        if word is None or word.kind not in ("roman", "digits", "number"):
            if signs:
                self.at = first
                raise self.fail("A flat or sharp needs a number after it.", "b7 or #4")
            return
        text = NUMBER_WORDS.get(word.text.lower(), word.text)
        if word.kind == "roman":
            found.number = ROMAN[text.lower()]
            found.lower = True if text.islower() else (False if text.isupper() else None)
        else:
            found.number, found.extension = text[0], text[1:]
            if not "1" <= found.number <= "7":
                raise self.fail("Degrees run from 1 to 7.", "a number from 1 to 7")
            if found.extension and found.extension not in _EXTENSIONS[1:]:
                raise self.fail("One chord in each field: these are several numbers.", text[0])
        if len(signs) > 2 or ("b" in signs and "#" in signs):
            self.at = first
            raise self.fail("Too many flats or sharps.", "b7 or #4")
        found.number = signs + found.number
        self.at += 1

    def after(self, found: _Element) -> None:
        """The quality after the number: m7, maj7, ø, 7b9, sus …"""
        while (word := self.peek()) is not None:
            if word.kind in _QUALITY_KINDS:
                found.words += (word.kind,)
                if word.text == "Δ" and self.kind(1) != "digits":
                    found.extension = "7"
            elif word.kind == "sub":
                found.substitute = True
            elif word.kind in ("digits", "number") and (found.number or found.words or found.substitute):
                self.extension(found, word)
            elif word.kind == "add":
                self.at += 1
            elif word.kind == "acc" and self.kind(1) in ("digits", "number") and self.words[self.at + 1].text in _ALTERED:
                found.altered += ({"flat": "b", "sharp": "#"}.get(word.text, word.text) + self.words[self.at + 1].text,)
                self.at += 1
            else:
                return
            self.at += 1

    def extension(self, found: _Element, word: Token) -> None:
        text = NUMBER_WORDS.get(word.text.lower(), word.text)
        if found.extension == "6" and text == "9":
            text = "69"
        elif found.extension:
            raise self.leftover()
        if text not in _EXTENSIONS or (text == "5" and "aug" not in found.words and "sus" not in found.words):
            raise self.leftover()
        found.extension = text
        nine = self.peek(2)
        if text == "6" and self.kind(1) == "of" and nine is not None and nine.text == "9":
            found.extension = "69"
            self.at += 2


def _compose(elements: list[_Element]) -> Answer:
    first, rest = elements[0], elements[1:]
    of = tuple(_step(element) for element in rest)
    number = first.number
    if first.backdoor:
        if number not in (None, "7", "b7", "5"):
            of = (number, *of)  # "backdoor 4": the backdoor into the four
        return Answer("b7", "7" if number and "7" in number else _quality(first), of, backdoor=True, lower=first.lower)
    if first.substitute and number not in (None, "5", "b2", "2b"):
        of, number = (number, *of), "5"
        return Answer("5", None, of, substitute=True, lower=first.lower)
    if first.substitute:
        return Answer("5", _quality(first), of, substitute=True, lower=first.lower)
    if number is None and first.related:
        number = "2"
    elif "dom" in first.words and number in (None, "7"):
        number, first.extension = "5", "7"
    elif number is None:
        number = "7" if {"dim", "halfdim"} & set(first.words) else "1"
    if first.related and number == "2" and not of:
        of = ("1",)
    return Answer(number, _quality(first), of, lower=first.lower)


def _step(element: _Element) -> str:
    if element.substitute:
        return SUBSTITUTE
    if element.backdoor:
        return "b7"
    return element.number or ("5" if "dom" in element.words else "1")


def _quality(found: _Element) -> str | None:
    """The quality that the words, figures and case add up to, None when nothing was said."""
    words, extension = set(found.words), found.extension
    flat_five = "b5" in found.altered
    seventh = extension in ("7", "9", "11", "13")
    if "halfdim" in words or ("min" in words and flat_five and "dim" not in words):
        return "m7b5"
    if "dim" in words:
        return "dim7" if extension else "dim"
    if "sus" in words:
        return "7sus" if seventh or "dom" in words else "sus"
    minor = "min" in words or (bool(found.lower) and bool(extension or "maj" in words))
    if minor:
        return _minor_quality(words, extension, flat_five)
    if "aug" in words and not seventh:
        return "aug"
    if "dom" in words or "alt" in words or (seventh and "maj" not in words):
        return "7"
    if "maj" in words:
        return "maj7" if seventh else ""
    if extension.startswith("6"):
        return "6"
    return "7" if found.altered else None


def _minor_quality(words: set[str], extension: str, flat_five: bool) -> str:
    if "maj" in words:
        return "mmaj7"
    if flat_five:
        return "m7b5"
    if extension.startswith("6"):
        return "m6"
    return "m7" if extension else "m"


# --- the echo ---------------------------------------------------------------------------------------

_SYMBOL_BODY: dict[str, str] = {
    "": "", "6": "6", "maj7": "maj7", "7": "7", "7sus": "7sus", "sus": "sus", "m": "m", "m6": "m6", "m7": "m7",
    "mmaj7": "m(maj7)", "m7b5": "m7♭5", "dim": "°", "dim7": "°7", "aug": "+", "5": "5",
}
_DIATONIC: dict[str, dict[str, str]] = {
    "major": {"1": "", "2": "m7", "3": "m7", "4": "maj7", "5": "7", "6": "m7", "7": "m7b5"},
    "minor": {"1": "m", "2": "m7b5", "b3": "maj7", "4": "m7", "5": "7", "b6": "maj7", "b7": "7", "7": "dim7"},
}
_SIGN_TABLE = str.maketrans({"b": "♭", "#": "♯"})


def chord_name(key: Key, degree: str, quality: str | None) -> str:
    """A chord's display name from its degree in a key; bare root when the quality is open.

    >>> chord_name(Key.parse("F"), "b3", "7"), chord_name(Key.parse("C minor"), "2", "m7b5")
    ('A♭7', 'Dm7♭5')
    """
    root = NoteName.from_fifths(key.tonic.fifths + degree_fifths(degree))
    return root.display + _SYMBOL_BODY.get(quality or "", quality or "")


def diatonic_quality(key: Key, degree: str) -> str | None:
    """The seventh chord (triad on the tonic) that a key has on a degree, None for a degree outside it.
    Major: its own sevenths; minor: harmonic minor on 5 and 7, natural elsewhere (logical)."""
    return _DIATONIC[key.mode].get(degree)


def display_numeral(text: str) -> str:
    """A numeral with real signs: "bVII7" → "♭VII7", leaving everything else."""
    return re.sub(r"(?<![a-z])[b#]+(?=[IViv1-7])", lambda m: m[0].translate(_SIGN_TABLE), text)


def echo_text(answer: Answer, key: Key | None) -> str:
    """One sentence that says how an answer was understood.

    >>> echo_text(Answer("2"), Key.parse("F"))
    '2 in F: root G, quality left open'
    >>> echo_text(Answer("5", of=("5",), substitute=True), Key.parse("C"))
    'subV7 of V in C: A♭7 → G7'
    """
    if answer.no_chord:
        return "N.C.: no chord"
    name = " of ".join(display_numeral(part) for part in answer.numeral.split("/"))
    if answer.frame == "2" and answer.of:
        name = f"related {name}"
    if answer.backdoor:
        name = f"backdoor {name}"
    if key is None:
        return name
    place = key.tonic.display + (" minor" if key.mode == "minor" else "")
    quality = answer.full_quality
    if quality is None:
        root = NoteName.from_fifths(key.tonic.fifths + degree_fifths(answer.degree)).display
        third = {True: ", a minor chord", False: ", a major third"}.get(answer.lower, "") if answer.lower else ""
        return f"{name} in {place}: root {root}{third or ', quality left open'}"
    shown = chord_name(key, answer.degree, quality)
    target = answer.target
    if target is None:
        return f"{name} in {place}: {shown}"
    if answer.frame == "2":
        dominant = degree_at(degree_fifths(target) + 1)
        if answer.of[0] != SUBSTITUTE:
            shown += f" → {chord_name(key, dominant, '7')}"
    goal = chord_name(key, target, _goal_quality(answer, key, target))
    return f"{name} in {place}: {shown} → {goal}"


def _goal_quality(answer: Answer, key: Key, target: str) -> str | None:
    if answer.of and (len(answer.of) > 1 or answer.of[0] == SUBSTITUTE):
        return IMPLIED_QUALITY.get(answer.of[0])
    return diatonic_quality(key, target)
