"""One `<harmony>` element to one chord symbol in text, with every loss named."""

from __future__ import annotations

from dataclasses import dataclass, field
from xml.etree.ElementTree import Element

from tunes.harmony.chords import ChordSymbol, make_symbol, parse_symbol
from tunes.harmony.pitch.spelling import Interval, Key, NoteName
from tunes.interchange.tree import all_of, integer, one, text_of
from tunes.notation.degrees import HOWS, Change, apply_changes, pitch_classes
from tunes.notation.kinds import ALL_KINDS, FUNCTIONAL, KINDS, Degrees, known_kind, symbol_degrees

LossNote = tuple[str, str]  # a key of LOSSES, a detail


@dataclass
class ChordReading:
    """`found` is False when the element gives no chord at all; `text` None is N.C."""

    found: bool = False
    text: str | None = None
    losses: list[LossNote] = field(default_factory=list)


def read_harmony(element: Element, *, key: Key | None, shift: Interval) -> ChordReading:
    """The chord of a `<harmony>`; `shift` takes written pitch to concert, `key` resolves numerals."""
    reading = ChordReading()
    roots = [child for child in element if child.tag in ("root", "numeral", "function")]
    kinds = all_of(element, "kind")
    if len(roots) > 1:
        reading.losses.append(("stacked", f"{len(roots)} chords at one moment, the first kept"))
    if all_of(element, "frame"):
        reading.losses.append(("frame", "a fingering picture"))
    kind = kinds[0] if kinds else None
    name = known_kind(text_of(kind)) if kind is not None else "major"
    if name == "none":
        reading.found = True
        return reading
    root = _root(roots[0], key) if roots else None
    if root is None:
        said = text_of(roots[0]) if roots else ""
        reading.losses.append(("no-root", f"a chord of kind {name} with no root we can read {said}".strip()))
        return reading
    symbol = _symbol(element, kind, name, root, reading)
    if symbol is None:
        return reading
    bass = _bass(element, symbol)
    if bass is not None:
        symbol = make_symbol(symbol.root, symbol.degrees, bass)
    reading.found = True
    reading.text = symbol.transposed(shift).text
    return reading


def _root(element: Element, key: Key | None) -> NoteName | None:
    if element.tag == "root":
        return _note_name(element, "root-step", "root-alter")
    if element.tag == "numeral" and key is not None:
        number = integer(one(element, "numeral-root"))
        if number is None or not 1 <= number <= 7:
            return None
        local, mode = _numeral_key(one(element, "numeral-key"), key)
        alter = integer(one(element, "numeral-alter")) or 0
        name = local.note_at(_lowered(number, mode))
        return NoteName(name.letter, max(-2, min(2, name.alter + alter)))
    return None


# Degrees of the major scale that a mode lowers; 6 and 7 as the XSD says of `numeral-mode`.
_LOWERED = {
    "major": (),
    "minor": (3, 6, 7),
    "natural minor": (3, 6, 7),
    "harmonic minor": (3, 6),
    "melodic minor": (3,),
}


def _lowered(number: int, mode: str) -> str:
    return f"b{number}" if number in _LOWERED.get(mode, ()) else str(number)


def _numeral_key(element: Element | None, key: Key) -> tuple[Key, str]:
    """The key a numeral counts in, and its mode in the words of the XSD."""
    if element is None:
        return key, key.mode
    fifths = integer(one(element, "numeral-fifths")) or 0
    mode = text_of(one(element, "numeral-mode")) or "major"
    if abs(fifths) > 7:
        return key, key.mode
    minor = mode != "major"
    return Key(NoteName.from_fifths(fifths + (3 if minor else 0)), "minor" if minor else "major"), mode


def _note_name(element: Element, step: str, alter: str) -> NoteName | None:
    letter = text_of(one(element, step))
    if letter not in ("A", "B", "C", "D", "E", "F", "G"):
        return None
    value = integer(one(element, alter)) or 0
    return NoteName(letter, value) if abs(value) <= 2 else None


def _changes(element: Element, reading: ChordReading) -> tuple[Change, ...]:
    changes = []
    for degree in all_of(element, "degree"):
        number = integer(one(degree, "degree-value"))
        said = text_of(one(degree, "degree-type")) or "add"
        how = next((one_of for one_of in HOWS if one_of == said), None)
        alter = integer(one(degree, "degree-alter")) or 0
        if number is None or not 1 <= number <= 13 or abs(alter) > 2 or how is None:
            reading.losses.append(("degree", "a change of a degree that MusicXML does not define"))
            continue
        changes.append(Change(number, alter, how))
    return tuple(changes)


def _symbol(
    element: Element, kind: Element | None, name: str, root: NoteName, reading: ChordReading
) -> ChordSymbol | None:
    changes = _changes(element, reading)
    if name == "other" and not changes:
        said = kind.get("text", "") if kind is not None else ""
        spelled = parse_symbol(root.text + said).symbol if said else None
        if spelled is None:
            reading.losses.append(("unknown-kind", f"kind other, with nothing that says which: {said[:20]!r}"))
        return spelled
    if name in FUNCTIONAL:
        reading.losses.append(("functional-kind", FUNCTIONAL[name].says))
        base = FUNCTIONAL[name].degrees
    elif name in ALL_KINDS:
        base = KINDS[name]
    else:
        reading.losses.append(("unknown-kind", f"{name[:30]!r} is no kind of MusicXML 4.0"))
        return None
    return _checked(root, apply_changes(base, changes), reading)


def _checked(root: NoteName, degrees: Degrees, reading: ChordReading) -> ChordSymbol:
    """The symbol of `degrees`; whatever our notation would not give back is a named loss."""
    symbol = make_symbol(root, symbol_degrees(degrees))
    back = parse_symbol(symbol.text).symbol
    if back is None:
        reading.losses.append(("degree", f"{symbol.text} cannot be typed; its plain kind stands for it"))
        return make_symbol(root, symbol_degrees(frozenset(d for d in degrees if d[0] <= 7)))
    if pitch_classes(degrees) != frozenset((pc - root.pc) % 12 for pc in back.pcs):
        reading.losses.append(("degree", f"{back.text} stands for a chord with other notes"))
    return back


def _bass(element: Element, symbol: ChordSymbol) -> NoteName | None:
    bass = one(element, "bass")
    if bass is not None:
        return _note_name(bass, "bass-step", "bass-alter")
    inversion = integer(one(element, "inversion")) or 0
    return symbol.tones[inversion] if 0 < inversion < len(symbol.tones) else None
