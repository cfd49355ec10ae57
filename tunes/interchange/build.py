"""A counted lead sheet to a `Chart` and a `Melody`. The sheet counts quarter notes, the chart beats."""

from __future__ import annotations

import re
from dataclasses import replace
from fractions import Fraction

from tunes.harmony.charts import Bar, Chart, Metre, Section, Slot
from tunes.harmony.chords import NO_CHORD, ChordSymbol, parse_symbol
from tunes.harmony.pitch.spelling import CHURCH_MODES, Key, SpellingError
from tunes.interchange.bars import Counted
from tunes.interchange.errors import Loss
from tunes.interchange.melody import MOST_NOTES, Melody, MelodyNote
from tunes.interchange.sheet import LeadSheet, SheetBar, SheetChord

LABEL = re.compile(r"[^A-Za-z0-9' -]+")


def build_chart(sheet: LeadSheet, counted: Counted) -> tuple[Chart, list[Loss]]:
    """The chart of a sheet. Bars before the first chord are N.C.; a bar without a chord holds the last one."""
    losses: list[Loss] = []
    bars: list[Bar] = []
    sections: list[Section] = []
    current: ChordSymbol | None = None
    heard, silent = False, 0
    for index, raw in enumerate(counted.bars):
        number = counted.number(index)
        _open_section(sections, raw, index, number)
        slots, current = _slots(raw, current, number == 0)
        heard = heard or bool(raw.chords)
        silent += 0 if heard or number == 0 else 1
        bars.append(_bar(raw, slots, number, len(sections) - 1, counted))
    if silent:
        losses.append(Loss("empty-bar", 1, f"{silent} bar{'s' if silent > 1 else ''} before the first chord"))
    chart = Chart(
        bars=tuple(bars),
        sections=_measured(sections, len(bars)),
        key=_key(sheet, bars),
        metre=_common_metre(bars),
        title=sheet.title,
    )
    return chart, losses


def _open_section(sections: list[Section], raw: SheetBar, index: int, number: int) -> None:
    label = " ".join(LABEL.sub(" ", raw.mark).split())[:16]
    if not sections:
        sections.append(Section(label, 0, 0))
    elif label and number == 1 and sections[-1].first_bar == 0 and not sections[-1].label:
        sections[-1] = Section(label, 0, 0)  # the pickup belongs to the section it leads into
    elif label:
        sections.append(Section(label, index, 0))


def _measured(sections: list[Section], count: int) -> tuple[Section, ...]:
    ends = [section.first_bar for section in sections[1:]] + [count]
    return tuple(
        Section(section.label, section.first_bar, end - section.first_bar)
        for section, end in zip(sections, ends, strict=True)
    )


def _slots(raw: SheetBar, current: ChordSymbol | None, pickup: bool) -> tuple[tuple[Slot, ...], ChordSymbol | None]:
    length = _beats(raw.length if pickup else raw.nominal, raw)
    chords = [chord for chord in raw.chords if _beats(chord.onset, raw) < length]
    if not chords or chords[0].onset > 0:
        chords.insert(0, SheetChord(Fraction(0), current.text if current else None))
    chords = [c for at, c in enumerate(chords) if at == 0 or c.text or chords[at - 1].text]  # one N.C. is enough
    slots = []
    for at, chord in enumerate(chords):
        start = _beats(chord.onset, raw)
        end = _beats(chords[at + 1].onset, raw) if at + 1 < len(chords) else length
        current = parse_symbol(chord.text).symbol if chord.text else None
        slots.append(Slot(current, start, end - start, current.text if current else NO_CHORD))
    return tuple(slots), current


def _beats(quarters: Fraction, raw: SheetBar) -> Fraction:
    return quarters * raw.unit / 4


def _bar(raw: SheetBar, slots: tuple[Slot, ...], number: int, section: int, counted: Counted) -> Bar:
    jump = "D.S." if raw.dal_segno else "D.C." if raw.da_capo else ""
    jump_to = ""
    if jump and any(bar.to_coda for bar in counted.bars):
        jump_to = "coda"
    elif jump and any(bar.fine for bar in counted.bars):
        jump_to = "fine"
    return Bar(
        slots=slots,
        metre=Metre(raw.beats, raw.unit),
        number=number,
        section=section,
        length=_beats(raw.length, raw) if number == 0 else None,
        start_repeat=raw.forward,
        end_repeat=raw.backward,
        endings=raw.endings,
        segno=raw.segno,
        coda=raw.coda,
        to_coda=raw.to_coda,
        fine=raw.fine,
        jump=jump,
        jump_to=jump_to,
        double_end=raw.double and not raw.backward,
    )


def _common_metre(bars: list[Bar]) -> Metre:
    return next((bar.metre for bar in bars if bar.number == 1), bars[0].metre)


def _key(sheet: LeadSheet, bars: list[Bar]) -> Key | None:
    """The key of the signature. A file that names no mode is minor when it ends on the relative minor chord."""
    if sheet.fifths is None:
        return None
    try:
        major, minor = Key.of_signature(sheet.fifths), Key.of_signature(sheet.fifths, "minor")
        if sheet.mode in CHURCH_MODES:
            return Key.of_signature(sheet.fifths, sheet.mode)
    except SpellingError:
        return None
    if sheet.mode == "minor":
        return minor
    last = next((s.symbol for bar in reversed(bars) for s in reversed(bar.slots) if s.symbol), None)
    ends_minor = last is not None and last.root == minor.tonic and last.family == "minor"
    return minor if not sheet.mode and ends_minor else major


def build_melody(counted: Counted) -> Melody:
    """Every note of the sheet by bar and beat."""
    notes = [
        MelodyNote(index, _beats(note.onset, raw), _beats(note.duration, raw), note.pitch, note.tied)
        for index, raw in enumerate(counted.bars)
        for note in raw.notes
        if note.onset < raw.nominal
    ]
    return Melody(tuple(notes[:MOST_NOTES]))


def on_the_grid(chart: Chart, step: Fraction) -> tuple[Chart, list[Loss]]:
    """Every chord moved to the nearest multiple of `step` beats, each move named."""
    losses: list[Loss] = []
    bars = tuple(_gridded(bar, step, losses) for bar in chart.bars)
    return replace(chart, bars=bars), losses


def _gridded(bar: Bar, step: Fraction, losses: list[Loss]) -> Bar:
    placed: dict[Fraction, Slot] = {}
    for slot in bar.slots:
        start = round(slot.start / step) * step
        start = min(start, bar.beats - step) if bar.beats > step else Fraction(0)
        if start != slot.start:
            losses.append(Loss("offbeat", bar.number, f"{slot.text} moved from beat {_count(slot.start)}"))
        placed[start] = slot
    starts = sorted(placed)
    if starts[0] != 0:
        placed[Fraction(0)] = placed.pop(starts[0])
        starts[0] = Fraction(0)
    ends = [*starts[1:], bar.beats]
    slots = tuple(
        replace(placed[start], start=start, duration=end - start) for start, end in zip(starts, ends, strict=True)
    )
    return replace(bar, slots=slots)


def _count(start: Fraction) -> str:
    """Beats as players count them, from 1."""
    return f"{float(start) + 1:g}"
