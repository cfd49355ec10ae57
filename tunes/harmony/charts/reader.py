"""Chart text → Chart, with every problem at its line and bar; what can be read is always returned.

The notation is described in docs/chart-text.md. Nothing typed is lost: text that is not understood stays in the
chart (as a slot without a symbol, a comment or a note line) and is written back by `write_chart`.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field, replace

from tunes.harmony.charts.bar_count import bar_count
from tunes.harmony.charts.bar_marks import ends_a_bar
from tunes.harmony.charts.bar_text import Cell, finish_cell
from tunes.harmony.charts.bars import COMMON_TIME, Bar, Metre, Section
from tunes.harmony.charts.heading_hints import is_key, nearest_key, nearest_metre
from tunes.harmony.charts.model import Chart
from tunes.harmony.charts.route_check import Place, route_problems
from tunes.harmony.charts.tokens import Barline, Token, line_tokens, read_barline, read_metre, read_pickup
from tunes.harmony.chords import parse_symbol
from tunes.harmony.pitch.spelling import Key, SpellingError
from tunes.harmony.problems import Problem

MOST_BARS = 2000
MOST_CHARACTERS = 200_000
HEADER_NAMES = frozenset(
    {"title", "key", "metre", "meter", "time", "composer", "tempo", "feel", "form", "style", "source", "note"}
)
MOST_TITLE = 60
MARKS = frozenset({"sign", "angle", "ending"})
_LETTER = re.compile(r"[A-Z][1-4']?")
_PICKUP_NAMES = frozenset({"pickup", "pick-up", "upbeat"})
_METRE_NAMES = frozenset({"metre", "meter", "time"})
_BRACKET_LABEL = re.compile(r"\s*\[\s*([^\W_][\w' .’\-]{0,40}?)\s*\]\s*")
_COLON_LINE = re.compile(r"\s*([^\W_][\w' .’\-]{0,40}?)(?::|\s:(?!\s?\|))\s*")


@dataclass(frozen=True, slots=True)
class ChartReading:
    """A chart as far as it could be read, what is wrong with the text, and how ambiguities were settled.

    chart is None only for a text without a single bar.
    """

    chart: Chart | None
    problems: tuple[Problem, ...] = ()
    remarks: tuple[str, ...] = ()

    @property
    def ok(self) -> bool:
        return self.chart is not None and not self.problems


def parse_chart(text: str) -> ChartReading:
    """Read a whole chart. Never raises.

    >>> reading = parse_chart("key: Bb\\nA:\\n| Cm7 F7 | Bbmaj7 |")
    >>> [event.symbol.text for event in reading.chart.events()], reading.chart.key.text
    (['Cm7', 'F7', 'Bbmaj7'], 'Bb major')
    """
    reader = _Reader()
    offset = 0
    for number, line in enumerate(text[:MOST_CHARACTERS].split("\n"), start=1):
        reader.line(line, number, offset)
        offset += len(line) + 1
    if len(text) > MOST_CHARACTERS:
        reader.problem("The text is too long for one chart; the rest was not read.", "", MOST_CHARACTERS, len(text))
    return reader.finish(len(text))


@dataclass(frozen=True, slots=True)
class Heading:
    """A section label: the bar it stands before, and where it was typed."""

    label: str
    first_bar: int
    start: int
    end: int
    line: int


@dataclass
class _Reader:
    """State while reading from line to line."""

    bars: list[Bar] = field(default_factory=list)
    sections: list[Heading] = field(default_factory=list)
    headers: list[tuple[str, str]] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)
    remarks: list[tuple[int, str]] = field(default_factory=list)  # printed bar, what is said of it
    title: str = ""
    key: Key | None = None
    metre: Metre | None = None
    now: Metre = COMMON_TIME
    start_repeat: Token | None = None
    closings: list[Place] = field(default_factory=list)  # for every bar, where its closing barline stands
    signs: list[tuple[Token, int]] = field(default_factory=list)  # with the index of the bar they belong to
    pending: list[Token] = field(default_factory=list)  # signs at the end of a line, for the next bar
    line_number: int = 0
    full: bool = False

    # --- lines ---

    def line(self, line: str, number: int, offset: int) -> None:
        self.line_number = number
        if not line.strip():
            return
        if line.lstrip().startswith("#"):
            self.notes.append(line.strip()[1:].strip())
            return
        bracket = _BRACKET_LABEL.match(line)
        if bracket:
            self._label(bracket[1], offset + bracket.start(), offset + bracket.end())
            self._music(line[bracket.end() :], offset + bracket.end(), top=False)
            return
        colon = _COLON_LINE.match(line)
        if colon and self._colon_line(colon, line, offset):
            return
        self._music(line, offset)

    def _colon_line(self, colon: re.Match[str], line: str, offset: int) -> bool:
        """A header, or a label with or without bars after it; False when it is music after all."""
        name, rest = colon[1], line[colon.end() :]
        value_start = offset + colon.end()
        if name.lower() in _PICKUP_NAMES and rest.strip() and "|" not in rest and not self.bars:
            self._pickup_header(name, rest.strip(), value_start)
            return True
        if name.lower() in HEADER_NAMES and "|" not in rest:
            self._header(name, rest.strip(), Place(offset, value_start, value_start + len(rest.strip())))
        elif "|" in rest or not rest.strip() or len(name) <= 2:
            if "|" in line[: colon.end()]:
                return False
            self._label(name, offset + colon.start(1), value_start)
            self._music(rest, value_start, top=False)
        elif self.bars:
            self.problem(f"“{name}:” belongs above the first bar; it is kept as a note.", f"# {line.strip()}",
                         offset, offset + len(line))  # fmt: skip
            self.notes.append(line.strip())
        else:
            self.headers.append((name, rest.strip()))
        return True

    def _label(self, label: str, start: int, end: int) -> None:
        self.sections.append(Heading(" ".join(label.split()), len(self.bars), start, end, self.line_number))

    def _header(self, name: str, value: str, place: Place) -> None:
        low = name.lower()
        if low in _METRE_NAMES:
            self._metre_header(name, value, place)
        elif self.bars:
            message = f"“{name}:” belongs above the first bar; it is kept as a note."
            self.problem(message, f"# {name}: {value}", place.start, place.end)
            self.notes.append(f"{name}: {value}")
        elif low == "title" and not self.title:
            self.title = value
        elif low == "key" and self.key is None:
            self._key_header(name, value, place)
        else:
            if low in ("title", "key"):
                self._given_twice(f"“{name}:”", f"# {name}: {value}", place)
            self.headers.append((name, value))

    def _given_twice(self, what: str, note: str, place: Place) -> None:
        self.problem(f"{what} is given twice; the first one counts.", note, place.start, place.end)

    def _key_header(self, name: str, value: str, place: Place) -> None:
        try:
            self.key = Key.parse(value)
        except SpellingError:
            self.problem(f"“{value}” is not a key.", nearest_key(value), place.value, place.end)
            self.headers.append((name, value))

    def _pickup_header(self, name: str, value: str, start: int) -> None:
        """The first bar is a pickup of so many beats: a mark of that bar."""
        if read_pickup(f"pickup {value}")[1] is None:
            self.problem(f"“{value}” is not a number of beats.", "1", start, start + len(value))
            self.headers.append((name, value))
        else:
            self.pending.append(Token("angle", f"<pickup {value}>", start, len(value)))

    def _metre_header(self, name: str, value: str, place: Place) -> None:
        metre = read_metre(value)
        if metre is None:
            self.problem(f"“{value}” is not a metre.", nearest_metre(value), place.value, place.end)
            self.notes.append(f"{name}: {value}") if self.bars else self.headers.append((name, value))
        elif self.bars:
            self.now = metre
        elif self.metre is None:
            self.metre = self.now = metre
        else:
            self._given_twice("The metre", f"# {name}: {value}", place)
            self.headers.append((name, value))

    # --- bars ---

    def _music(self, line: str, offset: int, *, top: bool = True) -> None:
        """Bars of a line; `top`: nothing such as a label stands before them in it."""
        tokens = line_tokens(line, offset)
        if not tokens:
            return
        if not any(token.kind == "barline" for token in tokens) and self._is_prose(line, tokens, offset, top=top):
            return
        cell = Cell(start=offset, marks=self.pending)
        self.pending = []
        opened = False
        first = True
        for token in tokens:
            if token.kind == "label":
                self._bracketed(token, cell)
                continue
            if token.kind != "barline":
                cell.tokens.append(token)
                continue
            barline = read_barline(token.text)
            first = self._close(cell, token, barline, opened, first)
            opened = not (barline.double or barline.end_repeat) or barline.start_repeat
            cell = Cell(start=token.end, marks=cell.marks if not cell.used else [])
        self._last_cell(cell, first, lone=not any(token.kind == "barline" for token in tokens))

    def _bracketed(self, token: Token, cell: Cell) -> None:
        """A word in square brackets after a barline begins a section; [C7] is a chord all the same."""
        label = token.text[1:-1].strip()
        if not _LETTER.fullmatch(label) and parse_symbol(label).symbol is not None:
            cell.tokens.append(replace(token, kind="chord"))
        elif cell.has_music:
            self.problem("A section begins at a barline.", f"| {token.text}", token.start, token.end)
            cell.tokens.append(Token("comment", f'"{token.text}"', token.start, len(token.text)))
        else:
            self._label(label, token.start, token.end)
            cell.used = True

    def _is_prose(self, line: str, tokens: list[Token], offset: int, *, top: bool) -> bool:
        """A line without barlines: chords are read as one bar, words are kept as a note; both are told."""
        chords = [token for token in tokens if token.kind in ("chord", "copy", "none", "beats")]
        looks = sum(1 for token in chords if token.kind != "chord" or re.match(r"[A-Ga-gN?]", token.text))
        end = offset + len(line.rstrip())
        if chords and looks == len(chords) and len(chords) == len(tokens):
            self.problem(
                "Bars stand between | signs; this line is read as one bar.", f"| {line.strip()} |", offset, end
            )
            return False
        if not chords:
            return False
        self.problem("This line has no bars; it is kept as a note.", self._advised(line, top=top), offset, end)
        self.notes.append(line.strip())
        return True

    def _advised(self, line: str, *, top: bool) -> str:
        """What to type for a line of words: above the first bar the key or the title that it may be, else a note."""
        words = line.strip()
        above = not (self.bars or self.sections)
        if above and self.key is None and is_key(words):
            return f"key: {words}"
        if above and not self.title and len(line) <= MOST_TITLE:
            return f"title: {words}"
        return f"# {words}" if top else f"\n# {words}"

    def _close(self, cell: Cell, token: Token, barline: Barline, opened: bool, first: bool) -> bool:
        """A barline: ends the bar before it, if there is one. Returns whether the next bar begins the line."""
        if cell.has_music or (opened and not cell.tokens and not cell.used and barline_is_plain(token.text)):
            self._bar(cell, token.start, first)
            self.closings[-1] = Place(token.start, token.start, token.end, self.line_number)
            first = False
            cell.used = True
        elif cell.tokens:
            cell.marks = [*cell.marks, *cell.tokens]
        if barline.end_repeat or barline.double:
            self._ends(barline, token)
        if barline.start_repeat:
            self.start_repeat = token
        return first

    def _ends(self, barline: Barline, token: Token) -> None:
        if not self.bars:
            if barline.end_repeat:
                self.problem("A repeat ends here before any bar.", "|", token.start, token.end)
            return
        last = self.bars[-1]
        times = barline.end_repeat or last.end_repeat
        self.bars[-1] = replace(last, end_repeat=times, double_end=last.double_end or barline.double)

    def _last_cell(self, cell: Cell, first: bool, *, lone: bool) -> None:
        """What follows the last barline of a line: a bar whose barline is left out, or signs for the bar before.

        `lone`: a line of signs without any barline.
        """
        if cell.has_music:
            self._bar(cell, cell.tokens[-1].end, first)
        elif lone and not self.bars and all(token.kind in ("angle", "sign") for token in cell.tokens):
            self.pending = [*cell.marks, *cell.tokens]  # signs on a line above the first bar belong to it
        elif (cell.marks or cell.tokens) and self.bars and (lone or not first):
            self._late_marks([*cell.marks, *cell.tokens])
        elif cell.tokens or cell.marks:
            cell.tokens = [*cell.marks, *cell.tokens]
            cell.marks = []
            self._bar(cell, cell.tokens[-1].end, first)

    def _late_marks(self, tokens: list[Token]) -> None:
        """Signs after the last barline of a line: ends and comments belong to the bar before, the rest to the next."""
        late = [token for token in tokens if ends_a_bar(token)]
        self.pending = [token for token in tokens if token not in late]
        if late:
            bar, problems = finish_cell(Cell(late[0].start, marks=late), self.bars[:-1], self.now, late=self.bars[-1])
            self.bars[-1] = bar[0]
            self.signs.extend((token, len(self.bars) - 1) for token in late)
            self._tell(problems, bar[0].number)
            self._comment_to_first_copy()

    def _comment_to_first_copy(self) -> None:
        """Bars copied together are written as one, so their comment stands with the first of them."""
        last = self.bars[-1]
        if last.copy_index and last.comment:
            first = self.bars[-1 - last.copy_index]
            self.bars[-1 - last.copy_index] = replace(first, comment=f"{first.comment} {last.comment}".strip())
            self.bars[-1] = replace(last, comment="")

    def _bar(self, cell: Cell, end: int, first: bool) -> None:
        if len(self.bars) >= MOST_BARS:
            if not self.full:
                self.problem(f"A chart has at most {MOST_BARS} bars; the rest was not read.", "", cell.start, end)
            self.full = True
            return
        cell.end = end
        made, problems = finish_cell(cell, self.bars, self.now, number=self._next_number())
        section = max(len(self.sections) - 1, 0)
        if not self.sections:
            self.sections.append(Heading("", 0, cell.start, cell.start, self.line_number))
        lead = replace(
            made[0],
            section=section,
            start_repeat=self.start_repeat is not None,
            notes=tuple(self.notes),
            new_line=first,
        )
        self.signs.extend((token, len(self.bars)) for token in [*cell.marks, *cell.tokens] if token.kind in MARKS)
        self.closings.extend(Place(end, end, end, self.line_number) for _ in made)
        self.bars.append(lead)
        self.bars.extend(replace(bar, section=section) for bar in made[1:])
        self.now = lead.metre
        self.start_repeat, self.notes = None, []
        self._tell(problems, lead.number)

    def _next_number(self) -> int:
        return self.bars[-1].number + 1 if self.bars else 1

    def _tell(self, found: list[Problem | str], bar: int) -> None:
        for item in found:
            if isinstance(item, Problem):
                self.problems.append(replace(item, line=self.line_number, bar=bar))
            else:
                self.remarks.append((bar, item))

    def problem(self, message: str, suggestion: str, start: int, end: int, *, removes: bool = False) -> None:
        self.problems.append(
            Problem(message, suggestion, start, max(start, end), self.line_number, -1, removes=removes)
        )

    # --- the whole ---

    def finish(self, length: int) -> ChartReading:
        if not self.bars:
            if not self.problems:
                self.problem("There are no bars yet.", "\n| Dm7 G7 | Cmaj7 |", length, length)
            return ChartReading(None, tuple(self.problems))
        if self.start_repeat is not None:
            self.problem("A repeat begins after the last bar.", "|", self.start_repeat.start, self.start_repeat.end)
        for token in self.pending:
            message = "This sign stands after the last bar; it is kept as a note."
            self.problem(message, "", token.start, token.end, removes=True)
            self.notes.append(token.text)
        chart = Chart(
            tuple(self.bars), self._sections(), self.key, self.metre or COMMON_TIME, self.title,
            tuple(self.headers), tuple(self.notes),
        )  # fmt: skip
        self._check_sections()
        count = bar_count(chart)
        self.problems.extend(route_problems(self.bars, chart.sections, self.closings, self.signs, count.drawn_name))
        remarks = (f"{count.drawn_at(bar).capitalize()}: {said}" for bar, said in self.remarks)
        return ChartReading(chart, tuple(self.problems), tuple(dict.fromkeys(remarks)))

    def _sections(self) -> tuple[Section, ...]:
        starts = [(heading.label, heading.first_bar) for heading in self.sections]
        if starts and starts[0][1] > 0:
            starts = [("", 0), *starts]
        ends = [start for _, start in starts[1:]] + [len(self.bars)]
        return tuple(Section(label, start, end - start) for (label, start), end in zip(starts, ends, strict=True))

    def _check_sections(self) -> None:
        ends = [*(heading.first_bar for heading in self.sections[1:]), len(self.bars)]
        for heading, end in zip(self.sections, ends, strict=True):
            if heading.first_bar == end:
                self.line_number = heading.line
                self.problem(f"Section {heading.label} has no bars.", "", heading.start, heading.end, removes=True)


def barline_is_plain(text: str) -> bool:
    """One stroke: two of them with nothing between make an empty bar."""
    return text.strip() == "|"
