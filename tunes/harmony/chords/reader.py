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
from functools import lru_cache

from tunes.harmony.chords.body import HANDLERS, TOKENS
from tunes.harmony.chords.hints import suggest_root, suggest_suffix
from tunes.harmony.chords.state import BodyState, Unreadable, degrees_of
from tunes.harmony.chords.symbol import NO_CHORD, ChordSymbol, SymbolReading, make_symbol
from tunes.harmony.pitch.spelling import NoteName, SpellingError
from tunes.harmony.problems import Problem

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

_CLEAR_ENHARMONICS = {"Cb", "Fb", "E#", "B#"}


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
    except Unreadable as stop:
        advice = next((text for text in stop.suggestions if text == NO_CHORD or _reads(text)), "")
        return _failed(text, origin, stop.start, stop.message, advice)
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
    state = BodyState()
    _read_body(plain, after, end, state, root)
    degrees = degrees_of(state)
    if root.text in _CLEAR_ENHARMONICS and plain[after:end][:1] in "59" and plain[after:end]:
        tension = ("b" if root.alter < 0 else "#") + plain[after:end]
        state.remarks.append(f"{root.display} is the root here; for {root.letter}7 with a {tension} type "
                             f"{root.letter}7{tension}.")  # fmt: skip
    return make_symbol(root, degrees, bass), state.remarks


def _root(plain: str, start: int) -> tuple[NoteName, int]:
    hint = suggest_root(plain[start:].rstrip())
    if hint is not None and _reads(hint[0]):
        raise Unreadable(start, hint[1], hint[0])
    match = _ROOT.match(plain, start)
    if match is None:
        shown = plain[start:].rstrip()
        what = f"“{shown}” does not begin with a note name from A to G." if shown else "There is no chord here."
        raise Unreadable(start, what, NO_CHORD if not shown else "")
    return NoteName.parse(match[1] + (match[2] or "")), match.end()


def _reads(text: str) -> bool:
    """Whether a text would be read; used before it is offered as advice."""
    try:
        _read(text)
    except Unreadable:
        return False
    return True


def _bass(plain: str, after: int, root: NoteName) -> tuple[int, NoteName | None]:
    """Where the chord ends and the bass that follows a slash, if any."""
    match = _BASS.search(plain, after)
    if match is not None:
        name, sign = match[1], match[2] or ""
        before = plain[: match.start()].strip()
        if name == "H":
            raise Unreadable(match.start(1), "The note H is written B here.", f"{before}/B{sign}")
        if name.islower():
            raise Unreadable(match.start(1), "A bass note is written with a capital.", f"{before}/{name.upper()}{sign}")
        return match.start(), NoteName.parse(name + sign)
    degree = _BASS_DEGREE.search(plain, after)
    if degree is not None and not re.search(r"[679]$", plain[after : degree.start()]):
        try:
            bass = _note_of(root, degree[1])
        except SpellingError:
            return len(plain), None
        before = plain[: degree.start()].strip()
        raise Unreadable(degree.start(1), "A bass is written as a note, not as a number.", f"{before}/{bass.text}")
    return len(plain), None


def _note_of(root: NoteName, degree: str) -> NoteName:
    return make_symbol(root, ("1",)).tone(degree)


_UPPER = re.compile(r"([A-G](?:b|#)?(?:maj|M|m|min|-|aug|\+|dim|°|sus4?|sus2)?)\s*/\s*([A-G](?:b|#)?[^/]*[7-9].*)")


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
        raise Unreadable(
            start, f"{tone.display} cannot sound over {lower.display}: it has another seventh.", lower.text
        )
    return _TENSION_OF_SEMITONE[semitones]


def _read_body(plain: str, start: int, end: int, state: BodyState, root: NoteName) -> None:
    at = start
    while at < end:
        name, match = _next_token(plain, at, end, state)
        if match is None:
            raise _stuck(plain, start, at, end)
        try:
            HANDLERS[name](state, match)
        except Unreadable as stop:
            nearest = [_with_root(plain, start, suggestion) for suggestion in stop.suggestions]
            nearest.append(plain[:at].strip() + plain[match.end() :].strip())
            raise Unreadable(at, stop.message, *nearest) from None
        state.started = state.started or name != "space"
        at = match.end()


def _with_root(plain: str, start: int, suggestion: str) -> str:
    return plain[:start].strip() + suggestion if suggestion else ""


def _next_token(plain: str, at: int, end: int, state: BodyState) -> tuple[str, re.Match[str] | None]:
    for name, pattern in TOKENS:
        match = pattern.match(plain, at, end)
        if match is None or match.end() == at or not _fits(name, state, match):
            continue
        return name, match
    return "", None


def _fits(name: str, state: BodyState, match: re.Match[str]) -> bool:
    """Whether a token can stand here: "-9" and "+9" alter a degree only after something else ("C-9" is minor,
    "C+9" augmented), and the one-letter words "h" and "j" come right after the root."""
    if name == "altered":
        return match[1][0] in "b#" or state.started
    return not (state.started and match[0] in ("h", "j"))


def _stuck(plain: str, start: int, at: int, end: int) -> Unreadable:
    body = plain[start:end].rstrip()
    root, bass = plain[:start].strip(), plain[end:].strip()
    shown = plain[at:end].strip()
    nearest = [root + suffix + bass for suffix in suggest_suffix(body, plain[start:at])]
    return Unreadable(at, f"“{shown}” is not known after {plain[:at].strip()}.", *nearest)
