"""The measures of one part as `SheetBar`s: a cursor walks the notes, everything else hangs on it."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from fractions import Fraction
from xml.etree.ElementTree import Element

from tunes.harmony.pitch.spelling import UNISON, Interval, Key, NoteName, Pitch, SpellingError
from tunes.interchange.chords import read_harmony
from tunes.interchange.errors import Loss
from tunes.interchange.sheet import SheetBar, SheetChord, SheetNote
from tunes.interchange.tree import all_of, decimal, integer, one, text_of

ZERO = Fraction(0)
NO_CHORD_WORDS = re.compile(r"n\.?\s?c\.?", re.IGNORECASE)
SECTION_WORDS = re.compile(
    r"[A-Z][1-9']?|(verse|chorus|refrain|bridge|intro|interlude|tag|coda|ending|solos?|vamp|head)\s?\d?", re.IGNORECASE
)
_JUMPS: tuple[tuple[str, re.Pattern[str]], ...] = (
    ("to_coda", re.compile(r"\bto coda\b", re.IGNORECASE)),
    ("dal_segno", re.compile(r"\bd\.?\s?s\.?(\s|$)|dal segno", re.IGNORECASE)),
    ("da_capo", re.compile(r"\bd\.?\s?c\.?(\s|$)|da capo", re.IGNORECASE)),
    ("fine", re.compile(r"^\s*fine\s*$", re.IGNORECASE)),
)
_CHROMATIC_STEPS = (0, 1, 1, 2, 2, 3, 3, 4, 5, 5, 6, 6)  # letters moved, when a transposition names none


@dataclass
class PartState:
    """What holds from measure to measure. Durations of the file are counted in `divisions` per quarter."""

    divisions: Fraction = Fraction(1)
    beats: int = 4
    unit: int = 4
    fifths: int | None = None
    mode: str = ""
    shift: Interval = UNISON
    voice: str = ""
    losses: list[Loss] = field(default_factory=list)

    def lose(self, what: str, bar: int | None, detail: str) -> None:
        self.losses.append(Loss(what, bar, detail))

    @property
    def key(self) -> Key | None:
        """The concert key of the first signature, None when the file gives none."""
        if self.fifths is None:
            return None
        try:
            return Key.of_signature(self.fifths, self.mode)
        except SpellingError:
            return None


@dataclass
class _Measure:
    """One measure while it is being read."""

    cursor: Fraction = ZERO
    length: Fraction = ZERO
    last_onset: Fraction = ZERO
    chords: list[SheetChord] = field(default_factory=list)
    silent: list[Fraction] = field(default_factory=list)
    notes: dict[Fraction, SheetNote] = field(default_factory=dict)
    signs: dict[str, object] = field(default_factory=dict)


def read_measures(measures: list[Element]) -> tuple[tuple[SheetBar, ...], PartState]:
    """Every measure of a part, in order; the state carries the key and the losses."""
    state = PartState()
    bars = tuple(_read_measure(element, index, state) for index, element in enumerate(measures))
    return bars, state


def _read_measure(element: Element, index: int, state: PartState) -> SheetBar:
    measure = _Measure()
    for child in element:
        reader = _READERS.get(child.tag)
        if reader is not None:
            reader(child, measure, index, state)
    for onset in measure.silent:
        if all(chord.onset != onset for chord in measure.chords):
            measure.chords.append(SheetChord(onset, None))
    return SheetBar(
        number=element.get("number", ""),
        beats=state.beats,
        unit=state.unit,
        length=measure.length,
        chords=_one_at_a_time(measure.chords, index, state),
        notes=tuple(measure.notes[onset] for onset in sorted(measure.notes)),
        implicit=element.get("implicit") == "yes",
        **measure.signs,  # type: ignore[arg-type]
    )


def _one_at_a_time(chords: list[SheetChord], index: int, state: PartState) -> tuple[SheetChord, ...]:
    by_onset: dict[Fraction, SheetChord] = {}
    for chord in chords:
        there = by_onset.get(chord.onset)
        if there is not None and there.text != chord.text:
            state.lose("simultaneous", index, f"{chord.text or 'N.C.'} kept, {there.text or 'N.C.'} left out")
        by_onset[chord.onset] = chord
    return tuple(by_onset[onset] for onset in sorted(by_onset))


def _attributes(element: Element, _measure: _Measure, index: int, state: PartState) -> None:
    divisions = decimal(one(element, "divisions"))
    if divisions is not None and 0 < divisions <= 16384:
        state.divisions = divisions
    transpose = one(element, "transpose")
    if transpose is not None:
        state.shift = _transposition(transpose)
    key = one(element, "key")
    if key is not None:
        _key(key, index, state)
    time = one(element, "time")
    if time is not None:
        _metre(time, index, state)


def _transposition(element: Element) -> Interval:
    """Written to sounding pitch, as the XSD defines `transpose`."""
    chromatic = integer(one(element, "chromatic")) or 0
    octaves = integer(one(element, "octave-change")) or 0
    steps = integer(one(element, "diatonic"))
    if steps is None:
        turn, rest = divmod(chromatic, 12)
        steps = _CHROMATIC_STEPS[rest] + 7 * turn
    if abs(chromatic) > 48 or abs(steps) > 28 or abs(octaves) > 4:
        return UNISON
    return Interval(steps + 7 * octaves, chromatic + 12 * octaves)


def _key(element: Element, index: int, state: PartState) -> None:
    fifths = integer(one(element, "fifths"))
    if fifths is None or abs(fifths) > 7:
        state.lose("odd-key", index, "a key signature that is not on the circle of fifths")
        return
    fifths += state.shift.fifths
    mode = text_of(one(element, "mode")).lower()
    if state.fifths is None:
        state.fifths, state.mode = fifths, mode
    elif (fifths, mode or state.mode) != (state.fifths, state.mode):
        state.lose("key-change", index, f"a key signature of {_signature(fifths)}")


def _signature(fifths: int) -> str:
    if fifths == 0:
        return "no sharps or flats"
    name = "sharp" if fifths > 0 else "flat"
    return f"{abs(fifths)} {name}{'s' if abs(fifths) > 1 else ''}"


def _metre(element: Element, index: int, state: PartState) -> None:
    if one(element, "senza-misura") is not None:
        state.lose("no-metre", index, "no metre")
        return
    counts = [text_of(beats) for beats in all_of(element, "beats")]
    units = [integer(unit) or 0 for unit in all_of(element, "beat-type")]
    pairs = [(sum(int(n) for n in re.findall(r"\d{1,3}", c)), u) for c, u in zip(counts, units, strict=False)]
    if not pairs or any(beats < 1 or unit not in (1, 2, 4, 8, 16, 32) for beats, unit in pairs):
        state.lose("metre", index, f"the metre {'+'.join(counts)[:20] or '?'} is not one we know")
        return
    unit = max(unit for _beats, unit in pairs)
    beats = sum(count * unit // own for count, own in pairs)
    if beats > 32:
        state.lose("metre", index, f"a metre of {beats} beats is not one we know")
        return
    if len(pairs) > 1 or "+" in counts[0]:
        state.lose("metre", index, f"{' and '.join(counts)} over {unit} read as {beats}/{unit}")
    state.beats, state.unit = beats, unit


def _note(element: Element, measure: _Measure, index: int, state: PartState) -> None:
    if one(element, "grace") is not None or one(element, "cue") is not None:
        return
    duration = (decimal(one(element, "duration")) or ZERO) / state.divisions
    if duration < 0 or duration > 64:
        return
    is_chord = one(element, "chord") is not None
    onset = measure.last_onset if is_chord else measure.cursor
    if not is_chord:
        measure.last_onset = onset
        _advance(measure, duration)
    voice = text_of(one(element, "voice"))
    state.voice = state.voice or voice
    pitch = one(element, "pitch")
    if pitch is None or voice != state.voice or (integer(one(element, "staff")) or 1) != 1:
        return
    sounding = _pitch(pitch, index, state)
    there = measure.notes.get(onset)
    if sounding is not None and (there is None or there.pitch.midi < sounding.midi):
        tied = any(tie.get("type") == "stop" for tie in all_of(element, "tie"))
        measure.notes[onset] = SheetNote(sounding, onset, duration, tied)


def _pitch(element: Element, index: int, state: PartState) -> Pitch | None:
    letter = text_of(one(element, "step"))
    octave = integer(one(element, "octave"))
    alter = decimal(one(element, "alter")) or ZERO
    if letter not in ("A", "B", "C", "D", "E", "F", "G") or octave is None or not 0 <= octave <= 9:
        return None
    if alter.denominator != 1:
        state.lose("microtone", index, f"{letter}{octave} altered by {float(alter):g}")
    nearest = max(-2, min(2, round(alter)))
    return Pitch(NoteName(letter, nearest), octave) + state.shift


def _advance(measure: _Measure, by: Fraction) -> None:
    measure.cursor = max(ZERO, measure.cursor + by)
    measure.length = max(measure.length, measure.cursor)


def _backup(element: Element, measure: _Measure, _index: int, state: PartState) -> None:
    _advance(measure, -(decimal(one(element, "duration")) or ZERO) / state.divisions)


def _forward(element: Element, measure: _Measure, _index: int, state: PartState) -> None:
    by = (decimal(one(element, "duration")) or ZERO) / state.divisions
    if 0 < by <= 64:
        _advance(measure, by)


def _harmony(element: Element, measure: _Measure, index: int, state: PartState) -> None:
    offset = (decimal(one(element, "offset")) or ZERO) / state.divisions
    onset = max(ZERO, measure.cursor + offset)
    if one(element, "numeral") is not None and any(chord.onset == onset for chord in measure.chords):
        return  # an analysis under a chord that is there by name: nothing is lost
    reading = read_harmony(element, key=state.key, shift=state.shift)
    for what, detail in reading.losses:
        state.lose(what, index, detail)
    if reading.found:
        measure.chords.append(SheetChord(onset, reading.text))


def _direction(element: Element, measure: _Measure, index: int, state: PartState) -> None:
    offset = (decimal(one(element, "offset")) or ZERO) / state.divisions
    for kind in element.iter():
        if kind.tag == "rehearsal" and text_of(kind):
            measure.signs["mark"] = text_of(kind)[:40]
        elif kind.tag == "words":
            _words(text_of(kind), measure, max(ZERO, measure.cursor + offset))
        elif kind.tag in ("segno", "coda"):
            measure.signs[kind.tag] = True
        elif kind.tag == "sound":
            _sound(kind, measure, index, state)


def _words(words: str, measure: _Measure, onset: Fraction) -> None:
    if NO_CHORD_WORDS.fullmatch(words):
        measure.silent.append(onset)
        return
    if "mark" not in measure.signs and SECTION_WORDS.fullmatch(words):
        measure.signs["mark"] = words
    for name, pattern in _JUMPS:
        if pattern.search(words):
            measure.signs[name] = True


def _sound(element: Element, measure: _Measure, _index: int, _state: PartState) -> None:
    for attribute, name in (
        ("segno", "segno"),
        ("coda", "coda"),
        ("tocoda", "to_coda"),
        ("dalsegno", "dal_segno"),
        ("dacapo", "da_capo"),
        ("fine", "fine"),
    ):
        if element.get(attribute, "no") not in ("no", ""):
            measure.signs[name] = True


def _barline(element: Element, measure: _Measure, index: int, state: PartState) -> None:
    repeat = one(element, "repeat")
    if repeat is not None:
        if repeat.get("direction") == "forward":
            measure.signs["forward"] = True
        else:
            measure.signs["backward"] = _times(repeat.get("times", "2"))
    for ending in all_of(element, "ending"):
        if ending.get("type") == "start":
            numbers = tuple(int(n) for n in re.findall(r"\d{1,2}", ending.get("number", "1")) if 1 <= int(n) <= 16)
            measure.signs["endings"] = numbers or (1,)
        else:
            measure.signs["ending_stops"] = True
    style = text_of(one(element, "bar-style"))
    if style in ("light-light", "light-heavy") and element.get("location", "right") == "right":
        measure.signs["double"] = True
    if one(element, "segno") is not None:
        measure.signs["segno"] = True
    if one(element, "coda") is not None:
        measure.signs["coda"] = True


def _times(text: str) -> int:
    """How often a repeated stretch is played in all: 2 unless the file says 3 to 16."""
    return int(text) if re.fullmatch(r"[2-9]|1[0-6]", text) else 2


def _figured(_element: Element, _measure: _Measure, index: int, state: PartState) -> None:
    state.lose("figured-bass", index, "a figure under the bass")


_READERS = {
    "attributes": _attributes,
    "note": _note,
    "backup": _backup,
    "forward": _forward,
    "harmony": _harmony,
    "direction": _direction,
    "barline": _barline,
    "sound": _sound,
    "figured-bass": _figured,
}
