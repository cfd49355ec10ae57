"""A line as MusicXML 4.0 (W3C Music Notation Community Group, 2021): notes, changes, transposition.

Written pitch stands in the notes, the `transpose` element says how it sounds. Chord kinds are the standard's own
values, everything else is a `degree` (`tunes.notation`).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from math import lcm
from xml.etree import ElementTree as ET

from drills.lines.line import Line, LineBar, LineChord
from drills.lines.notate import Written, WrittenBar, notate
from tunes.harmony.pitch.spelling import Interval
from tunes.notation import musicxml
from tunes.notation.staff import ACCIDENTALS


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
    return musicxml.document(root)


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
        musicxml.rehearsal(measure, bar.label)
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
        musicxml.key(attributes, line.key)
    musicxml.time(attributes, bar.metre)
    if index == 0 and line.staves == 2:
        ET.SubElement(attributes, "staves").text = "2"
    if index == 0:
        for number, name in enumerate(("treble", "bass") if line.staves == 2 else (line.clef,), start=1):
            musicxml.clef(attributes, name, str(number) if line.staves == 2 else "")
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
            musicxml.harmony(measure, chord.symbol, int((chord.start - bar.start - note.start) * divisions))
    return [chord for chord in waiting if chord.start - bar.start >= end]


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
        musicxml.pitch(element, note.pitch)
    ET.SubElement(element, "duration").text = str(int(note.duration * divisions))
    for there, kind in ((note.tied_from, "stop"), (note.tied_to, "start")):
        if there:
            ET.SubElement(element, "tie", type=kind)
    ET.SubElement(element, "voice").text = str(note.voice)
    if not note.whole_bar:
        musicxml.value(element, note.value, note.dots)
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
        accidental.text = ACCIDENTALS[note.sign.alter].musicxml
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
