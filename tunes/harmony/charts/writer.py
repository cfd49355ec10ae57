"""Chart → text that reads back as the same chart; and a chart in another key."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from tunes.harmony.charts.bars import COMMON_TIME, HELD, Bar, Metre, Section, Slot
from tunes.harmony.charts.model import Chart
from tunes.harmony.charts.reader import HEADER_NAMES
from tunes.harmony.pitch.spelling import Interval, Key, sensible, transposition

BARS_PER_LINE = 4


def write_chart(chart: Chart) -> str:
    """The chart as text; `parse_chart` of it is equal to the chart (line breaks aside).

    >>> from tunes.harmony.charts.reader import parse_chart
    >>> print(write_chart(parse_chart("A: |:Cm7 / / F7|%|1. Bbmaj7:|2. Bb6||").chart))
    metre: 4/4
    <BLANKLINE>
    A:
    |: Cm7 / / F7 | % |1. Bbmaj7 :|2. Bb6 ||
    """
    lines = _heading(chart)
    metre = chart.metre
    for section in chart.sections:
        if section.label or section.first_bar or section.bars == 0:
            lines.append("")
            lines.append(_label(section.label))
        elif lines:
            lines.append("")
        metre = _write_section(chart, section, metre, lines)
    lines.extend(_note(note) for note in chart.closing_notes)
    return "\n".join(lines).strip("\n")


def _heading(chart: Chart) -> list[str]:
    lines = [f"title: {chart.title}"] if chart.title else []
    if chart.key is not None:
        lines.append(f"key: {chart.key.text}")
    lines.append(f"metre: {chart.metre.text}")
    if chart.bars and chart.bars[0].is_pickup:
        lines.append(f"pickup: {_number(chart.bars[0].beats)}")
    lines.extend(f"{name}: {value}" for name, value in chart.headers)
    return lines


def _label(label: str) -> str:
    return f"[{label}]" if label.lower() in HEADER_NAMES else f"{label}:"


def _note(note: str) -> str:
    return f"# {note}".rstrip()


def _write_section(chart: Chart, section: Section, metre: Metre, lines: list[str]) -> Metre:
    """The lines of a section; returns the metre that its last bar leaves behind."""
    units = _units([chart.bars[index] for index in section.bar_range])
    laid_out = any(unit[0].new_line for unit in units[1:])
    row = ""
    for position, unit in enumerate(units):
        breaks = unit[0].new_line if laid_out else position % BARS_PER_LINE == 0
        if row and (breaks or unit[0].notes):
            lines.append(row)
            row = ""
        lines.extend(_note(note) for note in unit[0].notes)
        row = _joined(row, unit[0]) + _cell(unit, metre) + _right(unit[-1])
        metre = unit[-1].metre
    if row:
        lines.append(row)
    return metre


def _units(bars: list[Bar]) -> list[list[Bar]]:
    """Bars that are written in one cell: a repeat of several bars is one."""
    units: list[list[Bar]] = []
    for bar in bars:
        if bar.copied and bar.copy_index and units and units[-1][-1].copy_index == bar.copy_index - 1:
            units[-1].append(bar)
        else:
            units.append([bar])
    return units


def _joined(row: str, bar: Bar) -> str:
    """The row with the barline that the next bar needs before it, if the one that is there does not do."""
    if bar.start_repeat:
        return f"{row} |:" if row else "|:"
    if bar.endings and row[-1:].isdigit():
        return f"{row} |"
    return row or "|"


def _right(bar: Bar) -> str:
    if not bar.end_repeat:
        return " ||" if bar.double_end else " |"
    times = f"x{bar.end_repeat}" if bar.end_repeat != 2 else ""
    return f" :{'||' if bar.double_end else '|'}{times}"


def _cell(unit: list[Bar], metre: Metre) -> str:
    """Marks, then chords; begins with a space unless an ending number leans on the barline."""
    first, last = unit[0], unit[-1]
    parts: list[str] = []
    if first.metre != metre:
        parts.append(first.metre.text)
    parts.extend(name for name, on in (("segno", first.segno), ("coda", first.coda)) if on)
    if first.comment:
        parts.append(f'"{first.comment}"')
    parts.append(f"%{first.copy_span}" if first.copy_span > 1 else "%" if first.copied else _chords(first))
    parts.extend(name for name, on in (("to coda", last.to_coda), ("Fine", last.fine)) if on)
    if last.jump:
        parts.append(f"{last.jump}{' al ' + last.jump_to if last.jump_to else ''}")
    ending = f"{','.join(map(str, first.endings))}. " if first.endings else " "
    return ending + " ".join(parts)


def _chords(bar: Bar) -> str:
    slots = bar.slots
    if len({slot.duration for slot in slots}) == 1 and slots[0].text != HELD:
        return " ".join(slot.text for slot in slots)
    if all(slot.start.denominator == slot.duration.denominator == 1 for slot in slots):
        return " ".join(" ".join([slot.text, *[HELD] * (int(slot.duration) - 1)]) for slot in slots)
    placed = [slot for slot in slots if slot.text != HELD]
    return " ".join(slot.text + (f"@{_number(slot.start + 1)}" if slot.start else "") for slot in placed)


def _number(beats: Fraction) -> str:
    """A whole number or a decimal when it is exact, otherwise a fraction: 3, 2.5, 7/3."""
    if beats.denominator in (1, 2, 4, 8):
        return f"{float(beats):g}"
    return f"{beats.numerator}/{beats.denominator}"


def transpose_chart(chart: Chart, interval: Interval) -> Chart:
    """The chart moved by an interval: every chord keeps its spelling, read and unread text its place."""
    bars = tuple(replace(bar, slots=tuple(_moved(slot, interval) for slot in bar.slots)) for bar in chart.bars)
    key = chart.key.transposed(interval) if chart.key else None
    return replace(chart, bars=bars, key=key)


def _moved(slot: Slot, interval: Interval) -> Slot:
    if slot.symbol is None:
        return slot
    symbol = slot.symbol.transposed(interval)
    return replace(slot, symbol=symbol, text=slot.text if slot.is_held else symbol.text)


def chart_in_key(chart: Chart, key: Key) -> Chart:
    """The chart in another key (its own key must be known, otherwise it stays as it is), respelled sensibly."""
    if chart.key is None:
        return chart
    return transpose_chart(chart, transposition(chart.key, sensible(key)))


def respelled(chart: Chart) -> Chart:
    """The chart with a key of at most six signs."""
    if chart.key is None or sensible(chart.key) == chart.key:
        return chart
    return chart_in_key(chart, sensible(chart.key))


def make_chart(rows: list[str], *, key: str = "", metre: Metre = COMMON_TIME, title: str = "") -> str:
    """Chart text from bars, each a string of chords; for importers that have no text of their own."""
    heading = [f"title: {title}"] if title else []
    heading += [f"key: {key}"] if key else []
    heading.append(f"metre: {metre.text}")
    lines = [f"| {' | '.join(rows[at : at + BARS_PER_LINE])} |" for at in range(0, len(rows), BARS_PER_LINE)]
    return "\n".join([*heading, "", *lines])
