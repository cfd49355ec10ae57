"""A line as MusicXML 4.0 (W3C Music Notation Community Group, 2021): notes, changes, transposition.

Written pitch stands in the notes, the `transpose` element says how it sounds. Chord kinds are the standard's own
values, everything else is a `degree`; the `text` of a kind is what the page shows. Zero alterations are left out,
because readers print a natural for them.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from math import lcm
from xml.etree import ElementTree as ET

from drills.lines.line import Line, LineBar, LineChord
from drills.lines.notate import Written, WrittenBar, notate
from tunes.harmony.chords import ChordSymbol
from tunes.harmony.chords.vocabulary import KINDS, degree_parts
from tunes.harmony.pitch.spelling import Interval, NoteName

DOCTYPE = (
    '<!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML 4.0 Partwise//EN" '
    '"http://www.musicxml.org/dtds/partwise.dtd">'
)
_TYPES = {1: "whole", 2: "half", 4: "quarter", 8: "eighth", 16: "16th", 32: "32nd", 64: "64th"}
_ACCIDENTALS = {-2: "flat-flat", -1: "flat", 0: "natural", 1: "sharp", 2: "double-sharp"}
_CLEFS = {"treble": ("G", "2"), "bass": ("F", "4")}
# What each value of MusicXML's `kind` holds (the standard's own list), for the values that we write.
_HELD: dict[str, tuple[str, ...]] = {
    "major": ("1", "3", "5"), "minor": ("1", "b3", "5"), "augmented": ("1", "3", "#5"),
    "diminished": ("1", "b3", "b5"), "dominant": ("1", "3", "5", "b7"), "major-seventh": ("1", "3", "5", "7"),
    "minor-seventh": ("1", "b3", "5", "b7"), "half-diminished": ("1", "b3", "b5", "b7"),
    "diminished-seventh": ("1", "b3", "b5", "bb7"), "major-minor": ("1", "b3", "5", "7"),
    "augmented-seventh": ("1", "3", "#5", "b7"), "major-sixth": ("1", "3", "5", "6"),
    "minor-sixth": ("1", "b3", "5", "6"), "suspended-fourth": ("1", "4", "5"),
    "suspended-second": ("1", "2", "5"), "power": ("1", "5"),
}  # fmt: skip


def to_musicxml(
    line: Line,
    *,
    title: str = "",
    part_name: str = "Drill",
    per_system: int = 4,
    written: Sequence[WrittenBar] | None = None,
    rights: str = "",
) -> str:
    """The whole line as a score of one part; `written` as in `drills.mei.to_mei`."""
    root = ET.Element("score-partwise", version="4.0")
    work = ET.SubElement(root, "work")
    ET.SubElement(work, "work-title").text = title or line.title
    identification = ET.SubElement(root, "identification")
    if rights:
        ET.SubElement(identification, "rights").text = rights
    coding = ET.SubElement(identification, "encoding")
    ET.SubElement(coding, "software").text = "Topform"
    for element in ("accidental", "beam"):
        ET.SubElement(coding, "supports", type="yes", element=element)
    part_list = ET.SubElement(ET.SubElement(root, "part-list"), "score-part", id="P1")
    ET.SubElement(part_list, "part-name").text = part_name
    part = ET.SubElement(root, "part", id="P1")
    bars = notate(line) if written is None else tuple(written)
    divisions = _divisions(bars)
    chords = [[chord for _, chord in row] for row in line.chords_by_bar()]
    for index, bar in enumerate(bars):
        _measure(part, line, index, bar, chords[index], divisions, per_system)
    ET.indent(root, " ")
    return f'<?xml version="1.0" encoding="UTF-8"?>\n{DOCTYPE}\n{ET.tostring(root, encoding="unicode")}\n'


def _divisions(bars: Iterable[WrittenBar]) -> int:
    """The smallest number of divisions of a crotchet in which every note is whole."""
    return lcm(*(note.duration.denominator for bar in bars for voice in bar.voices for note in voice), 2)


def _measure(
    part: ET.Element,
    line: Line,
    index: int,
    written: WrittenBar,
    chords: list[LineChord],
    divisions: int,
    per_system: int,
) -> None:
    bar = written.bar
    measure = ET.SubElement(part, "measure", number=str(bar.number))
    if bar.number == 0:
        measure.set("implicit", "yes")
    pickups = 1 if line.bars[0].number == 0 else 0
    if index > pickups and (index - pickups) % per_system == 0:
        ET.SubElement(measure, "print", {"new-system": "yes"})
    _attributes(measure, line, index, divisions)
    if bar.label:
        direction = ET.SubElement(measure, "direction", placement="above")
        ET.SubElement(ET.SubElement(direction, "direction-type"), "rehearsal").text = bar.label
    _music(measure, chords, written, divisions, line.staves)
    _barline(measure, line, index)


def _attributes(measure: ET.Element, line: Line, index: int, divisions: int) -> None:
    bar = line.bars[index]
    changed = index == 0 or line.bars[index - 1].metre != bar.metre
    if not changed:
        return
    attributes = ET.SubElement(measure, "attributes")
    if index == 0:
        ET.SubElement(attributes, "divisions").text = str(divisions)
        key = ET.SubElement(attributes, "key")
        ET.SubElement(key, "fifths").text = str(line.key.fifths)
        ET.SubElement(key, "mode").text = line.key.word
    time = ET.SubElement(attributes, "time")
    ET.SubElement(time, "beats").text = str(bar.metre.beats)
    ET.SubElement(time, "beat-type").text = str(bar.metre.unit)
    if index == 0 and line.staves == 2:
        ET.SubElement(attributes, "staves").text = "2"
    if index == 0:
        for number, name in enumerate(("treble", "bass") if line.staves == 2 else (line.clef,), start=1):
            clef = ET.SubElement(attributes, "clef", {"number": str(number)} if line.staves == 2 else {})
            sign, staff_line = _CLEFS[name]
            ET.SubElement(clef, "sign").text = sign
            ET.SubElement(clef, "line").text = staff_line
        _transpose(attributes, line.shift)


def _transpose(attributes: ET.Element, shift: Interval) -> None:
    """How far the part sounds below its notes: diatonic, chromatic, whole octaves apart."""
    if shift.semitones == 0:
        return
    octaves = shift.semitones // 12
    element = ET.SubElement(attributes, "transpose")
    ET.SubElement(element, "diatonic").text = str(-(shift.steps - 7 * octaves))
    ET.SubElement(element, "chromatic").text = str(-(shift.semitones - 12 * octaves))
    if octaves:
        ET.SubElement(element, "octave-change").text = str(-octaves)


def _music(measure: ET.Element, chords: list[LineChord], written: WrittenBar, divisions: int, staves: int) -> None:
    bar, waiting = written.bar, chords
    for number, voice in enumerate(written.voices, start=1):
        if number > 1:
            backup = ET.SubElement(measure, "backup")
            ET.SubElement(backup, "duration").text = str(int(bar.length * divisions))
        for note, beam in zip(voice, _beam_states(voice), strict=True):
            if number == 1:
                waiting = _harmonies(measure, waiting, bar, note, divisions)
            _note(measure, note, beam, divisions, str(number) if staves == 2 else "")


def _harmonies(
    measure: ET.Element, waiting: list[LineChord], bar: LineBar, note: Written, divisions: int
) -> list[LineChord]:
    """The chords that begin with a note, or while it sounds."""
    end = note.start + note.duration
    for chord in waiting:
        if chord.start - bar.start < end:
            _harmony(measure, chord.symbol, int((chord.start - bar.start - note.start) * divisions))
    return [chord for chord in waiting if chord.start - bar.start >= end]


def _harmony(measure: ET.Element, symbol: ChordSymbol | None, offset: int) -> None:
    harmony = ET.SubElement(measure, "harmony", {"print-frame": "no"})
    if symbol is None:
        root = ET.SubElement(harmony, "root")
        ET.SubElement(root, "root-step", text="").text = "C"
        ET.SubElement(harmony, "kind", text="N.C.").text = "none"
    else:
        _step(harmony, "root", symbol.root)
        value, degrees = kind_and_degrees(symbol)
        ET.SubElement(harmony, "kind", text=symbol.kind_text).text = value
        if symbol.bass is not None:
            _step(harmony, "bass", symbol.bass)
        for number, alter, how in degrees:
            degree = ET.SubElement(harmony, "degree", {"print-object": "no"})
            ET.SubElement(degree, "degree-value").text = str(number)
            ET.SubElement(degree, "degree-alter").text = str(alter)
            ET.SubElement(degree, "degree-type").text = how
    if offset:
        ET.SubElement(harmony, "offset").text = str(offset)


def _step(parent: ET.Element, word: str, name: NoteName) -> None:
    element = ET.SubElement(parent, word)
    ET.SubElement(element, f"{word}-step").text = name.letter
    if name.alter:
        ET.SubElement(element, f"{word}-alter").text = str(name.alter)


def kind_and_degrees(symbol: ChordSymbol) -> tuple[str, list[tuple[int, int, str]]]:
    """MusicXML's kind and the degrees to alter, take away or add.

    An added degree is counted against a dominant chord (minor seventh), an altered one against the kind itself, as
    the standard has it.
    """
    value = KINDS[symbol.kind].musicxml
    held = {degree_parts(degree)[0]: degree_parts(degree)[1] for degree in _HELD[value]}
    have: dict[int, list[int]] = {}
    for degree in symbol.degrees:
        number, alter = degree_parts(degree)
        have.setdefault(number, []).append(alter)
    degrees: list[tuple[int, int, str]] = []
    for number, alter in held.items():
        here = have.get(number, [])
        if not here:
            degrees.append((number, 0, "subtract"))
        elif alter not in here:
            degrees.append((number, here[0] - alter, "alter"))
    for number, alters in have.items():
        usual = -1 if number == 7 else 0
        extra = alters if number not in held else alters[1:]
        degrees += [(number, alter - usual, "add") for alter in extra]
    return value, degrees


def _beam_states(voice: tuple[Written, ...]) -> Iterator[str]:
    for i, note in enumerate(voice):
        before = i > 0 and voice[i - 1].beam == note.beam
        after = i + 1 < len(voice) and voice[i + 1].beam == note.beam
        if note.beam is None:
            yield ""
        else:
            yield "continue" if before and after else "end" if before else "begin"


def _note(measure: ET.Element, note: Written, beam: str, divisions: int, staff: str) -> None:
    """A note, and after it the further heads of its chord; `staff` "" where there is one only."""
    _one_note(measure, note, beam, divisions, staff)
    for pitch, sign in note.stack:
        _one_note(
            measure, replace(note, pitch=pitch, sign=sign, stack=(), breath=False), "", divisions, staff, chord=True
        )


def _one_note(measure: ET.Element, note: Written, beam: str, divisions: int, staff: str, chord: bool = False) -> None:
    element = ET.SubElement(measure, "note")
    if chord:
        ET.SubElement(element, "chord")
    if note.pitch is None:
        rest = ET.SubElement(element, "rest")
        if note.whole_bar:
            rest.set("measure", "yes")
    else:
        pitch = ET.SubElement(element, "pitch")
        ET.SubElement(pitch, "step").text = note.pitch.name.letter
        if note.pitch.name.alter:
            ET.SubElement(pitch, "alter").text = str(note.pitch.name.alter)
        ET.SubElement(pitch, "octave").text = str(note.pitch.octave)
    ET.SubElement(element, "duration").text = str(int(note.duration * divisions))
    for there, kind in ((note.tied_from, "stop"), (note.tied_to, "start")):
        if there:
            ET.SubElement(element, "tie", type=kind)
    ET.SubElement(element, "voice").text = str(note.voice)
    if not note.whole_bar:
        ET.SubElement(element, "type").text = _TYPES[note.value]
        for _ in range(note.dots):
            ET.SubElement(element, "dot")
    _accidental(element, note)
    _modified(element, note)
    if staff:
        ET.SubElement(element, "staff").text = staff
    if beam:
        ET.SubElement(element, "beam", number="1").text = beam
    _notations(element, note)


def _accidental(element: ET.Element, note: Written) -> None:
    if note.sign is not None:
        accidental = ET.SubElement(element, "accidental")
        accidental.text = _ACCIDENTALS[note.sign.alter]
        if note.sign.courtesy:
            accidental.set("cautionary", "yes")
            accidental.set("parentheses", "yes")


def _modified(element: ET.Element, note: Written) -> None:
    """So many in the time of so many; the head of a swallowed note in brackets."""
    if note.tuplet:
        change = ET.SubElement(element, "time-modification")
        ET.SubElement(change, "actual-notes").text = str(note.tuplet[0])
        ET.SubElement(change, "normal-notes").text = str(note.tuplet[1])
    if note.ghost:
        ET.SubElement(element, "notehead", parentheses="yes").text = "normal"


_TUPLET_ENDS = {"start": ("start",), "stop": ("stop",), "both": ("start", "stop")}


def _notations(element: ET.Element, note: Written) -> None:
    ends = _TUPLET_ENDS.get(note.tuplet[2], ()) if note.tuplet else ()
    if not (note.tied_from or note.tied_to or note.breath or ends):
        return
    notations = ET.SubElement(element, "notations")
    for there, kind in ((note.tied_from, "stop"), (note.tied_to, "start")):
        if there:
            ET.SubElement(notations, "tied", type=kind)
    for kind in ends:
        ET.SubElement(notations, "tuplet", type=kind)
    if note.breath:
        ET.SubElement(ET.SubElement(notations, "articulations"), "breath-mark")


def _barline(measure: ET.Element, line: Line, index: int) -> None:
    last = index == len(line.bars) - 1
    following = None if last else line.bars[index + 1]
    if not last and following and not following.label and following.joined:
        return
    barline = ET.SubElement(measure, "barline", location="right")
    ET.SubElement(barline, "bar-style").text = "light-heavy" if last else "light-light"
