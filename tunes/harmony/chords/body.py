"""The words of a chord after its root: a table of tokens in the order they are tried, and what each one does."""

from __future__ import annotations

import re

from tunes.harmony.chords.state import BodyState, Unreadable
from tunes.harmony.chords.vocabulary import IMPLY_SEVENTH

TOKENS: tuple[tuple[str, re.Pattern[str]], ...] = (
    ("space", re.compile(r"[\s,.;|/]+(?=\S)|[\s,.;]+$")),
    ("open", re.compile(r"\(")),
    ("close", re.compile(r"\)")),
    ("omit", re.compile(r"(?:omit|no)\s*(1|3|5|7|9|11|b3|b5|b7)(?:rd|th)?", re.IGNORECASE)),
    ("addmaj", re.compile(r"add\s*(?:maj|ma|M|Δ)7")),
    ("add", re.compile(r"add(?:ed)?\s*([b#+\-]?)\s*(13|11|10|2|4|6|9)", re.IGNORECASE)),
    ("sus", re.compile(r"sus(?:pended)?\s*(2/?4|4/?2|2|4|\(2\)|\(4\))?", re.IGNORECASE)),
    ("phrygian", re.compile(r"phryg(?:ian)?\.?", re.IGNORECASE)),
    ("quartal", re.compile(r"quartal", re.IGNORECASE)),
    ("alt", re.compile(r"alt(?:ered)?\.?", re.IGNORECASE)),
    ("fifth", re.compile(r"(aug|dim)\.?\s*5", re.IGNORECASE)),
    ("half", re.compile(r"half[\s-]?dim(?:inished)?|hdim|ø|h(?=7|$)", re.IGNORECASE)),
    ("dim", re.compile(r"dim(?:inished)?|DIM|°|o(?![a-z])")),
    ("aug", re.compile(r"aug(?:mented)?|AUG")),
    ("dom", re.compile(r"dom(?:inant)?", re.IGNORECASE)),
    ("major", re.compile(r"major|Major|MAJOR|maj|Maj|MAJ|Ma(?!d)|MA(?!D)|ma(?!d|j|u|l)|j(?=7|9|13|$)|M(?!I|i)|Δ")),
    ("minor", re.compile(r"minor|Minor|MINOR|min|Min|MIN|MI|Mi|mi(?!s)|m")),
    ("plusfive", re.compile(r"\+5(?!\d)")),
    ("altered", re.compile(r"(b{1,2}|#|\+|-)\s*(13|11|10|9|7|6|5|4)")),
    ("plus", re.compile(r"\+")),
    ("minus", re.compile(r"-")),
    ("sixnine", re.compile(r"9/6|96")),
    ("number", re.compile(r"13|11|10|[24579]|6")),
)  # fmt: skip


def _on_nothing(state: BodyState, match: re.Match[str]) -> None:
    """Spaces and commas separate; they mean nothing."""


def _on_open(state: BodyState, match: re.Match[str]) -> None:
    state.depth += 1


def _on_close(state: BodyState, match: re.Match[str]) -> None:
    state.depth = max(0, state.depth - 1)


def _on_omit(state: BodyState, match: re.Match[str]) -> None:
    state.omitted.add(match[1].lstrip("b"))


def _on_add_major(state: BodyState, match: re.Match[str]) -> None:
    _set_seventh(state, "7")


def _on_add(state: BodyState, match: re.Match[str]) -> None:
    _name_degree(state, match[1], match[2], added=True)


def _on_sus(state: BodyState, match: re.Match[str]) -> None:
    which = (match[1] or "4").replace("/", "").strip("()")
    if state.quality == "minor":
        state.remarks.append("A suspended chord has no third, so minor is left out.")
    state.sus = True
    state.third = "2" if which == "2" else "4"
    if len(which) == 2:
        state.named.add("9")


def _on_alt(state: BodyState, match: re.Match[str]) -> None:
    if state.quality not in ("", "dominant", "augmented") or state.major_sign:
        raise Unreadable(0, "Only a dominant chord can be altered.", "7alt")
    state.quality = "altered"


def _on_phrygian(state: BodyState, match: re.Match[str]) -> None:
    """The suspended dominant with a flat ninth: the fourths of the Phrygian mode over its root."""
    if state.quality or state.number or state.named:
        raise Unreadable(0, "“phryg” stands right after the root.", "phryg")
    state.sus, state.third, state.seventh, state.number = True, "4", "b7", True
    state.named.add("b9")
    state.remarks.append("“phryg” is read as 7sus4 with a flat ninth.")


def _on_quartal(state: BodyState, match: re.Match[str]) -> None:
    """Root, fourth, seventh and the third above it: three fourths one on the other."""
    if state.quality or state.number or state.named:
        raise Unreadable(0, "“quartal” stands right after the root.", "quartal")
    state.quality, state.third, state.seventh, state.number = "minor", "b3", "b7", True
    state.named.add("11")
    state.omitted.add("5")
    state.remarks.append("“quartal” is read as its notes, a stack of fourths: m7 with an 11th and no fifth.")


def _on_plus_five(state: BodyState, match: re.Match[str]) -> None:
    if not state.started:
        _quality(state, "augmented")
    state.fifths.append("#5")


def _on_fifth(state: BodyState, match: re.Match[str]) -> None:
    state.fifths.append("#5" if match[1].lower() == "aug" else "b5")


def _quality(state: BodyState, quality: str) -> None:
    if state.quality and state.quality != quality:
        raise Unreadable(0, f"A chord cannot be both {state.quality} and {quality}.")
    if state.sus and quality != "augmented":
        state.remarks.append("A suspended chord has no third.")
    elif quality in ("minor", "diminished", "half-diminished"):
        state.third = "b3"
    state.quality = quality


def _on_half(state: BodyState, match: re.Match[str]) -> None:
    _quality(state, "half-diminished")
    state.fifths.append("b5")
    state.seventh = "b7"


def _on_dim(state: BodyState, match: re.Match[str]) -> None:
    _quality(state, "diminished")
    state.fifths.append("b5")


def _on_aug(state: BodyState, match: re.Match[str]) -> None:
    state.fifths.append("#5")
    if not state.started:
        _quality(state, "augmented")


def _on_dominant(state: BodyState, match: re.Match[str]) -> None:
    _quality(state, "dominant")


def _on_major(state: BodyState, match: re.Match[str]) -> None:
    if state.seventh == "b7" and state.number and state.quality in ("", "minor"):
        state.seventh = "7"
        state.turned = state.quality == "minor" and bool(state.stack)
        if not state.depth:
            state.remarks.append("“7M” is read as a major seventh.")
        return
    if state.quality == "diminished" and state.seventh == "bb7" and "7" not in state.named:
        state.named.add("7")
        state.turned = True
        return
    if state.major_sign or state.seventh:
        raise Unreadable(
            0, "This chord would have two different sevenths.", *_MAJOR_SEVENTH.get(state.quality, ("maj7",))
        )
    state.major_sign = "Δ" if match[0] == "Δ" or match[0] == "j" else "maj"


def _on_minor(state: BodyState, match: re.Match[str]) -> None:
    if state.started and (state.number or state.major_sign):
        raise Unreadable(0, "“m” comes right after the root.", "m7" if state.number else "m(maj7)")
    _quality(state, "minor")


def _on_altered(state: BodyState, match: re.Match[str]) -> None:
    sign = {"+": "#", "-": "b"}.get(match[1], match[1])
    _name_degree(state, sign, match[2], added=False)


def _on_plus(state: BodyState, match: re.Match[str]) -> None:
    if not state.started:
        rest = match.string[match.end() : match.endpos]
        if rest.startswith(("11", "13")):
            raise Unreadable(0, "After the root, + means an augmented fifth.", f"7#{rest}")
        if rest.startswith("9"):
            state.remarks.append("+ after the root raises the fifth; for a sharp ninth type 7#9.")
        _quality(state, "augmented")
    state.fifths.append("#5")


def _on_minus(state: BodyState, match: re.Match[str]) -> None:
    if state.started:
        raise Unreadable(0, "A minus in the middle of a chord flattens the number after it.", "")
    rest = match.string[match.end() : match.endpos]
    if rest.startswith("5"):
        raise Unreadable(0, "“-5” could be minor or a flat fifth.", "(b5)")
    if rest.startswith("9"):
        state.remarks.append("- after the root means minor; for a flat ninth type 7b9.")
    _quality(state, "minor")


def _on_number(state: BodyState, match: re.Match[str]) -> None:
    number = int(match[0])
    if number == 7 and state.turned:
        state.turned = False
        return
    alone = not state.started and match.end() == match.endpos
    if number in (2, 4, 5, 10):
        _small_number(state, number, alone)
    elif number == 6:
        if state.seventh and state.number:
            state.named.add("13")
        else:
            state.sixth = True
    elif state.sixth or (state.number and number != 7) or (state.depth and not state.major_sign and number != 7):
        if number == 7:
            _set_seventh(state, "7" if state.major_sign else "b7")
            state.major_sign = ""
        else:
            state.named.add(str(number))
    else:
        _seventh_from_number(state, number)


def _on_six_nine(state: BodyState, match: re.Match[str]) -> None:
    if state.seventh or state.sixth or state.number:
        raise Unreadable(0, "6/9 stands right after the root.", "6/9")
    state.sixth = True
    state.named.add("9")


def _small_number(state: BodyState, number: int, alone: bool) -> None:
    if number == 5 and alone:
        state.quality, state.third = "power", ""
    elif number == 2 and not state.number and not state.sixth:
        state.named.add("9")
        state.remarks.append("“2” is read as an added 9th; type sus2 to leave the third out.")
    elif number == 4 and not state.number and not state.sixth and state.third == "3":
        state.third, state.sus = "4", True
        state.remarks.append("“4” is read as sus4.")
    else:
        raise Unreadable(0, f"“{number}” cannot stand here.", "" if number == 5 else "sus4")


def _seventh_from_number(state: BodyState, number: int) -> None:
    if state.number and state.seventh:
        raise Unreadable(0, "This chord has its seventh already: leave this number out.", *_meant(state))
    if state.major_sign:
        _set_seventh(state, "7")
        state.major_sign = ""
    elif state.quality == "diminished":
        _set_seventh(state, "bb7")
    elif not state.seventh:
        _set_seventh(state, "b7")
    state.number = True
    if number >= 9:
        state.stack.add("9")
    if number >= 11:
        state.stack.add("11")
    if number == 13:
        state.stack.add("13")


def _meant(state: BodyState) -> tuple[str, ...]:
    """The chord that "9(maj7)" or "m7(maj7)" names, worded as it is typed here; nothing for other doubled sevenths."""
    if state.seventh != "7" or state.major_sign or state.quality not in ("", "minor") or state.sus:
        return ()
    top = max((int(degree) for degree in state.stack), default=7)
    return (f"m(maj{top})",) if state.quality else (f"maj{top}",)


def _set_seventh(state: BodyState, seventh: str) -> None:
    if state.seventh and state.seventh != seventh:
        raise Unreadable(0, "This chord would have two different sevenths.", "maj7")
    state.seventh = seventh


_DEGREE_ALIASES = {"2": "9", "4": "11", "6": "13"}


def _name_degree(state: BodyState, sign: str, number: str, *, added: bool) -> None:
    sign = {"+": "#", "-": "b"}.get(sign, sign)
    if number == "10":
        sign, number = ("#", "9") if sign == "b" else (sign, "10")
        if number == "10":
            raise Unreadable(0, "A tenth is the third of the chord.")
    if number == "5":
        state.fifths.append(sign + "5")
        return
    if number == "7":
        _set_seventh(state, {"b": "b7", "bb": "bb7"}.get(sign, "7"))
        state.number = True
        return
    if number == "6" and not sign and not state.seventh:
        state.sixth = True
        return
    degree = sign + _DEGREE_ALIASES.get(number, number)
    if degree in ("b11", "#13", "bb9", "bb11", "bb13"):
        raise Unreadable(0, f"There is no {degree} that is not another chord tone.")
    state.named.add(degree)
    if added:
        state.added.add(degree)
    if not added and degree in IMPLY_SEVENTH and not state.started:
        state.remarks.append(f"{degree} on a triad is read as a dominant seventh with {degree}.")


_MAJOR_SEVENTH = {"diminished": ("dim(maj7)",), "minor": ("m(maj7)",), "half-diminished": ("m7b5", "dim(maj7)")}

HANDLERS = {
    "space": _on_nothing,
    "open": _on_open,
    "close": _on_close,
    "omit": _on_omit,
    "addmaj": _on_add_major,
    "add": _on_add,
    "sus": _on_sus,
    "phrygian": _on_phrygian,
    "quartal": _on_quartal,
    "alt": _on_alt,
    "fifth": _on_fifth,
    "half": _on_half,
    "dim": _on_dim,
    "aug": _on_aug,
    "dom": _on_dominant,
    "major": _on_major,
    "minor": _on_minor,
    "plusfive": _on_plus_five,
    "altered": _on_altered,
    "plus": _on_plus,
    "minus": _on_minus,
    "sixnine": _on_six_nine,
    "number": _on_number,
}
