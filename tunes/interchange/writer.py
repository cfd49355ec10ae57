"""A chart, its melody and its analysis as MusicXML 4.0 (W3C Community Group, 2021).

Chords are `<harmony>` elements; the analysis is a second `<harmony>` with a `<numeral>` in the local key
below the staff, as MusicXML 4.0 provides. Without a melody every beat carries a slash.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from math import lcm
from xml.etree.ElementTree import Element, SubElement

from tunes.harmony.analysis.pipeline import Analysis, Reading
from tunes.harmony.charts import Bar, Chart
from tunes.harmony.chords import ChordSymbol
from tunes.harmony.pitch.spelling import Key
from tunes.interchange.melody import Melody, MelodyNote
from tunes.interchange.numerals import numeral_of
from tunes.notation import musicxml
from tunes.notation.chords import kind_of
from tunes.notation.staff import note_values

VALUES = note_values(2)


@dataclass(frozen=True)
class Extras:
    """What goes beside the chords: names for the heading, the melody, the analysis of one chorus."""

    title: str = ""
    composer: str = ""
    melody: Melody | None = None
    analysis: Analysis | None = None


def write_musicxml(chart: Chart, extras: Extras | None = None) -> bytes:
    """The chart as one MusicXML document in UTF-8."""
    extras = extras or Extras()
    root = Element("score-partwise", version="4.0")
    _heading(root, extras.title or chart.title, extras.composer)
    part = SubElement(root, "part", id="P1")
    divisions = _divisions(chart, extras.melody)
    readings = _readings(chart, extras.analysis)
    for index, _bar in enumerate(chart.bars):
        _measure(part, chart, index, divisions, extras.melody, readings.get(index, {}))
    return musicxml.document(root).encode()


def _heading(root: Element, title: str, composer: str) -> None:
    if title:
        SubElement(SubElement(root, "work"), "work-title").text = title
    identification = SubElement(root, "identification")
    if composer:
        SubElement(identification, "creator", type="composer").text = composer
    SubElement(SubElement(identification, "encoding"), "software").text = "Topform"
    part = SubElement(SubElement(root, "part-list"), "score-part", id="P1")
    SubElement(part, "part-name").text = "Chart"


def _divisions(chart: Chart, melody: Melody | None) -> int:
    """Per quarter note: enough for every slot and every note."""
    found = [2]
    for bar in chart.bars:
        found += [_quarters(slot.start, bar).denominator for slot in bar.slots]
        found += [_quarters(slot.duration, bar).denominator for slot in bar.slots]
    for note in melody.notes if melody else ():
        if note.bar < len(chart.bars):
            bar = chart.bars[note.bar]
            found += [_quarters(note.start, bar).denominator, _quarters(note.duration, bar).denominator]
    return min(lcm(*found), 16383)


def _quarters(beats: Fraction, bar: Bar) -> Fraction:
    return beats * 4 / bar.metre.unit


def _readings(chart: Chart, analysis: Analysis | None) -> dict[int, dict[int, Reading]]:
    """Reading by written bar and slot; a bar played twice shows its first reading."""
    found: dict[int, dict[int, Reading]] = {}
    if analysis is None:
        return found
    for event in chart.events():
        if event.index < len(analysis.readings):
            found.setdefault(event.bar, {}).setdefault(event.slot, analysis.readings[event.index])
    return found


def _measure(
    part: Element, chart: Chart, index: int, divisions: int, melody: Melody | None, readings: dict[int, Reading]
) -> None:
    bar = chart.bars[index]
    measure = SubElement(part, "measure", number=str(bar.number))
    if bar.number == 0:
        measure.set("implicit", "yes")
    _left_barline(measure, bar)
    _attributes(measure, chart, index, divisions)
    _signs(measure, chart, index)
    _music(measure, bar, index, divisions, melody, readings)
    _closing_signs(measure, bar)
    _right_barline(measure, chart, index)


def _attributes(measure: Element, chart: Chart, index: int, divisions: int) -> None:
    bar = chart.bars[index]
    if index and bar.metre == chart.bars[index - 1].metre:
        return
    attributes = SubElement(measure, "attributes")
    if index == 0:
        SubElement(attributes, "divisions").text = str(divisions)
        if chart.key:
            musicxml.key(attributes, chart.key)
    musicxml.time(attributes, bar.metre)
    if index == 0:
        musicxml.clef(attributes, "treble")


def _signs(measure: Element, chart: Chart, index: int) -> None:
    section = next((s for s in chart.sections if s.first_bar == index and s.label), None)
    if section is not None:
        musicxml.rehearsal(measure, section.label)
    bar = chart.bars[index]
    if bar.segno:
        kind = _direction(measure)
        SubElement(kind, "segno")
    if bar.coda:
        SubElement(_direction(measure), "coda")


def _direction(measure: Element) -> Element:
    return SubElement(SubElement(measure, "direction", placement="above"), "direction-type")


def _words(measure: Element, text: str, **sound: str) -> None:
    direction = SubElement(measure, "direction", placement="above")
    SubElement(SubElement(direction, "direction-type"), "words").text = text
    SubElement(direction, "sound", sound)


def _closing_signs(measure: Element, bar: Bar) -> None:
    if bar.to_coda:
        _words(measure, "To Coda", tocoda="coda")
    if bar.fine:
        _words(measure, "Fine", fine="yes")
    if bar.jump:
        words = f"{bar.jump} al {bar.jump_to.capitalize()}" if bar.jump_to else bar.jump
        sound = {"dalsegno": "segno"} if bar.jump == "D.S." else {"dacapo": "yes"}
        _words(measure, words, **sound)


def _left_barline(measure: Element, bar: Bar) -> None:
    if not (bar.start_repeat or bar.endings):
        return
    barline = SubElement(measure, "barline", location="left")
    if bar.start_repeat:
        SubElement(barline, "bar-style").text = "heavy-light"
    if bar.endings:
        SubElement(barline, "ending", number=_numbers(bar.endings), type="start")
    if bar.start_repeat:
        SubElement(barline, "repeat", direction="forward")


def _numbers(endings: tuple[int, ...]) -> str:
    return ", ".join(map(str, endings))


def _right_barline(measure: Element, chart: Chart, index: int) -> None:
    bar = chart.bars[index]
    last = index + 1 == len(chart.bars)
    ends = _ending_that_stops(chart, index)
    if not (bar.end_repeat or ends or last or bar.double_end):
        return
    barline = SubElement(measure, "barline", location="right")
    SubElement(barline, "bar-style").text = "light-heavy" if bar.end_repeat or last else "light-light"
    if ends:
        SubElement(barline, "ending", number=_numbers(ends), type="stop" if bar.end_repeat else "discontinue")
    if bar.end_repeat:
        times = {"times": str(bar.end_repeat)} if bar.end_repeat > 2 else {}
        SubElement(barline, "repeat", {"direction": "backward", **times})


def _ending_that_stops(chart: Chart, index: int) -> tuple[int, ...]:
    """The numbers of the ending whose last bar this is: it runs to its repeat, the next ending or section."""
    start = index
    while start >= 0 and not chart.bars[start].endings:
        if start < index and chart.bars[start].end_repeat:
            return ()
        start -= 1
    if start < 0 or any(bar.end_repeat for bar in chart.bars[start:index]):
        return ()
    if chart.bars[index].end_repeat or index + 1 == len(chart.bars):
        return chart.bars[start].endings
    following = chart.bars[index + 1]
    if following.endings or following.start_repeat:
        return chart.bars[start].endings
    new_section = following.section != chart.bars[index].section
    closed_before = any(bar.section != chart.bars[start].section for bar in chart.bars[start : index + 1])
    return chart.bars[start].endings if new_section and not closed_before else ()


def _music(
    measure: Element, bar: Bar, index: int, divisions: int, melody: Melody | None, readings: dict[int, Reading]
) -> None:
    notes = _played(bar, index, melody)
    written: set[int] = set()
    for start, duration, note in notes:
        for number, slot in enumerate(bar.slots):
            if number not in written and slot.start < start + duration:
                written.add(number)
                offset = _divided(slot.start - start, bar, divisions)
                musicxml.harmony(measure, slot.symbol, offset, placement="above")
                if number in readings:
                    _numeral(measure, slot.symbol, readings[number], offset)
        _note(measure, bar, duration, note, divisions)


def _played(bar: Bar, index: int, melody: Melody | None) -> list[tuple[Fraction, Fraction, MelodyNote | None]]:
    """Notes and rests that fill the bar; slashes, one a beat, when there is no melody."""
    notes = [n for n in melody.notes if n.bar == index and n.start < bar.beats] if melody else []
    if not notes:
        whole: list[tuple[Fraction, Fraction, MelodyNote | None]] = [
            (Fraction(beat), Fraction(1), None) for beat in range(int(bar.beats))
        ]
        rest = bar.beats - int(bar.beats)
        return [*whole, (Fraction(int(bar.beats)), rest, None)] if rest else whole
    out: list[tuple[Fraction, Fraction, MelodyNote | None]] = []
    cursor = Fraction(0)
    for at, note in enumerate(notes):
        until = notes[at + 1].start if at + 1 < len(notes) else bar.beats
        end = min(note.start + note.duration, until)
        if note.start > cursor:
            out.append((cursor, note.start - cursor, None))
        if end > note.start:
            out.append((note.start, end - note.start, note))
            cursor = end
    if cursor < bar.beats:
        out.append((cursor, bar.beats - cursor, None))
    return out


def _divided(beats: Fraction, bar: Bar, divisions: int) -> int:
    return round(_quarters(beats, bar) * divisions)


def _note(measure: Element, bar: Bar, duration: Fraction, note: MelodyNote | None, divisions: int) -> None:
    element = SubElement(measure, "note")
    quarters = _quarters(duration, bar)
    if note is None:
        SubElement(element, "rest")
    else:
        musicxml.pitch(element, note.pitch)
    SubElement(element, "duration").text = str(max(1, _divided(duration, bar, divisions)))
    if note is not None and note.tied:
        SubElement(element, "tie", type="stop")
    SubElement(element, "voice").text = "1"
    if quarters in VALUES:
        musicxml.value(element, *VALUES[quarters])


def _numeral(measure: Element, symbol: ChordSymbol | None, reading: Reading, offset: int) -> None:
    if symbol is None:
        return
    number, alter = numeral_of(reading.function.degree, reading.key.mode)
    harmony = SubElement(measure, "harmony", {"print-frame": "no", "placement": "below"})
    numeral = SubElement(harmony, "numeral")
    SubElement(numeral, "numeral-root", text=reading.function.numeral).text = str(number)
    if alter:
        SubElement(numeral, "numeral-alter").text = str(alter)
    _numeral_key(numeral, reading.key)
    SubElement(harmony, "kind", text="").text = kind_of(symbol)
    if offset:
        SubElement(harmony, "offset").text = str(offset)


def _numeral_key(numeral: Element, key: Key) -> None:
    element = SubElement(numeral, "numeral-key", {"print-object": "no"})
    SubElement(element, "numeral-fifths").text = str(key.fifths)
    SubElement(element, "numeral-mode").text = "natural minor" if key.mode == "minor" else "major"
