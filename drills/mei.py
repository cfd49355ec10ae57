"""A line as MEI (Music Encoding Initiative, version 5.1), the form that the engraver reads.

Chord symbols, functions and key names are given as plain text with an id, so that the engraver keeps room for
them; `drills.engraving` sets them properly afterwards. Pure: no engraver is needed here.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from fractions import Fraction
from xml.sax.saxutils import escape, quoteattr

from drills.lines.line import Line, LineChord
from drills.lines.notate import Sign, Written, WrittenBar, notate
from tunes.harmony.pitch.spelling import Pitch
from tunes.notation.staff import ACCIDENTALS, CLEFS

HEAD = (
    '<?xml version="1.0" encoding="UTF-8"?><mei xmlns="http://www.music-encoding.org/ns/mei" meiversion="5.1">'
    "<meiHead><fileDesc><titleStmt><title/></titleStmt><pubStmt/></fileDesc></meiHead><music><body><mdiv><score>"
)
FILLER = "filler"
_ENDS = (("start", "both"), ("stop", "both"))  # which ends of a tuplet open it, which close it
TAIL = "</score></mdiv></body></music></mei>"


def to_mei(
    line: Line,
    *,
    per_system: int = 4,
    functions: bool = False,
    filled: bool = False,
    written: Sequence[WrittenBar] | None = None,
) -> str:
    """The whole line, `per_system` bars to a system, function names below when asked for.

    `written`: how its bars stand, where that is known already (a solo is engraved as it was written).

    `filled`: a last system with too few bars is filled up with silent ones (their ids begin with `FILLER`), so that
    its bars get the width of all others; who draws takes them out again.
    """
    parts = [HEAD, _score_definition(line), "<section>"]
    metre = line.bars[0].metre if line.bars else None
    system_of = systems(line, per_system)
    chords = line.chords_by_bar()
    for index, bar in enumerate(notate(line) if written is None else written):
        if index and system_of[index] != system_of[index - 1]:
            parts.append("<sb/>")
        if bar.bar.metre != metre:
            metre = bar.bar.metre
            parts.append(f'<scoreDef meter.count="{metre.beats}" meter.unit="{metre.unit}"/>')
        parts.append(_measure(line, index, bar, chords[index], functions))
        last = bar
    if filled and line.bars:
        parts += _fillers(
            last,
            per_system
            - sum(bar.number != 0 for bar, system in zip(line.bars, system_of, strict=True) if system == system_of[-1]),
            line.staves,
        )
    parts += ["</section>", TAIL]
    return "".join(parts)


def _fillers(last: WrittenBar, count: int, count_of_staves: int) -> list[str]:
    """Silent bars in the rhythm of the last one, which decides how wide the engraver makes them."""
    spaces = "".join(
        "<mSpace/>" if note.whole_bar else f'<space dur="{note.value}"{_dots(note)}/>' for note in last.voices[0]
    )
    staves = "".join(f'<staff n="{n}"><layer n="1">{spaces}</layer></staff>' for n in range(1, count_of_staves + 1))
    return [f'<measure xml:id="{FILLER}{place}" right="invis">{staves}</measure>' for place in range(count)]


def systems(line: Line, per_system: int) -> list[int]:
    """The system that each bar stands in; a pickup shares the first one with the bars it leads to."""
    found, system, filled = [], 0, 0
    for bar in line.bars:
        if filled >= per_system:
            system, filled = system + 1, 0
        found.append(system)
        filled += 0 if bar.number == 0 else 1
    return found


def _score_definition(line: Line) -> str:
    fifths = max(-7, min(7, line.key.fifths))
    signs = "0" if fifths == 0 else f"{abs(fifths)}{'s' if fifths > 0 else 'f'}"
    metre = line.bars[0].metre
    clefs = ("treble", "bass") if line.staves == 2 else (line.clef,)
    staves = "".join(
        f'<staffDef n="{n}" lines="5"><clef shape="{CLEFS[clef][0]}" line="{CLEFS[clef][1]}"/><keySig sig="{signs}"/>'
        f'<meterSig count="{metre.beats}" unit="{metre.unit}"/></staffDef>'
        for n, clef in enumerate(clefs, start=1)
    )
    group = ' symbol="brace" bar.thru="true"' if line.staves == 2 else ""
    return f"<scoreDef><staffGrp{group}>{staves}</staffGrp></scoreDef>"


def _measure(
    line: Line, index: int, written: WrittenBar, chords: Sequence[tuple[int, LineChord]], functions: bool
) -> str:
    bar = written.bar
    last = index == len(line.bars) - 1
    following = None if last else line.bars[index + 1]
    right = (
        ' right="end"' if last else ' right="dbl"' if following and (following.label or not following.joined) else ""
    )
    if line.staves == 2:
        staves = "".join(
            f'<staff n="{number}"><layer n="1">{_layer(voice, 1, 1)}</layer></staff>'
            for number, voice in enumerate(written.voices, start=1)
        )
    else:
        layers = "".join(
            f'<layer n="{number}">{_layer(voice, number, len(written.voices))}</layer>'
            for number, voice in enumerate(written.voices, start=1)
        )
        staves = f'<staff n="1">{layers}</staff>'
    odd = ' metcon="false"' if bar.length != bar.metre.quarters else ""
    number = f' n="{bar.number}"' if bar.number else ""
    return (
        f'<measure xml:id="m{index}"{number}{right}{odd}>{staves}'
        f"{''.join(_above_and_below(line, index, chords, functions))}{_breaths(written)}</measure>"
    )


def _layer(voice: Iterable[Written], number: int, voices: int) -> str:
    stem = ("up", "down")[number - 1] if voices > 1 else ""
    parts: list[str] = []
    beam = None
    for note in voice:
        opens, closes = (note.tuplet[2] in ends for ends in _ENDS) if note.tuplet else (False, False)
        if beam is not None and (opens or note.beam != beam):
            parts.append("</beam>")
            beam = None
        if opens and note.tuplet:
            parts.append(f'<tuplet num="{note.tuplet[0]}" numbase="{note.tuplet[1]}">')
        if note.beam != beam:
            parts.append("<beam>")
            beam = note.beam
        parts.append(_note(note, stem, voices == 1))
        if closes:
            parts.append("</tuplet>" if beam is None else "</beam></tuplet>")
            beam = None
    parts.append("</beam>" if beam is not None else "")
    return "".join(parts)


def _note(note: Written, stem: str, alone: bool) -> str:
    """A note, chord or rest; `alone` on its staff, or beside another voice."""
    if note.whole_bar:
        return "<mSpace/>" if note.voice > 1 and not alone else "<mRest/>"
    dots = _dots(note)
    if note.pitch is None:
        return f'<rest dur="{note.value}"{dots}/>'
    direction = f' stem.dir="{stem}"' if stem else ""
    tie = {(True, False): ' tie="i"', (True, True): ' tie="m"', (False, True): ' tie="t"'}.get(
        (note.tied_to, note.tied_from), ""
    )
    length = f'dur="{note.value}"{dots}{direction}'
    if not note.stack:
        ghost = ' head.mod="paren"' if note.ghost else ""
        below = f'<verse n="1"><syl>{escape(note.under)}</syl></verse>' if note.under else ""
        return _head(note.pitch, note.sign, f'xml:id="{_note_id(note)}"{tie}', f" {length}{ghost}", below)
    heads = [
        _head(pitch, sign, f'xml:id="{_note_id(note)}-{place}"{tie}', "")
        for place, (pitch, sign) in enumerate(note.stack, 2)
    ]
    first = _head(note.pitch, note.sign, f'xml:id="{_note_id(note)}"{tie}', "")
    return f"<chord {length}>{first}{''.join(heads)}</chord>"


def _head(pitch: Pitch, sign: Sign | None, start: str, length: str, below: str = "") -> str:
    """One note head; `length` is empty inside a chord, which has it."""
    name = pitch.name
    head = f'<note {start} pname="{name.letter.lower()}" oct="{pitch.octave}"{length}'
    if sign is None:
        head += f' accid.ges="{ACCIDENTALS[name.alter].sounds}"' if name.alter else ""
        return f"{head}>{below}</note>" if below else f"{head}/>"
    return f"{head}>{_accidental(sign)}{below}</note>"


def _dots(note: Written) -> str:
    return f' dots="{note.dots}"' if note.dots else ""


def _note_id(note: Written) -> str:
    return f"n{note.index}-{note.start.numerator}-{note.start.denominator}-{note.voice}"


def _accidental(sign: Sign) -> str:
    brackets = ' func="caution" enclose="paren"' if sign.courtesy else ""
    return f'<accid accid="{ACCIDENTALS[sign.alter].mei}"{brackets}/>'


def _above_and_below(line: Line, index: int, chords: Sequence[tuple[int, LineChord]], functions: bool) -> Iterable[str]:
    bar = line.bars[index]
    if bar.label:
        yield _text("reh", f"r{index}", "1", "above", bar.label)
    for place, chord in chords:
        stamp = _stamp(chord, bar.start, bar.metre.unit)
        yield _text("harm", f"c{place}", stamp, "above", chord.text)
        if functions and chord.numeral:
            yield _text("dir", f"f{place}", stamp, "below", chord.numeral)
    if bar.area is not None:
        yield _text("dir", f"k{index}", "1", "above", bar.area.text)


def _stamp(chord: LineChord, bar_start: Fraction, unit: int) -> str:
    """Beat of the bar, counted from 1 in units of the metre."""
    return f"{float((chord.start - bar_start) * unit / 4 + 1):g}"


def _text(element: str, name: str, stamp: str, place: str, text: str) -> str:
    return f'<{element} xml:id={quoteattr(name)} staff="1" tstamp="{stamp}" place="{place}">{escape(text)}</{element}>'


def _breaths(written: WrittenBar) -> str:
    parts = []
    for voice in written.voices:
        for note in voice:
            if note.breath:
                end = (note.start + note.duration) * written.bar.metre.unit / 4 + 1
                parts.append(f'<breath staff="1" tstamp="{float(end) - 0.1:g}" place="above"/>')
    return "".join(parts)
