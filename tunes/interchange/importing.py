"""The whole way in: bytes → lead sheet → bars → chart → chart text that reads back as that chart."""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Any

from tunes.harmony.charts import Chart, parse_chart, write_chart
from tunes.interchange.archive import LIMITS, Limits
from tunes.interchange.bars import count_bars
from tunes.interchange.build import build_chart, build_melody, on_the_grid
from tunes.interchange.errors import LOSSES, Loss, Refused
from tunes.interchange.melody import Melody
from tunes.interchange.reader import read_musicxml

_GRIDS = (Fraction(1, 4), Fraction(1, 2), Fraction(1))


@dataclass(frozen=True)
class ImportReading:
    """What came out of a file. `text` reads back as `chart`; `losses` are in the order of the bars."""

    title: str
    composer: str
    text: str
    chart: Chart
    melody: Melody
    losses: tuple[Loss, ...]

    @property
    def remark(self) -> str:
        """A plain doubt about the key: chords that end elsewhere than the signature says. "" when there is none."""
        last = next((s.symbol for bar in reversed(self.chart.bars) for s in reversed(bar.slots) if s.symbol), None)
        key = self.chart.key
        if key is None or last is None or last.root in (key.tonic, key.relative.tonic):
            return ""
        return f"The signature says {key.display}, but the last chord is {last.display}: check the key."

    @property
    def harmonic_losses(self) -> tuple[Loss, ...]:
        """Losses of the chart itself; words under notes and fingering pictures are no part of it."""
        return tuple(loss for loss in self.losses if loss.what not in ("lyrics", "frame"))

    @property
    def named(self) -> tuple[tuple[str, tuple[Loss, ...]], ...]:
        """Losses by kind, each with the sentence that says what it means."""
        kinds = dict.fromkeys(loss.what for loss in self.losses)
        return tuple((LOSSES[kind], tuple(loss for loss in self.losses if loss.what == kind)) for kind in kinds)


def import_lead_sheet(data: bytes, limits: Limits = LIMITS, *, chords: bool = True) -> ImportReading:
    """Read a .musicxml, .xml or .mxl file. Raises `Refused` with a line for the person who sent it.

    With `chords` False a score without any chord is taken too, for its melody.
    """
    sheet = read_musicxml(data, limits)
    if chords and not any(bar.chords for bar in sheet.bars):
        raise Refused("no-chords", "The score has no chord symbols. Export it with its chords, or type the chart.")
    counted = count_bars(sheet.bars)
    chart, built = build_chart(sheet, counted)
    chart, text, moved = _as_text(chart)
    numbered = tuple(_numbered(loss, counted.pickup) for loss in sheet.losses)
    losses = sorted([*numbered, *counted.losses, *built, *moved], key=lambda x: -1 if x.bar is None else x.bar)
    return ImportReading(sheet.title, sheet.composer, text, chart, build_melody(counted), tuple(losses))


def _numbered(loss: Loss, pickup: bool) -> Loss:
    """Losses of the reader count measures from 0; a reader of charts counts bars from 1."""
    return loss if loss.bar is None else replace(loss, bar=loss.bar if pickup else loss.bar + 1)


def _as_text(chart: Chart) -> tuple[Chart, str, list[Loss]]:
    """The chart as its own text gives it back; chords move to a grid only when they must."""
    text = write_chart(chart)
    back = parse_chart(text).chart
    if back is not None and same_music(back, chart):
        return back, text, []
    for step in _GRIDS:
        moved, losses = on_the_grid(chart, step)
        text = write_chart(moved)
        back = parse_chart(text).chart
        if back is not None and same_music(back, moved):
            return back, text, losses
    if back is None or len(back.bars) != len(chart.bars):
        raise Refused("no-chart", "The score was read, but its bars make no chart. Type the chart by hand.")
    return back, text, [Loss("offbeat", bar.number, "read anew from its text") for bar in differing(back, chart)]


def same_music(a: Chart, b: Chart) -> bool:
    """Equal in everything that sounds or steers, line breaks and comments aside."""
    return len(a.bars) == len(b.bars) and a.sections == b.sections and a.key == b.key and not differing(a, b)


def differing(a: Chart, b: Chart) -> list[Any]:
    """Bars of `b` whose counterpart in `a` is another."""
    return [two for one, two in zip(a.bars, b.bars, strict=False) if _heart(one) != _heart(two)]


def _heart(bar: Any) -> tuple[Any, ...]:
    return (
        tuple((slot.symbol, slot.start, slot.duration) for slot in bar.slots),
        bar.metre,
        bar.number,
        bar.start_repeat,
        bar.end_repeat,
        bar.endings,
        bar.segno,
        bar.coda,
        bar.to_coda,
        bar.fine,
        bar.jump,
        bar.jump_to,
        bar.beats,
    )
