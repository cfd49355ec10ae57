"""The one door to verovio: music in, SVG out. Nobody else imports it.

What a page needs is done here: no `<style>` inside (a strict content security policy blocks it), colours that
follow the page, chord symbols as real text (♭ ♯ ° ø, no private-use characters), a title and a text equivalent.
A toolkit made outside the main thread cannot find its fonts, so each is told where they are; one toolkit is shared
under a lock, because two threads gained nothing.
"""

from __future__ import annotations

import hashlib
import re
import threading
from collections.abc import Sequence
from dataclasses import dataclass
from html import escape
from pathlib import Path
from typing import Any

from drills.lines.line import Line, LineChord
from drills.lines.notate import WrittenBar
from drills.mei import FILLER, systems, to_mei

PAGE_WIDTHS = {4: 2150, 2: 1130}
"""Width of a system in the engraver's units, by bars in it: four on a desk or on paper, two on a phone."""

_OPTIONS: dict[str, Any] = {
    "adjustPageHeight": True, "breaks": "encoded", "header": "none", "footer": "none", "pageHeight": 60000,
    "pageMarginTop": 20, "pageMarginBottom": 20, "pageMarginLeft": 20, "pageMarginRight": 20,
    "svgViewBox": True, "svgRemoveXlink": True, "svgFormatRaw": True, "smuflTextFont": "none",
    "spacingSystem": 11, "spacingLinear": 0.22, "minLastJustification": 0.0, "harmDist": 1.6,
    "bottomMarginHarm": 1.6, "topMarginHarm": 1.2, "lyricSize": 4.0,
}  # fmt: skip
_lock = threading.Lock()
_toolkit: Any = None
_ACCIDENTALS = str.maketrans({"b": "♭", "#": "♯"})


class EngravingFailed(RuntimeError):
    """Verovio could not read what it was given: a fault of ours, never of a user."""


@dataclass(frozen=True, slots=True)
class Engraving:
    """An SVG for a page, and its size in the engraver's units."""

    svg: str
    width: int
    height: int


def _engraver() -> Any:
    global _toolkit
    if _toolkit is None:
        import verovio

        verovio.enableLog(verovio.LOG_WARNING)  # to standard error
        _toolkit = verovio.toolkit(False)
        _toolkit.setResourcePath(str(Path(verovio.__file__).parent / "data"))
    return _toolkit


def render(source: str, *, per_system: int = 4, seed: int = 1) -> str:
    """The engraver's own SVG of MEI or MusicXML. Raises `EngravingFailed`."""
    with _lock:
        tool = _engraver()
        tool.resetOptions()
        tool.setOptions({**_OPTIONS, "pageWidth": PAGE_WIDTHS[per_system], "xmlIdSeed": seed})
        if not tool.loadData(source):
            raise EngravingFailed("The engraver could not read this music.")
        return str(tool.renderToSVG(1))


def midi_of(source: str) -> bytes:
    """A MIDI file made by the engraver from MEI or MusicXML: an independent reading of our writers, for tests."""
    import base64

    with _lock:
        tool = _engraver()
        tool.resetOptions()
        tool.loadData(source)
        return base64.b64decode(tool.renderToMIDI())


def engrave(
    line: Line,
    *,
    per_system: int = 4,
    functions: bool = False,
    paper: bool = False,
    written: Sequence[WrittenBar] | None = None,
) -> Engraving:
    """A line as SVG. `paper`: for print (own fonts and colours named in the file), else for a page of ours.

    `written`: how its bars stand, where they are not to be notated anew.
    """
    source = to_mei(line, per_system=per_system, functions=functions, filled=True, written=written)
    mark = hashlib.sha256(source.encode()).hexdigest()[:6]
    raw = render(source, per_system=per_system, seed=int(mark, 16) % 1_000_000 + 1)
    svg = _with_room_above(_set_texts(_without_fillers(raw), line, per_system))
    svg = _cleaned(svg, mark)
    svg = _for_paper(svg) if paper else _for_page(svg, line, mark)
    width, height = (int(float(part)) for part in _VIEWBOX.search(svg).groups())  # type: ignore[union-attr]
    return Engraving(svg, width, height)


_VIEWBOX = re.compile(r'viewBox="0 0 ([\d.]+) ([\d.]+)"')
_SET_TEXT = re.compile(
    r'<g id="([cfkr]\d+)" class="(?:harm|dir|reh)">\s*<text x="(-?\d+)" y="(-?\d+)"[^>]*>.*?</text>\s*</g>', re.DOTALL
)
_OUR_TEXT = re.compile(r'<text x="-?\d+" y="(-?\d+)" class="(?:area|letter)"')
_MARGIN = 10 * int(_OPTIONS["pageMarginTop"])
_STYLE = re.compile(r"<style.*?</style>|<desc>.*?</desc>", re.DOTALL)
_FOREIGN_ID = re.compile(r' id="(?!m\d+"|E[0-9A-F]{3,4}-)[^"]*"')
_MEASURE_ID = re.compile(r' id="m(\d+)" class="measure"')
_NOTE_ID = re.compile(r' id="n(\d+)-[^"]*" class="note"')
_PLACEHOLDER = re.compile(r'<g class="[^"]*placeholder[^"]*">.*?</g>', re.DOTALL)
_EMPTY = re.compile(r'<g(?: class="[^"]*")? ?/>')
_SPACE = re.compile(r">\s+<")


def _without_fillers(svg: str) -> str:
    """The silent bars that fill the last system stand at its end: out with them, up to the mark where it ends."""
    start = svg.find(f'<g id="{FILLER}0"')
    return (
        svg
        if start < 0
        else svg[:start] + svg[svg.rindex("<g", start, svg.index('class="systemMilestoneEnd', start)) :]
    )


def _with_room_above(svg: str) -> str:
    """Moved down where a key name that we set above the first chords would stand outside of the picture."""
    top = min((int(y) for y in _OUR_TEXT.findall(svg)), default=0)
    short = SMALL_SIZE - _MARGIN - top
    if short <= 0:
        return svg
    more = -(-short // 10)
    svg = svg.replace(f"translate({_MARGIN}, {_MARGIN})", f"translate({_MARGIN}, {_MARGIN + 10 * more})", 1)
    heights = iter((more, 10 * more))  # the picture's own units, then the engraver's, ten to one
    return re.sub(
        r'viewBox="0 0 (\d+) (\d+)"', lambda box: f'viewBox="0 0 {box[1]} {int(box[2]) + next(heights)}"', svg, count=2
    )


def _cleaned(svg: str, mark: str) -> str:
    """Without style sheets, ids and empty groups that nothing refers to."""
    svg = _STYLE.sub("", svg)
    svg = _NOTE_ID.sub(r' class="note" data-note="\1"', svg)
    svg = _FOREIGN_ID.sub("", svg)
    svg = _PLACEHOLDER.sub("", svg)
    svg = _EMPTY.sub("", svg)
    svg = _SPACE.sub("><", svg)
    return _MEASURE_ID.sub(lambda match: f' id="{mark}-{match[1]}" class="measure" data-bar="{match[1]}"', svg)


def _for_page(svg: str, line: Line, mark: str) -> str:
    """Named for a screen reader; colours are left to the page's own style sheet (static/css/drills.css)."""
    svg = (
        svg.replace(' color="black"', "").replace(' font-family="Times, serif"', "").replace(' overflow="visible"', "")
    )
    title = f'<title id="{mark}-title">{escape(svg_title(line))}</title>'
    head = f'class="engraving" role="img" aria-labelledby="{mark}-title" '
    return re.sub(r"<svg ", f"<svg {head}", svg, count=1).replace(">", f">{title}", 1)


def _for_paper(svg: str) -> str:
    """With explicit strokes and fonts, because no style sheet reaches inside a printed image."""
    svg = re.sub(r"<(path|rect|ellipse|polygon|polyline)(?![^>]*stroke=)", r'<\1 stroke="black"', svg)
    return svg.replace('font-family="Times, serif"', 'font-family="Libertinus Serif"')


def svg_title(line: Line) -> str:
    """What the picture is, in one sentence."""
    count = len([bar for bar in line.bars if bar.number])
    return f"{line.title}, in {line.key.display}, {count} bars"


def _set_texts(svg: str, line: Line, per_system: int) -> str:
    """The engraver's plain texts set properly: symbols raised, letters and key names in one row above the chords."""
    places = {match[1]: (int(match[2]), int(match[3])) for match in _SET_TEXT.finditer(svg)}
    first_chords = _first_chords(line)
    below = _function_rows(places, line, per_system)

    def row_above(name: str) -> int:
        x_y = places[name]
        chord = places.get(f"c{first_chords.get(int(name[1:]), -1)}")
        return chord[1] - ROW if chord else x_y[1]

    def set_one(match: re.Match[str]) -> str:
        name = match[1]
        number, (x, y) = int(name[1:]), places[name]
        if name[0] == "c":
            return _chord_text(x, y, line.chords[number])
        if name[0] == "f":
            return _plain_text(x, below[number], "function", _signed(line.chords[number].numeral))
        if name[0] == "r":
            return _plain_text(x, row_above(name), "letter", line.bars[number].label)
        beside = x + LETTER_WIDTH * (1 + len(line.bars[number].label)) if line.bars[number].label else x
        area = line.bars[number].area
        return _plain_text(beside, row_above(name), "area", area.display if area else "")

    return _SET_TEXT.sub(set_one, svg)


def _function_rows(places: dict[str, tuple[int, int]], line: Line, per_system: int) -> dict[int, int]:
    """Index of chord → height of its function name: one row for each system, under its lowest name."""
    system_of = systems(line, per_system)
    named = {
        place: system_of[index]
        for index, row in enumerate(line.chords_by_bar()) for place, _ in row if f"f{place}" in places
    }  # fmt: skip
    rows: dict[int, int] = {}
    for place, system in named.items():
        rows[system] = max(rows.get(system, 0), places[f"f{place}"][1])
    return {place: rows[system] for place, system in named.items()}


def _first_chords(line: Line) -> dict[int, int]:
    """Index of bar → index of the chord on its first beat."""
    starts = {bar.start: index for index, bar in enumerate(line.bars)}
    return {starts[chord.start]: place for place, chord in enumerate(line.chords) if chord.start in starts}


def _signed(numeral: str) -> str:
    """Accidentals before Roman numerals as signs: "bVII7" → "♭VII7"; "subV7" keeps its letters."""
    return re.sub(r"(?<![a-z])([b#]+)(?=[iIvV])", lambda match: match[1].translate(_ACCIDENTALS), numeral)


CHORD_SIZE, RAISED_SIZE, SMALL_SIZE, RAISED_BY = 400, 280, 320, 130
ROW, LETTER_WIDTH = 430, 200


def _chord_text(x: int, y: int, chord: LineChord) -> str:
    """Root, accidental, body on the line, raised extensions, bass after a stroke; all of it text."""
    if chord.symbol is None:
        return f'<text x="{x}" y="{y}" class="chord" font-size="{SMALL_SIZE}">{chord.text}</text>'
    parts = chord.symbol.display_parts
    line = [escape(f"{parts.root}{parts.accidental}{parts.body}")]
    if parts.superscript:
        line.append(f'<tspan dy="-{RAISED_BY}" font-size="{RAISED_SIZE}">{escape(parts.superscript)}</tspan>')
    if parts.bass:
        back = f' dy="{RAISED_BY}"' if parts.superscript else ""
        line.append(f"<tspan{back}>/{escape(parts.bass)}</tspan>")
    return f'<text x="{x}" y="{y}" class="chord" font-size="{CHORD_SIZE}">{"".join(line)}</text>'


def _plain_text(x: int, y: int, kind: str, text: str) -> str:
    look = {"area": ' font-style="italic"', "letter": ' font-weight="bold"'}.get(kind, "")
    return f'<text x="{x}" y="{y}" class="{kind}" font-size="{SMALL_SIZE}"{look}>{escape(text)}</text>'
