"""Chord text → ChordSymbol, or a located problem with the nearest reading to type instead.

What bands write is read generously; where a spelling is ambiguous one meaning is chosen and a remark says
which (the choices follow common practice, no single source):

- `C2` is a triad with an added 9th; only `sus` takes the third away.      `C4` is Csus4.
- `C+` is the augmented triad; `C7+` and `C+7` are C7#5, never a major seventh.
- `C11` is C9sus4, because a band leaves the third out.                     `Csus` is Csus4.
- `C°` is the triad; the diminished seventh is `C°7`.                       `Δ` alone is a major seventh.
- `C-9` is Cm9; a flat ninth needs a 7: `C7b9` (or `C7-9`).                 `CM` is major and `Cm` minor.
- `Cm7/11` is Cm7 with an 11th, not a bass note; `C7/Bb` has a bass note.
- `C(b9)`, `C(#9)`, `C(b13)` have the minor seventh that those alterations imply.
- `D/C7` is the triad over the seventh chord: C13#11.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from functools import lru_cache

from .chord_symbol import NO_CHORD, ChordSymbol, SymbolReading, make_symbol
from .problems import Problem
from .spelling import NoteName, SpellingError
from .symbol_hints import suggest_root, suggest_suffix
from .vocabulary import ALTERED, degree_parts

MOST_CHARACTERS = 60
_NO_CHORD = re.compile(r"n\.?\s?c\.?|no\s?chord|tacet", re.IGNORECASE)
_ROOT = re.compile(r"([A-G])(bb|##|b|#|x)?")
_BASS = re.compile(r"/\s*([A-Ga-gH])(bb|##|b|#)?\s*$")
_BASS_DEGREE = re.compile(r"/\s*(b3|#4|b5|#5|b6|b7|[34578])\s*$")
_PLAIN = {
    "♭": "b", "♯": "#", "＃": "#", "𝄫": "bb", "𝄪": "##", "♮": "",
    "△": "Δ", "∆": "Δ", "▵": "Δ", "▲": "Δ", "^": "Δ", "º": "°", "˚": "°", "○": "°", "⁰": "°",
    "Ø": "ø", "⌀": "ø", "∅": "ø", "ᴓ": "ø", "−": "-", "–": "-", "—": "-", "‐": "-", "‑": "-",
    "⁺": "+", "＋": "+", "⁻": "-", "⁄": "/", "∕": "/", "，": ",", "[": "(", "]": ")", "{": "(", "}": ")",
    "⁴": "4", "⁵": "5", "⁶": "6", "⁷": "7", "⁹": "9", "¹": "1", "²": "2", "³": "3",
    "\u00a0": " ", "\u202f": " ", "\t": " ",
}  # fmt: skip

_IMPLY_SEVENTH = frozenset({"b9", "#9", "b13"})
_CLEAR_ENHARMONICS = {"Cb", "Fb", "E#", "B#"}


@dataclass
class _State:
    """What has been read so far of the text after the root."""

    third: str = "3"
    fifths: list[str] = field(default_factory=list)
    seventh: str = ""
    sixth: bool = False
    stack: set[str] = field(default_factory=set)  # degrees implied by a number such as 13
    named: set[str] = field(default_factory=set)  # degrees written out
    omitted: set[str] = field(default_factory=set)
    quality: str = (
        ""  # "", "minor", "diminished", "half-diminished", "augmented", "dominant", "power", "altered"
    )
    major_sign: str = ""  # "maj" or "Δ" once seen, until a number uses it
    number: bool = False
    sus: bool = False
    started: bool = False
    depth: int = 0
    remarks: list[str] = field(default_factory=list)


class _Unreadable(Exception):
    """Raised inside the reader only: where it stopped, why, and what to type instead."""

    def __init__(self, start: int, message: str, suggestion: str = "") -> None:
        super().__init__(message)
        self.start, self.message, self.suggestion = start, message, suggestion


def parse_symbol(text: str) -> SymbolReading:
    """Read one chord symbol. Never raises.

    >>> [parse_symbol(t).symbol.text for t in ("C-7b5", "CΔ", "B♭7(b9,#11)", "D/C7", "C°7")]
    ['Cm7b5', 'Cmaj7', 'Bb7(b9,#11)', 'C13#11', 'Cdim7']
    >>> parse_symbol("N.C.").symbol is None and parse_symbol("N.C.").ok
    True
    >>> parse_symbol("cm7").problem.suggestion
    'Cm7'
    """
    return _parse(text)


@lru_cache(maxsize=16384)
def _parse(text: str) -> SymbolReading:
    plain, origin = _plain(text[: MOST_CHARACTERS + 1])
    if len(text) > MOST_CHARACTERS:
        return _failed(text, origin, 0, "This is too long to be one chord.", "")
    if _NO_CHORD.fullmatch(plain.strip()):
        return SymbolReading(None)
    try:
        symbol, remarks = _read(plain)
    except _Unreadable as stop:
        return _failed(text, origin, stop.start, stop.message, stop.suggestion)
    return SymbolReading(symbol, None, tuple(dict.fromkeys(remarks)))


def _failed(text: str, origin: list[int], start: int, message: str, suggestion: str) -> SymbolReading:
    begin = origin[min(start, len(origin) - 1)] if origin else 0
    end = max(len(text.rstrip()), begin)
    return SymbolReading(None, Problem(message, suggestion, begin, end))


def _plain(text: str) -> tuple[str, list[int]]:
    """The text in ASCII-like signs, and for every character where it came from (plus one past the end)."""
    out: list[str] = []
    origin: list[int] = []
    for index, char in enumerate(text):
        for piece in _PLAIN.get(char, char):
            out.append(piece)
            origin.append(index)
    origin.append(len(text))
    return "".join(out), origin


def _read(plain: str) -> tuple[ChordSymbol, list[str]]:
    start = len(plain) - len(plain.lstrip())
    body = plain.strip()
    if len(body) > 2 and body[0] == "(" and body[-1] == ")" and "(" not in body[1:-1]:
        symbol, remarks = _read(" " * (start + 1) + body[1:-1])
        return symbol, [*remarks, "Brackets round a whole chord are left out."]
    root, after = _root(plain, start)
    over = _upper_structure(plain, start)
    if over is not None:
        return over
    end, bass = _bass(plain, after, root)
    state = _State()
    _read_body(plain, after, end, state, root)
    degrees = _degrees(state, root, plain, after)
    if root.text in _CLEAR_ENHARMONICS and plain[after:end][:1] in "59" and plain[after:end]:
        tension = ("b" if root.alter < 0 else "#") + plain[after:end]
        state.remarks.append(f"{root.display} is the root here; for {root.letter}7 with a {tension} type "
                             f"{root.letter}7{tension}.")  # fmt: skip
    return make_symbol(root, degrees, bass), state.remarks


def _root(plain: str, start: int) -> tuple[NoteName, int]:
    hint = suggest_root(plain[start:].rstrip())
    if hint is not None and _reads(hint[0]):
        raise _Unreadable(start, hint[1], hint[0])
    match = _ROOT.match(plain, start)
    if match is None:
        shown = plain[start:].rstrip()
        what = (
            f"“{shown}” does not begin with a note name from A to G." if shown else "There is no chord here."
        )
        raise _Unreadable(start, what, NO_CHORD if not shown else "")
    return NoteName.parse(match[1] + (match[2] or "")), match.end()


def _reads(text: str) -> bool:
    """Whether a text would be read; used before it is offered as advice."""
    try:
        _read(text)
    except _Unreadable:
        return False
    return True


def _bass(plain: str, after: int, root: NoteName) -> tuple[int, NoteName | None]:
    """Where the chord ends and the bass that follows a slash, if any."""
    match = _BASS.search(plain, after)
    if match is not None:
        name, sign = match[1], match[2] or ""
        before = plain[: match.start()].strip()
        if name == "H":
            raise _Unreadable(match.start(1), "The note H is written B here.", f"{before}/B{sign}")
        if name.islower():
            raise _Unreadable(
                match.start(1), "A bass note is written with a capital.", f"{before}/{name.upper()}{sign}"
            )
        return match.start(), NoteName.parse(name + sign)
    degree = _BASS_DEGREE.search(plain, after)
    if degree is not None and not re.search(r"[679]$", plain[after : degree.start()]):
        try:
            bass = _note_of(root, degree[1])
        except SpellingError:
            return len(plain), None
        before = plain[: degree.start()].strip()
        raise _Unreadable(
            degree.start(1), "A bass is written as a note, not as a number.", f"{before}/{bass.text}"
        )
    return len(plain), None


def _note_of(root: NoteName, degree: str) -> NoteName:
    return make_symbol(root, ("1",)).tone(degree)


_UPPER = re.compile(
    r"([A-G](?:b|#)?(?:maj|M|m|min|-|aug|\+|dim|°|sus4?|sus2)?)\s*/\s*([A-G](?:b|#)?[^/]*[7-9].*)"
)


def _upper_structure(plain: str, start: int) -> tuple[ChordSymbol, list[str]] | None:
    """A triad over a seventh chord, "D/C7", as one chord with tensions."""
    match = _UPPER.fullmatch(plain[start:].rstrip())
    if match is None:
        return None
    lower, remarks = _read(" " * (start + match.start(2)) + match[2])
    upper, _ = _read(match[1])
    if lower.seventh is None or lower.bass is not None:
        return None
    degrees = set(lower.degrees) | {_as_tension(lower, tone, start) for tone in upper.tones}
    combined = make_symbol(lower.root, degrees)
    return combined, [*remarks, f"{match[1]} over {match[2].strip()} is read as {combined.display}."]


_TENSION_OF_SEMITONE = {
    0: "1",
    1: "b9",
    2: "9",
    3: "#9",
    4: "3",
    5: "11",
    6: "#11",
    7: "5",
    8: "b13",
    9: "13",
}


def _as_tension(lower: ChordSymbol, tone: NoteName, start: int) -> str:
    for degree, own in zip(lower.degrees, lower.tones, strict=True):
        if own.pc == tone.pc:
            return degree
    semitones = (tone.pc - lower.root.pc) % 12
    if semitones not in _TENSION_OF_SEMITONE:
        raise _Unreadable(
            start, f"{tone.display} cannot sound over {lower.display}: it has another seventh.", lower.text
        )
    return _TENSION_OF_SEMITONE[semitones]


# --- the body: tokens in the order they are tried --------------------------------------------------------

_TOKENS: tuple[tuple[str, re.Pattern[str]], ...] = (
    ("space", re.compile(r"[\s,.;|/]+(?=\S)|[\s,.;]+$")),
    ("open", re.compile(r"\(")),
    ("close", re.compile(r"\)")),
    ("omit", re.compile(r"(?:omit|no)\s*(1|3|5|7|9|11|b3|b5|b7)(?:rd|th)?", re.IGNORECASE)),
    ("addmaj", re.compile(r"add\s*(?:maj|ma|M|Δ)7")),
    ("add", re.compile(r"add(?:ed)?\s*([b#+\-]?)\s*(13|11|10|2|4|6|9)", re.IGNORECASE)),
    ("sus", re.compile(r"sus(?:pended)?\s*(2/?4|4/?2|2|4)?(?!\d*[b#]\d*sus)", re.IGNORECASE)),
    ("alt", re.compile(r"alt(?:ered)?\.?", re.IGNORECASE)),
    ("fifth", re.compile(r"(aug|dim)\.?\s*5", re.IGNORECASE)),
    ("half", re.compile(r"half[\s-]?dim(?:inished)?|hdim|ø|h(?=7|$)", re.IGNORECASE)),
    ("dim", re.compile(r"dim(?:inished)?|DIM|°|o(?![a-z])")),
    ("aug", re.compile(r"aug(?:mented)?|AUG")),
    ("dom", re.compile(r"dom(?:inant)?", re.IGNORECASE)),
    ("major", re.compile(r"major|Major|MAJOR|maj|Maj|MAJ|Ma|MA|ma(?!d|j|u|l)|j(?=7|9|13|$)|M(?!I|i)|Δ")),
    ("minor", re.compile(r"minor|Minor|MINOR|min|Min|MIN|MI|Mi|mi(?!s)|m")),
    ("altered", re.compile(r"(b{1,2}|#|\+|-)\s*(13|11|10|9|7|6|5|4)")),
    ("plus", re.compile(r"\+")),
    ("minus", re.compile(r"-")),
    ("number", re.compile(r"13|11|10|[24579]|6")),
)  # fmt: skip


def _read_body(plain: str, start: int, end: int, state: _State, root: NoteName) -> None:
    at = start
    while at < end:
        name, match = _next_token(plain, at, end, state)
        if match is None:
            raise _stuck(plain, start, at, end)
        try:
            _HANDLERS[name](state, match)
        except _Unreadable as stop:
            raise _Unreadable(at, stop.message, _with_root(plain, start, stop.suggestion)) from None
        state.started = state.started or name != "space"
        at = match.end()


def _with_root(plain: str, start: int, suggestion: str) -> str:
    return plain[:start].strip() + suggestion if suggestion else ""


def _next_token(plain: str, at: int, end: int, state: _State) -> tuple[str, re.Match[str] | None]:
    for name, pattern in _TOKENS:
        match = pattern.match(plain, at, end)
        if match is None or match.end() == at or (name == "altered" and not _is_alteration(state, match)):
            continue
        return name, match
    return "", None


def _is_alteration(state: _State, match: re.Match[str]) -> bool:
    """ "-9" and "+9" alter a degree only after something else: "C-9" is minor, "C+9" augmented."""
    return match[1][0] in "b#" or state.started


def _stuck(plain: str, start: int, at: int, end: int) -> _Unreadable:
    body = plain[start:end].rstrip()
    root, bass = plain[:start].strip(), plain[end:].strip()
    nearest = next((s for s in suggest_suffix(body, plain[start:at]) if _reads(root + s + bass)), "")
    shown = plain[at:end].strip()
    return _Unreadable(at, f"“{shown}” is not known after {plain[:at].strip()}.", root + nearest + bass)


def _on_nothing(state: _State, match: re.Match[str]) -> None:
    """Spaces and commas separate; they mean nothing."""


def _on_open(state: _State, match: re.Match[str]) -> None:
    state.depth += 1


def _on_close(state: _State, match: re.Match[str]) -> None:
    state.depth = max(0, state.depth - 1)


def _on_omit(state: _State, match: re.Match[str]) -> None:
    state.omitted.add(match[1].lstrip("b"))


def _on_add_major(state: _State, match: re.Match[str]) -> None:
    _set_seventh(state, "7")


def _on_add(state: _State, match: re.Match[str]) -> None:
    _name_degree(state, match[1], match[2], added=True)


def _on_sus(state: _State, match: re.Match[str]) -> None:
    which = (match[1] or "4").replace("/", "")
    if state.quality == "minor":
        state.remarks.append("A suspended chord has no third, so minor is left out.")
    state.sus = True
    state.third = "2" if which == "2" else "4"
    if len(which) == 2:
        state.named.add("9")


def _on_alt(state: _State, match: re.Match[str]) -> None:
    if state.quality not in ("", "dominant", "augmented") or state.major_sign:
        raise _Unreadable(0, "Only a dominant chord can be altered.", "7alt")
    state.quality = "altered"


def _on_fifth(state: _State, match: re.Match[str]) -> None:
    state.fifths.append("#5" if match[1].lower() == "aug" else "b5")


def _quality(state: _State, quality: str) -> None:
    if state.quality and state.quality != quality:
        raise _Unreadable(0, f"A chord cannot be both {state.quality} and {quality}.")
    if state.sus and quality != "augmented":
        state.remarks.append("A suspended chord has no third.")
    elif quality in ("minor", "diminished", "half-diminished"):
        state.third = "b3"
    state.quality = quality


def _on_half(state: _State, match: re.Match[str]) -> None:
    _quality(state, "half-diminished")
    state.fifths.append("b5")
    state.seventh = "b7"


def _on_dim(state: _State, match: re.Match[str]) -> None:
    _quality(state, "diminished")
    state.fifths.append("b5")


def _on_aug(state: _State, match: re.Match[str]) -> None:
    state.fifths.append("#5")
    if not state.started:
        _quality(state, "augmented")


def _on_dominant(state: _State, match: re.Match[str]) -> None:
    _quality(state, "dominant")


def _on_major(state: _State, match: re.Match[str]) -> None:
    if state.seventh == "b7" and state.number and state.quality in ("", "minor"):
        state.seventh = "7"
        state.remarks.append("“7M” is read as a major seventh.")
        return
    if state.major_sign or state.seventh:
        raise _Unreadable(0, "This chord would have two different sevenths.", "maj7")
    state.major_sign = "Δ" if match[0] == "Δ" or match[0] == "j" else "maj"


def _on_minor(state: _State, match: re.Match[str]) -> None:
    if state.started and (state.number or state.major_sign):
        raise _Unreadable(0, "“m” comes right after the root.", "m7" if state.number else "m(maj7)")
    _quality(state, "minor")


def _on_altered(state: _State, match: re.Match[str]) -> None:
    sign = {"+": "#", "-": "b"}.get(match[1], match[1])
    _name_degree(state, sign, match[2], added=False)


def _on_plus(state: _State, match: re.Match[str]) -> None:
    if not state.started:
        rest = match.string[match.end() : match.endpos]
        if rest.startswith(("11", "13")):
            raise _Unreadable(0, "After the root, + means an augmented fifth.", f"7#{rest}")
        if rest.startswith("9"):
            state.remarks.append("+ after the root raises the fifth; for a sharp ninth type 7#9.")
        _quality(state, "augmented")
    state.fifths.append("#5")


def _on_minus(state: _State, match: re.Match[str]) -> None:
    if state.started:
        raise _Unreadable(0, "A minus in the middle of a chord flattens the number after it.", "")
    rest = match.string[match.end() : match.endpos]
    if rest.startswith("5"):
        raise _Unreadable(0, "“-5” could be minor or a flat fifth.", "(b5)")
    if rest.startswith("9"):
        state.remarks.append("- after the root means minor; for a flat ninth type 7b9.")
    _quality(state, "minor")


def _on_number(state: _State, match: re.Match[str]) -> None:
    number = int(match[0])
    alone = not state.started and match.end() == match.endpos
    if number in (2, 4, 5, 10):
        _small_number(state, number, alone)
    elif number == 6:
        if state.seventh and state.number:
            state.named.add("13")
        else:
            state.sixth = True
    elif (
        state.sixth
        or (state.number and number != 7)
        or (state.depth and not state.major_sign and number != 7)
    ):
        if number == 7:
            _set_seventh(state, "b7")
        else:
            state.named.add(str(number))
    else:
        _seventh_from_number(state, number)


def _small_number(state: _State, number: int, alone: bool) -> None:
    if number == 5 and alone:
        state.quality, state.third = "power", ""
    elif number == 2 and not state.number and not state.sixth:
        state.named.add("9")
        state.remarks.append("“2” is read as an added 9th; type sus2 to leave the third out.")
    elif number == 4 and not state.number and not state.sixth and state.third == "3":
        state.third, state.sus = "4", True
        state.remarks.append("“4” is read as sus4.")
    else:
        raise _Unreadable(0, f"“{number}” cannot stand here.", "" if number == 5 else "sus4")


def _seventh_from_number(state: _State, number: int) -> None:
    if state.number and state.seventh:
        raise _Unreadable(0, "This chord has its seventh already.")
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


def _set_seventh(state: _State, seventh: str) -> None:
    if state.seventh and state.seventh != seventh:
        raise _Unreadable(0, "This chord would have two different sevenths.", "maj7")
    state.seventh = seventh


_DEGREE_ALIASES = {"2": "9", "4": "11", "6": "13"}


def _name_degree(state: _State, sign: str, number: str, *, added: bool) -> None:
    sign = {"+": "#", "-": "b"}.get(sign, sign)
    if number == "10":
        sign, number = ("#", "9") if sign == "b" else (sign, "10")
        if number == "10":
            raise _Unreadable(0, "A tenth is the third of the chord.")
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
        raise _Unreadable(0, f"There is no {degree} that is not another chord tone.")
    state.named.add(degree)
    if not added and degree in _IMPLY_SEVENTH and not state.started:
        state.remarks.append(f"{degree} on a triad is read as a dominant seventh with {degree}.")
    if added:
        state.omitted.discard(degree)


_HANDLERS = {
    "space": _on_nothing,
    "open": _on_open,
    "close": _on_close,
    "omit": _on_omit,
    "addmaj": _on_add_major,
    "add": _on_add,
    "sus": _on_sus,
    "alt": _on_alt,
    "fifth": _on_fifth,
    "half": _on_half,
    "dim": _on_dim,
    "aug": _on_aug,
    "dom": _on_dominant,
    "major": _on_major,
    "minor": _on_minor,
    "altered": _on_altered,
    "plus": _on_plus,
    "minus": _on_minus,
    "number": _on_number,
}


# --- from what was read to degrees -------------------------------------------------------------------------


def _degrees(state: _State, root: NoteName, plain: str, after: int) -> set[str]:
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


def _settle_major_sign(state: _State) -> None:
    """A major sign that no number followed: Δ, and any after a minor, is a major seventh."""
    if not state.major_sign:
        return
    tension = any(degree_parts(d)[1] for d in state.named)
    means_seventh = state.major_sign == "Δ" or state.quality in ("minor", "diminished") or tension
    if means_seventh and not state.sixth:
        state.seventh = state.seventh or "7"


def _settle_seventh(state: _State) -> None:
    if state.quality in ("dominant", "half-diminished") and not state.seventh:
        state.seventh = "b7"
    implied = state.named & _IMPLY_SEVENTH
    plain_third = state.third in ("3", "4", "2") and state.quality in ("", "augmented")
    if implied and plain_third and not state.seventh and not state.sixth:
        state.seventh = "b7"
        state.remarks.append("An altered 9th or 13th is read with a minor seventh.")


def _fifths(state: _State) -> set[str]:
    if state.fifths:
        return set(state.fifths)
    return {"5"}


def _stacked(state: _State) -> set[str]:
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
