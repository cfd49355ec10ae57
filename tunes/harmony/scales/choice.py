"""The default scale of a chord: first what its symbol says, then what it does in its key, then its kind."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from tunes.harmony.analysis.patterns.modes import mode_of
from tunes.harmony.chords.symbol import ChordSymbol
from tunes.harmony.pitch.spelling import Key, NoteName, degree_interval
from tunes.harmony.readings.function import Function

_MAJOR_SCALE = frozenset({0, 2, 4, 5, 7, 9, 11})
_NATURAL_MINOR = frozenset({0, 2, 3, 5, 7, 8, 10})
_LYDIAN_DOMINANTS = frozenset(
    {"chromatic-approach", "tritone-substitute", "backdoor", "interchange", "chromatic", "plagal"}
)


@dataclass(frozen=True, slots=True)
class Picked:
    """A scale by id with the rule that chose it."""

    rule: str
    scale: str
    tensions: tuple[str, ...]
    avoid: tuple[str, ...] = ()
    also: str = ""


_DIATONIC_MAJOR = {
    ("1", "major"): Picked("diatonic-1", "ionian", ("9", "13")),
    ("2", "minor"): Picked("diatonic-2", "dorian", ("9", "11"), ("13",)),
    ("3", "minor"): Picked("diatonic-3", "phrygian", ("11",)),
    ("5", "major"): Picked("five-major", "ionian", ("9", "13")),
    ("4", "major"): Picked("diatonic-4", "lydian", ("9", "#11", "13")),
    ("6", "minor"): Picked("diatonic-6", "aeolian", ("9", "11")),
    ("7", "half-diminished"): Picked("diatonic-7", "locrian", ("11", "b13")),
}
_BORROWED = {
    ("b3", "major"): Picked("flat-three", "lydian", ("9", "#11", "13"), also="ionian"),
    ("b6", "major"): Picked("borrowed-major", "lydian", ("9", "#11", "13")),
    ("b2", "major"): Picked("borrowed-major", "lydian", ("9", "#11", "13")),
    ("b7", "major"): Picked("borrowed-major", "lydian", ("9", "#11", "13")),
    ("4", "minor"): Picked("minor-iv", "dorian", ("9", "11")),
    ("2", "half-diminished"): Picked("minor-ii", "locrian", ("11", "b13"), also="locrian-9"),
    ("6", "half-diminished"): Picked("minor-vi", "locrian-9", ("9", "11", "b13"), also="locrian"),
}
_MINOR_KEY = {
    **_BORROWED,
    ("1", "minor"): Picked("minor-tonic", "dorian", ("9", "11", "13"), also="aeolian"),
    ("b3", "major"): Picked("flat-three", "ionian", ("9", "13"), also="lydian"),
    ("5", "minor"): Picked("minor-v", "phrygian", ("11",)),
}
_MELODIC = Picked("minor-six", "melodic-minor", ("9", "11", "13"))
_LYDIAN_B7 = ("9", "#11", "13")
_FIVE_SIX = Picked("diatonic-5", "mixolydian", ("9",))
_AFTER_HALF = Picked("dominant-half-two", "mixolydian-b9b13", ("b9", "b13"), also="altered")


def default_scale(symbol: ChordSymbol, function: Function | None, key: Key | None, half_two: bool = False) -> Picked:
    """The rule that applies to a chord; there is one for every chord. `half_two`: its own 2, half diminished, stands before it."""
    said = _by_symbol(symbol, function, key, half_two)
    if said is not None:
        return said
    if symbol.family == "dominant":
        after_half = (
            half_two
            and not symbol.has("9")
            and not symbol.has("13")
            and not (function and function.of in ("sub5", "b7"))
        )
        return _AFTER_HALF if after_half else _dominant(symbol, function, key)
    if (
        symbol.family == "major"
        and function is not None
        and key is not None
        and function.degree == "5"
        and not symbol.has("7")
    ):
        return _FIVE_SIX if symbol.has("6") else _dominant_in_key(symbol, function, key)  # its 7th would be flat
    if symbol.family == "suspended":
        if half_two and not symbol.has("9") and not symbol.has("13"):
            return _AFTER_HALF
        return Picked("suspended", "mixolydian" if "7" not in symbol.degrees else "ionian", ("9", "13"))
    if symbol.family == "diminished":
        return Picked("diminished", "whole-half", ("9", "11", "b13", "7"))
    if symbol.family == "power":
        return _power(symbol, key)
    return _by_function(symbol, function, key)


_ROTATIONS = {
    0: ("ionian", ("9", "13")), 2: ("dorian", ("9", "11", "13")), 4: ("phrygian", ("11",)), 5: ("lydian", ("9", "#11", "13")),
    7: ("mixolydian", ("9", "13")), 9: ("aeolian", ("9", "11")), 11: ("locrian", ("11", "b13")),
}  # fmt: skip


def modal_scale(symbol: ChordSymbol, key: Key, patterns: Sequence[str]) -> Picked | None:
    """In a modal passage, and in a key that is a church mode, every chord takes the notes of the mode, where they have all
    of its own."""
    passage = mode_of(patterns)
    if passage is not None:
        mode, degree = passage
        parent = (key.tonic.pc + degree_interval(degree).semitones - mode.below) % 12
    elif key.church:
        parent = NoteName.from_fifths(key.fifths).pc
    else:
        return None
    known = _ROTATIONS.get((symbol.root.pc - parent) % 12)
    own = {(symbol.root.pc + degree_interval(one).semitones - parent) % 12 for one in symbol.degrees}
    return Picked("modal", *known) if known and own <= _MAJOR_SCALE else None


# --- the symbol itself ---


def _by_symbol(symbol: ChordSymbol, function: Function | None, key: Key | None, half_two: bool) -> Picked | None:
    if symbol.family == "dominant":
        if half_two and symbol.has("b13") and not symbol.has("9") and not symbol.has("#9"):
            return _AFTER_HALF
        return _altered_dominant(symbol, function, key)
    if symbol.family == "suspended" and symbol.has("b9"):
        scale = "dorian-b9" if symbol.has("13") else "phrygian"
        return Picked("symbol-sus-b9", scale, ("b9", "13" if symbol.has("13") else "11"))
    if symbol.family in ("major", "augmented"):
        return _altered_major(symbol)
    if symbol.family == "half-diminished" and symbol.has("9"):
        return Picked("symbol-locrian-9", "locrian-9", ("9", "11", "b13"))
    if symbol.family == "minor":
        return _altered_minor(symbol, function)
    return None


def _altered_dominant(symbol: ChordSymbol, function: Function | None, key: Key | None) -> Picked | None:
    nine = symbol.has("b9") or symbol.has("#9")
    low_thirteen = symbol.has("b13") or symbol.has("#5")
    if symbol.is_altered or (nine and symbol.has("#5")) or (symbol.has("#9") and low_thirteen):
        return Picked("symbol-alt", "altered", ("b9", "#9", "#11", "b13"))
    if nine and symbol.has("b5") and not symbol.has("13"):
        return Picked("symbol-alt", "altered", ("b9", "#9", "b13"))
    if nine and (symbol.has("13") or symbol.has("#11")) and not low_thirteen:
        return Picked("symbol-half-whole", "half-whole", ("b9", "#9", "#11", "13"))
    if symbol.has("b9") and symbol.has("b13"):
        return Picked("symbol-b9b13", "mixolydian-b9b13", ("b9", "b13"))
    if (symbol.has("#11") or symbol.has("b5")) and not nine:
        return Picked("symbol-lydian-b7", "lydian-b7", _LYDIAN_B7)
    if symbol.has("#5"):
        return _sharp_five(symbol, function, key)
    if symbol.has("b13"):
        return Picked("symbol-b13", "mixolydian-b13", ("9", "b13"))
    if nine and not (function is not None and function.kind == "blues"):
        return _flat_nine_alone(symbol, function, key)
    return None


def _sharp_five(symbol: ChordSymbol, function: Function | None, key: Key | None) -> Picked:
    if not symbol.has("9") and _aims_at_minor(function, key):
        return Picked("symbol-alt", "altered", ("b9", "#9", "#11", "b13"))
    return Picked("symbol-whole-tone", "whole-tone", ("9", "#11"))


def _flat_nine_alone(symbol: ChordSymbol, function: Function | None, key: Key | None) -> Picked:
    """♭9 or ♯9 without a 13: the 13th is the one that the goal has."""
    if not _aims_at_minor(function, key):
        return Picked("symbol-half-whole", "half-whole", ("b9", "#9", "#11", "13"))
    if symbol.has("#9"):
        return Picked("symbol-alt", "altered", ("b9", "#9", "#11", "b13"))
    return Picked("dominant-minor", "mixolydian-b9b13", ("b9", "b13"))


def _altered_major(symbol: ChordSymbol) -> Picked | None:
    if symbol.has("#5", "7"):
        return Picked("symbol-lydian-augmented", "lydian-augmented", ("9", "#11"))
    if symbol.has("#5"):
        return Picked("symbol-augmented", "whole-tone", ("9", "#11"))
    if symbol.has("#11") or symbol.has("b5"):
        return Picked("symbol-lydian", "lydian", ("9", "#11", "13"))
    return None


def _altered_minor(symbol: ChordSymbol, function: Function | None) -> Picked | None:
    if symbol.has("b9"):
        return Picked("symbol-minor-b9", "phrygian", ("11",))
    if symbol.has("b13"):
        return Picked("symbol-minor-b13", "aeolian", ("9", "11"))
    if symbol.has("7") or (
        symbol.has("6")
        and (
            function is None or function.kind == "chromatic" or (function.degree in ("1", "4") and function.of is None)
        )
    ):
        return _MELODIC
    if symbol.has("6"):
        return Picked("minor-sixth-key", "dorian", ("9", "11"))
    return None


# --- dominants ---


def _aims_at_minor(function: Function | None, key: Key | None) -> bool:
    """Whether the chord that a dominant prepares is minor."""
    if function is None:
        return False
    if function.target is None or function.target == "1":
        return key is not None and key.mode == "minor"
    return function.target_minor


def _dominant(symbol: ChordSymbol, function: Function | None, key: Key | None) -> Picked:
    if function is None or key is None:
        return Picked("dominant-major", "mixolydian", ("9", "13"))
    if function.kind == "blues":
        if function.degree == "4":
            return Picked("blues-four", "lydian-b7", ("9", "#11", "13"), also="blues")
        return Picked("blues-home", "mixolydian", ("9", "13"), also="blues")
    if function.of == "b7" and function.kind == "diatonic":  # of natural minor, whose 3 is not raised
        return Picked("dominant-major", "mixolydian", ("9", "13"))
    if function.kind in _LYDIAN_DOMINANTS or function.of in ("sub5", "b7"):
        return Picked("lydian-dominant", "lydian-b7", _LYDIAN_B7)
    if function.degree in ("4", "b6") and function.target is None:
        return Picked("four-seven" if function.degree == "4" else "flat-six-seven", "lydian-b7", _LYDIAN_B7)
    if function.kind == "dominant-chain":
        return Picked("dominant-chain", "mixolydian", ("9", "13"))
    return _dominant_in_key(symbol, function, key)


def _dominant_in_key(symbol: ChordSymbol, function: Function, key: Key) -> Picked:
    """Ninth and thirteenth as the home key has them (Nettles 2007); by its goal where the key has neither."""
    parent = NoteName.from_fifths(key.fifths).pc - key.tonic.pc
    home = frozenset((step + parent) % 12 for step in _MAJOR_SCALE)
    minor = _aims_at_minor(function, key)
    root = symbol.root.pc - key.tonic.pc
    nine = _natural_or_flat(home, root, "9", minor)
    thirteen = _natural_or_flat(home, root, "13", minor)
    scale = {
        ("9", "13"): "mixolydian",
        ("9", "b13"): "mixolydian-b13",
        ("b9", "b13"): "mixolydian-b9b13",
        ("b9", "13"): "half-whole",
    }[nine, thirteen]
    sharp_nine = ("#9",) if scale == "half-whole" else ()
    rule = "diatonic-5" if function.degree == "5" and key.mode == "major" and scale == "mixolydian" else "dominant-home"
    tensions = (nine, *sharp_nine, thirteen)
    return Picked(rule, scale, tensions, also="altered" if minor and scale == "mixolydian-b9b13" else "")


def _natural_or_flat(home: frozenset[int], root: int, degree: str, minor: bool) -> str:
    natural = (root + degree_interval(degree).semitones) % 12 in home
    flat = (root + degree_interval(degree).semitones - 1) % 12 in home
    if natural == flat:
        return f"b{degree}" if minor else degree
    return degree if natural else f"b{degree}"


# --- everything else ---


def _by_function(symbol: ChordSymbol, function: Function | None, key: Key | None) -> Picked:
    family = symbol.family
    if function is None or key is None:
        return _by_family(symbol, tonic=True)
    if function.kind == "vamp" and family == "minor":
        return Picked("minor-vamp", "dorian", ("9", "11", "13"), also="aeolian")
    table = {**_BORROWED, **_DIATONIC_MAJOR} if key.mode == "major" else _MINOR_KEY
    found = table.get((function.degree, family))
    if found is not None and not (function.kind == "related-ii" and found.rule in ("minor-v", "minor-tonic")):
        return found
    if family == "minor" and function.kind == "related-ii":
        return Picked("related-ii", "dorian", ("9", "11"), ("13",))
    return _by_family(symbol, tonic=function.degree == "1")


def _by_family(symbol: ChordSymbol, *, tonic: bool) -> Picked:
    if symbol.family == "major":
        return _DIATONIC_MAJOR["1", "major"] if tonic else Picked("major-any", "lydian", ("9", "#11", "13"))
    if symbol.family == "half-diminished":
        return Picked("half-diminished-any", "locrian", ("11", "b13"), also="locrian-9")
    return Picked("minor-any", "dorian", ("9", "11"))


def _power(symbol: ChordSymbol, key: Key | None) -> Picked:
    """The mode of the key on this root, when the root is in the key."""
    modes = {
        0: "ionian",
        2: "dorian",
        4: "phrygian",
        5: "lydian",
        7: "mixolydian",
        9: "aeolian",
        11: "locrian",
    }
    if key is None:
        return Picked("power", "mixolydian", ("9",))
    major = NoteName.from_fifths(key.fifths).pc
    mode = modes.get((symbol.root.pc - major) % 12, "mixolydian")
    return Picked(
        "power",
        mode if mode != "locrian" else "phrygian",
        ("9",) if mode not in ("phrygian", "locrian") else ("11",),
    )
