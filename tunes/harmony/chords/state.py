"""What has been read so far of the text after a chord's root, and the degrees it comes to."""

from __future__ import annotations

from dataclasses import dataclass, field

from tunes.harmony.chords.vocabulary import ALTERED, IMPLY_SEVENTH, degree_parts


@dataclass
class BodyState:
    """What has been read so far of the text after the root."""

    third: str = "3"
    fifths: list[str] = field(default_factory=list)
    seventh: str = ""
    sixth: bool = False
    stack: set[str] = field(default_factory=set)  # degrees implied by a number such as 13
    named: set[str] = field(default_factory=set)  # degrees written out
    added: set[str] = field(default_factory=set)  # those of them that "add" stood before
    omitted: set[str] = field(default_factory=set)
    quality: str = ""  # "", "minor", "diminished", "half-diminished", "augmented", "dominant", "power", "altered"
    major_sign: str = ""  # "maj" or "Δ" once seen, until a number uses it
    number: bool = False
    turned: bool = False  # a seventh made major afterwards, "m9(maj7)": its 7 is still to come
    sus: bool = False
    started: bool = False
    depth: int = 0
    remarks: list[str] = field(default_factory=list)


class Unreadable(Exception):
    """Raised inside the reader only: where it stopped, why, and what might be typed instead, likeliest first."""

    def __init__(self, start: int, message: str, *suggestions: str) -> None:
        super().__init__(message)
        self.start, self.message, self.suggestions = start, message, suggestions


def degrees_of(state: BodyState) -> set[str]:
    if state.quality == "altered":
        return set(ALTERED)
    _settle_major_sign(state)
    _settle_seventh(state)
    degrees = {"1"} | _fifths(state) | _stacked(state) | state.named
    if state.third:
        degrees.add(state.third)
    if state.seventh:
        degrees.add(state.seventh)
    if state.sixth:
        degrees.add("13" if state.seventh in ("7", "b7") else "6")
    if state.quality == "diminished" and not state.seventh and not state.sixth:
        state.remarks.append("° without a 7 is read as a triad; type °7 for the diminished seventh.")
    return {d for d in degrees if d == "1" or d.lstrip("b#") not in state.omitted}


def _settle_major_sign(state: BodyState) -> None:
    """A major sign that no number followed: Δ, and any after a minor, is a major seventh."""
    if not state.major_sign:
        return
    tension = any(degree_parts(d)[1] for d in state.named - state.added)
    means_seventh = state.major_sign == "Δ" or state.quality in ("minor", "diminished") or tension
    if means_seventh and not state.sixth:
        state.seventh = state.seventh or "7"


def _settle_seventh(state: BodyState) -> None:
    if state.quality in ("dominant", "half-diminished") and not state.seventh:
        state.seventh = "b7"
    implied = (state.named - state.added) & IMPLY_SEVENTH
    plain_third = state.third in ("3", "4", "2") and state.quality in ("", "augmented")
    if implied and plain_third and not state.seventh and not state.sixth:
        state.seventh = "b7"
        state.remarks.append("An altered 9th or 13th is read with a minor seventh.")


def _fifths(state: BodyState) -> set[str]:
    if state.fifths:
        return set(state.fifths)
    return {"5"}


def _stacked(state: BodyState) -> set[str]:
    """Degrees that a number implies, less those that an alteration replaces or the style leaves out."""
    stack = set(state.stack)
    if state.third == "3" and state.seventh == "b7" and "11" in stack and "13" not in stack:
        state.third = "4"
        state.remarks.append("“11” on a dominant is read as 9sus4; a third and an 11th together are 9(11).")
    minor = state.third == "b3"
    if "11" in stack and (("13" in stack and not minor) or state.third == "4"):
        stack.discard("11")
    for natural in ("9", "11", "13"):
        if {f"b{natural}", f"#{natural}"} & state.named:
            stack.discard(natural)
    return stack
