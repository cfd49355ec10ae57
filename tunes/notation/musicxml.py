"""The elements that every score of ours has in common, MusicXML 4.0 (W3C Community Group, 2021).

Zero alterations are left out, because readers print a natural for them; the `text` of a kind is what the page shows.
"""

from __future__ import annotations

from xml.etree import ElementTree as ET
from xml.etree.ElementTree import Element, SubElement

from tunes.harmony.charts.bars import Metre
from tunes.harmony.chords import NO_CHORD, ChordSymbol
from tunes.harmony.pitch.spelling import Key, NoteName, Pitch
from tunes.notation.chords import form_of
from tunes.notation.staff import CLEFS, TYPES

HEAD = (
    '<?xml version="1.0" encoding="UTF-8" standalone="no"?>\n'
    '<!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML 4.0 Partwise//EN" '
    '"http://www.musicxml.org/dtds/partwise.dtd">\n'
)


def document(root: Element) -> str:
    """The whole file as text, to be kept as UTF-8."""
    ET.indent(root, " ")
    return f"{HEAD}{ET.tostring(root, encoding='unicode')}\n"


def harmony(measure: Element, symbol: ChordSymbol | None, offset: int = 0, *, placement: str = "") -> Element:
    """A chord, or "N.C."; `offset` in divisions from the note that follows."""
    element = SubElement(measure, "harmony", {"print-frame": "no", **({"placement": placement} if placement else {})})
    if symbol is None:
        SubElement(SubElement(element, "root"), "root-step", text="").text = "C"
        SubElement(element, "kind", text=NO_CHORD).text = "none"
    else:
        form = form_of(symbol)
        step(element, "root", symbol.root)
        SubElement(element, "kind", text=form.text).text = form.kind
        if symbol.bass is not None:
            step(element, "bass", symbol.bass)
        for change in form.changes:
            degree = SubElement(element, "degree", {"print-object": "no"})
            SubElement(degree, "degree-value").text = str(change.number)
            SubElement(degree, "degree-alter").text = str(change.alter)
            SubElement(degree, "degree-type").text = change.how
    if offset:
        SubElement(element, "offset").text = str(offset)
    return element


def step(parent: Element, word: str, name: NoteName) -> None:
    """`word` is "root" or "bass"."""
    element = SubElement(parent, word)
    SubElement(element, f"{word}-step").text = name.letter
    if name.alter:
        SubElement(element, f"{word}-alter").text = str(name.alter)


def pitch(note: Element, sounds: Pitch) -> None:
    element = SubElement(note, "pitch")
    SubElement(element, "step").text = sounds.name.letter
    if sounds.name.alter:
        SubElement(element, "alter").text = str(sounds.name.alter)
    SubElement(element, "octave").text = str(sounds.octave)


def value(note: Element, number: int, dots: int) -> None:
    """The note head: 4 and 1 is a dotted crotchet."""
    SubElement(note, "type").text = TYPES[number]
    for _ in range(dots):
        SubElement(note, "dot")


def key(attributes: Element, signature: Key) -> None:
    element = SubElement(attributes, "key")
    SubElement(element, "fifths").text = str(signature.fifths)
    SubElement(element, "mode").text = signature.word


def time(attributes: Element, metre: Metre) -> None:
    element = SubElement(attributes, "time")
    SubElement(element, "beats").text = str(metre.beats)
    SubElement(element, "beat-type").text = str(metre.unit)


def clef(attributes: Element, name: str, number: str = "") -> None:
    """`number` of the staff, where there is more than one."""
    element = SubElement(attributes, "clef", {"number": number} if number else {})
    sign, line = CLEFS[name]
    SubElement(element, "sign").text = sign
    SubElement(element, "line").text = str(line)


def rehearsal(measure: Element, label: str) -> None:
    """A letter of the form above the bar."""
    direction = SubElement(measure, "direction", placement="above")
    SubElement(SubElement(direction, "direction-type"), "rehearsal").text = label
