"""The one door to typst: drills and charts as PDF, one clean sheet after the other.

Engraved music goes in as SVG with its own strokes and fonts (no style sheet reaches inside an image), texts as data
(never as markup), so nothing that a user typed is run. Typst's own fonts carry ♭ ♯ ° ø; no system font is needed.
"""

from __future__ import annotations

import json
import tempfile
from collections.abc import Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from pathlib import Path
from typing import Any

from drills.engraving import engrave
from drills.lines.line import Line
from drills.lines.notate import WrittenBar
from tunes.harmony.charts import Chart
from tunes.harmony.charts.bars import Bar, Slot

PAPERS = ("a4", "us-letter")

_TEMPLATE = """
#let data = json("data.json")
#set document(title: data.title, author: data.author)
#set page(paper: data.paper, margin: (x: 16mm, top: 15mm, bottom: 17mm),
  footer: context text(8pt, fill: luma(90))[#data.footer #h(1fr) #counter(page).display("1 / 1", both: true)])
#set text(font: "Libertinus Serif", size: 10pt, lang: "en")
#set heading(outlined: true)
#let symbol(c) = box[#text(13pt)[#text(weight: "semibold")[#c.root]#c.body#super(typographic: false, size: 9pt)[#c.raised]#if c.bass != "" [\\/#c.bass]]]
#let rows(chart) = {
  for section in chart.sections {
    block(breakable: false, above: 12pt)[
      #if section.label != "" [#text(11pt, weight: "bold")[#section.label]]
      #for row in section.rows {
        grid(columns: (1fr,) * 4, row-gutter: 9pt, inset: (x: 4pt, y: 7pt), stroke: (left: 0.7pt, right: 0.7pt),
          ..row.map(bar => [#text(7pt, fill: luma(90))[#bar.signs] #grid(columns: bar.slots.map(s => s.width * 1fr), ..bar.slots.map(s => symbol(s)))]))
      }
    ]
  }
}
#for (i, sheet) in data.sheets.enumerate() {
  if i > 0 { pagebreak() }
  heading(level: 1, text(15pt, weight: "regular")[#sheet.title])
  text(9.5pt, fill: luma(70))[#sheet.subtitle]
  v(4pt)
  for note in sheet.notes [#text(9pt, style: "italic")[#note] \\ ]
  if "image" in sheet { image(sheet.image, width: 100%, alt: sheet.alt) }
  if "chart" in sheet { rows(sheet.chart) }
}
"""


@dataclass(frozen=True)
class PrintedSheet:
    """One page or more: a heading, a line under it, remarks, and a line of music or a chart."""

    title: str
    subtitle: str
    notes: tuple[str, ...] = ()
    line: Line | None = None
    written: tuple[WrittenBar, ...] | None = None
    chart: Chart | None = None
    functions: bool = False


@dataclass(frozen=True)
class Booklet:
    """A whole document. `footer` stands on every page."""

    title: str
    sheets: tuple[PrintedSheet, ...]
    author: str = ""
    footer: str = ""
    paper: str = "a4"
    warnings: list[str] = field(default_factory=list, compare=False)


def to_pdf(booklet: Booklet) -> bytes:
    """The document as PDF, tagged, with an outline. Raises ValueError for a booklet without sheets."""
    import typst

    if not booklet.sheets:
        raise ValueError("A booklet needs at least one sheet")
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        sheets = [_sheet(sheet, index, folder) for index, sheet in enumerate(booklet.sheets)]
        data = {
            "title": booklet.title, "author": booklet.author, "footer": booklet.footer,
            "paper": booklet.paper if booklet.paper in PAPERS else PAPERS[0], "sheets": sheets,
        }  # fmt: skip
        (folder / "data.json").write_text(json.dumps(data), encoding="utf-8")
        (folder / "main.typ").write_text(_TEMPLATE, encoding="utf-8")
        compiler = typst.Compiler(str(folder / "main.typ"), root=str(folder), ignore_system_fonts=True)
        made: Any = compiler.compile(format="pdf")
        return bytes(made)


def _sheet(sheet: PrintedSheet, index: int, folder: Path) -> dict[str, Any]:
    data: dict[str, Any] = {"title": sheet.title, "subtitle": sheet.subtitle, "notes": list(sheet.notes)}
    if sheet.line is not None:
        picture = engrave(sheet.line, per_system=4, functions=sheet.functions, paper=True, written=sheet.written)
        (folder / f"{index}.svg").write_text(picture.svg, encoding="utf-8")
        data |= {"image": f"{index}.svg", "alt": sheet.title}
    if sheet.chart is not None:
        data["chart"] = _chart(sheet.chart)
    return data


def _chart(chart: Chart) -> dict[str, Any]:
    """Sections of rows of four bars; every row is filled up to four places."""
    sections = []
    ranges = [(section.label, section.bar_range) for section in chart.sections] or [("", range(len(chart.bars)))]
    for label, numbers in ranges:
        bars = [_bar(chart.bars[number]) for number in numbers]
        rows = [bars[start : start + 4] for start in range(0, len(bars), 4)]
        sections.append({"label": label, "rows": rows})
    return {"sections": sections}


def _bar(bar: Bar) -> dict[str, Any]:
    return {"signs": _signs(bar), "slots": [_slot(slot) for slot in bar.slots]}


def _signs(bar: Bar) -> str:
    """Repeats, endings and jumps in words and usual abbreviations, before the chords of the bar."""
    signs = [
        "‖:" if bar.start_repeat else "", f"{'., '.join(map(str, bar.endings))}." if bar.endings else "",
        "Segno" if bar.segno else "", "Coda" if bar.coda else "", "to Coda" if bar.to_coda else "",
        "Fine" if bar.fine else "", f"{bar.jump} al {bar.jump_to}" if bar.jump and bar.jump_to else bar.jump,
        (f":‖ ×{bar.end_repeat}" if bar.end_repeat > 2 else ":‖") if bar.end_repeat else "",
    ]  # fmt: skip
    return "  ".join(sign for sign in signs if sign)


def _slot(slot: Slot) -> dict[str, Any]:
    width = float(max(slot.duration, Fraction(1, 4)))
    if slot.symbol is None:
        return {"root": slot.text or "N.C.", "body": "", "raised": "", "bass": "", "width": width}
    parts = slot.symbol.display_parts
    return {
        "root": f"{parts.root}{parts.accidental}", "body": parts.body, "raised": parts.superscript,
        "bass": parts.bass, "width": width,
    }  # fmt: skip


def booklet_of_lines(
    lines: Sequence[Line],
    *,
    tune: str,
    credit: str,
    pitch: str,
    footer: str = "",
    functions: bool = False,
) -> Booklet:
    """The sheets of one drill, a page or more for each key."""
    sheets = tuple(sheet_of_line(line, tune=tune, credit=credit, pitch=pitch, functions=functions) for line in lines)
    return Booklet(title=f"{tune}: {lines[0].title}", sheets=sheets, footer=footer)


def sheet_of_line(line: Line, *, tune: str, credit: str, pitch: str, functions: bool = False) -> PrintedSheet:
    """One line as a printed sheet, its remarks under the heading."""
    notes = tuple(remark.at(line) + remark.text for remark in line.remarks[:8])
    who = f"{credit} · " if credit else ""
    return PrintedSheet(
        title=f"{tune}: {line.title.lower()}",
        subtitle=f"{who}{line.key.display} · {pitch}",
        notes=notes,
        line=line,
        functions=functions,
    )
