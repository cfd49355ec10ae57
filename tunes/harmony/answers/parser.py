"""From the words of an answer to an `Answer`: one element, then "of" elements until the end."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace

from tunes.harmony.answers.form import SUBSTITUTE, Answer, degree_at, degree_fifths
from tunes.harmony.answers.words import NUMBER_WORDS, ROMAN, Plain, Token, tokens
from tunes.harmony.problems import Problem

_QUALITY_KINDS = ("halfdim", "dim", "dom", "aug", "sus", "alt", "maj", "min")
_EXTENSIONS = ("5", "6", "7", "9", "11", "13", "69", "6/9")
_ALTERED = ("5", "9", "11", "13", "3")
_SYMBOL = re.compile(r"\s*[A-H](?:b|#)?(?:maj|min|mi|m|M|dim|aug|sus|alt|-|\+|°|ø|/|\d|\s|\(|$)")
# What a musician may say beside a number; alone it names no chord.
_FAMILY = re.compile(r"\b(?:secondary|applied|extended|passing|borrowed|auxiliary)\b", re.IGNORECASE)
_SORTS = {
    "secondary": "applied",
    "applied": "applied",
    "extended": "applied",
    "passing": "passing",
    "auxiliary": "passing",
}
_SORT_NEEDS = {"applied": "dom", "passing": "dim"}
_STROKES = ("/", "\\", "over", "on")
_FIGURES = ("64", "65", "43", "42")
_GOAL_IN_BRACKETS = re.compile(r"(?<=\S)[(\[]\s*([b#]?[ivIV]+)\s*[)\]]")


class _Stop(Exception):
    """Carries a problem out of the small parser below; never leaves this module."""

    def __init__(self, problem: Problem) -> None:
        super().__init__(problem.message)
        self.problem = problem


def read_body(source: Plain, has_key: bool) -> Answer | Problem:
    if not source.text.strip():
        start, _ = source.where(0, 0)
        return Problem("The key is there, the number is missing.", "Ab: 2", start, start)
    if _SYMBOL.match(source.text) and not re.match(r"\s*B\s?[IViv1-7]", source.text):
        advice = (
            "its number in the key, such as 2 or V/ii"
            if has_key
            else "a number, such as 2 or V/ii (a key needs a colon: Ab: 2)"
        )
        return Problem(
            "This is the name of a chord; say what it does in the key.", advice, *source.where(0, len(source.text))
        )
    words = tokens(_opened(source))
    if not words:
        return Problem("There is no number here.", "2, ii7 or 5 of 2", *source.where(0, len(source.text)))
    parser = _Parser(words)
    try:
        answer = parser.answer()
    except _Stop as stop:
        return stop.problem
    family = _FAMILY.search(source.text)
    if parser.numberless and family:
        sort = _SORTS.get(family[0].lower(), "")
        if _SORT_NEEDS.get(sort, "") in parser.said:
            return replace(answer, sort=sort)
        return Problem(
            f"“{family[0]}” says what kind of chord it is, not which one.",
            "#4 dim, or V7/ii",
            *source.where(family.start(), family.end()),
        )
    return answer


def _opened(source: Plain) -> Plain:
    """A goal in brackets as one after a stroke: V7(ii) is V7/ii; every other sign keeps its place."""
    return Plain(_GOAL_IN_BRACKETS.sub(lambda match: f"/{match[0][1:-1]} ", source.text), source.origin)


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
    dominant_first: bool = False  # "dominant 7" is 5 with its seventh, "7 dominant" stands on 7
    common: bool = False  # a common-tone diminished chord
    figure: str = ""  # the figures of an inversion


class _Parser:
    """Reads one chord name: an element, then "of" elements until the end."""

    def __init__(self, words: tuple[Token, ...]) -> None:
        self.words = words
        self.at = 0
        self.numberless = False  # the one chord is named by a word alone: "dim", "dominant"
        self.said: tuple[str, ...] = ()  # the qualities that were said of it

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
        elements = self.twice() or [self.element()]
        stroke = False
        while self.kind() == "of":
            stroke = self.words[self.at].text.lower() in _STROKES
            self.at += 1
            if self.peek() is None:
                self.at -= 1
                raise self.fail("Of what? The goal is missing.", "5 of 2 or V/ii")
            elements.append(self.element())
        if self.peek():
            raise self.leftover()
        self.numberless = len(elements) == 1 and elements[0].number is None
        self.said = elements[0].words
        answer = replace(_compose(elements), stroke=stroke, bass=elements[0].figure)
        return (
            replace(answer, goal=_said(elements[1])) if elements[1:] and len(answer.of) == len(elements) - 1 else answer
        )

    def twice(self) -> list[_Element]:
        """ "Double dominant" is 5 of 5; nothing when it was not said."""
        if self.kind() != "double":
            return []
        self.at += 1
        return [_Element(number="5"), _Element(number="5")]

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
        if found.common and "dim" not in found.words:
            raise self.fail("What kind of common-tone chord?", "CT°7")
        if found.number is None and not named:
            raise self.leftover() if self.peek() else self.fail("The number is missing.", "2, ii7 or 5 of 2")
        return found

    def before(self, found: _Element) -> None:
        """Words in front of the number: sub, related, backdoor, minor, diminished …"""
        while self.kind() in ("sub", "related", "backdoor", "common", "neapolitan", *_QUALITY_KINDS):
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
            elif kind == "common":
                found.common = True
            elif kind == "neapolitan":
                found.number, found.words = "b2", ("maj",)
            else:
                found.words += (kind,)
                found.dominant_first = found.dominant_first or kind == "dom"

    def number(self, found: _Element) -> None:
        """Accidentals and the number itself, in figures, in Roman or in words."""
        signs = ""
        first = self.at
        while self.kind() == "acc":
            text = self.words[self.at].text.lower()
            signs += {"flat": "b", "sharp": "#"}.get(text, text)
            self.at += 1
        word = self.peek()
        if found.number or word is None or word.kind not in ("roman", "digits", "number"):
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
            elif (
                word.kind == "acc" and self.kind(1) in ("digits", "number") and self.words[self.at + 1].text in _ALTERED
            ):
                found.altered += ({"flat": "b", "sharp": "#"}.get(word.text, word.text) + self.words[self.at + 1].text,)
                self.at += 1
            else:
                return
            self.at += 1

    def extension(self, found: _Element, word: Token) -> None:
        text = NUMBER_WORDS.get(word.text.lower(), word.text)
        if self.figured(found, text):
            return
        if found.extension == "6" and text == "9":
            text = "69"
        elif found.extension:
            raise self.leftover()
        power = (
            text == "5"
            and self.at > 0
            and (self.words[self.at - 1].kind, self.words[self.at - 1].end) == ("roman", word.start)
        )
        if text not in _EXTENSIONS or (text == "5" and not power):
            raise self.leftover()
        found.extension = text
        nine = self.peek(2)
        if text == "6" and self.kind(1) == "of" and nine is not None and nine.text == "9":
            found.extension = "69"
            self.at += 2

    def figured(self, found: _Element, text: str) -> bool:
        """Figures of an inversion after a numeral, run together or with a stroke: 64, 6/4, 6/5, 4/3, 4/2."""
        after = self.peek(2)
        if self.words[self.at - 1].kind != "roman" or found.extension:
            return False
        if text not in _FIGURES:
            stroke = self.peek(1)
            if stroke is None or stroke.text != "/" or after is None or text + after.text not in _FIGURES:
                return False
            text += after.text
            self.at += 2
        found.figure, found.extension = text, "" if text == "64" else "7"
        return True


def _compose(elements: list[_Element]) -> Answer:
    first, rest = elements[0], elements[1:]
    of = tuple(_step(element) for element in rest)
    number = first.number
    if first.common and number in (None, "1", "7"):  # CT°7: its 7 is the seventh
        return Answer("1", "dim7", of, sort="common-tone")
    if first.backdoor and number == "2":
        return Answer("4", _quality(first) or "m7", of)  # the 2 that goes with the back door
    if first.backdoor:
        if number not in (None, "7", "b7", "5"):
            of = (number, *of)  # "backdoor 4": the backdoor into the four
        return Answer("b7", "7" if number and "7" in number else _quality(first), of, backdoor=True, lower=first.lower)
    if first.substitute and number not in (None, "5", "b2", "2b"):
        replaced = degree_at(degree_fifths(number) - 1) if _quality(first) == "7" else number
        return Answer("5", None, (replaced, *of), substitute=True, lower=first.lower)
    if first.substitute:
        return Answer("5", _quality(first), of, substitute=True, lower=first.lower)
    if number is None and first.related:
        number = "2"
    elif first.dominant_first and number in (None, "7"):
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


def _said(goal: _Element) -> str | None:
    """The quality that a goal was said to have; a small Roman numeral says minor, a capital one nothing."""
    return _quality(goal) or ("m" if goal.lower else None if "maj" not in goal.words else "")


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
    if extension in ("5", "6", "69"):
        return extension[0]
    return "7" if found.altered else None


def _minor_quality(words: set[str], extension: str, flat_five: bool) -> str:
    if "maj" in words:
        return "mmaj7"
    if flat_five:
        return "m7b5"
    if extension.startswith("6"):
        return "m6"
    return "m7" if extension else "m"
