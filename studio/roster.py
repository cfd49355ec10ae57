"""Reading a roster: bytes or text in, rows and located problems out. Pure: no database, nothing written.

Spreadsheets write CSV in many dialects. Read here: UTF-8 with or without a byte-order mark, UTF-16,
Windows-1252; comma, semicolon or tab; quoted fields with line breaks inside; any order of columns.
"""

from __future__ import annotations

import csv
import difflib
import io
import re
import unicodedata
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace

from studio import addresses
from studio.instruments import find_instrument, instrument_list, nearest, split_instruments

MAX_BYTES = 1_000_000
MAX_ROWS = 5_000
LONGEST_ID = 80
DELIMITERS = ",;\t"
EMAIL = re.compile(r"[^@\s,;<>\"()\[\]\\]+@[^@\s.,;<>\"()\[\]\\]+(\.[^@\s.,;<>\"()\[\]\\]+)+")

COLUMNS: Mapping[str, tuple[str, ...]] = {
    "name": ("name", "full name", "player", "student", "student name", "person"),
    "first": ("first name", "given name", "forename", "first"),
    "last": ("last name", "family name", "surname", "last"),
    "email": ("e-mail", "email", "mail", "e-mail address", "email address"),
    "school_id": (
        "school id",
        "school number",
        "student id",
        "student number",
        "staff number",
        "id number",
        "sourcedid",
    ),
    "ensemble": ("ensemble", "group", "band", "class"),
    "instrument": ("instrument", "chair"),
    "role": ("role", "as"),
}
ROLES = {
    "": "player",
    "player": "player",
    "student": "player",
    "instructor": "instructor",
    "teacher": "instructor",
    "leader": "instructor",
    "director": "instructor",
}
EXAMPLE = "name,e-mail,ensemble,instrument"


@dataclass(frozen=True)
class RosterProblem:
    """What is wrong in one line, and what to type instead. `line` counts from 1 as a text editor does; `text` is the line."""

    line: int
    message: str
    suggestion: str
    text: str = ""


@dataclass(frozen=True)
class RosterRow:
    """One good row. `ensemble` is spelled as the programme spells it, `instrument` is a key or empty, `doubles` the
    keys of the further instruments of the chair, `school_id` the number of the person in the school's systems or empty."""

    line: int
    name: str
    email: str  # of a person without one: what stands for it in this roster alone (`studio.addresses`)
    ensemble: str
    instrument: str
    role: str
    doubles: tuple[str, ...] = ()
    school_id: str = ""

    @property
    def address(self) -> str:
        """The e-mail address, "" where the row has none."""
        return self.email if addresses.is_known(self.email) else ""

    @property
    def said(self) -> str:
        """Who is meant, in a message."""
        return self.address or f"The person with the school id {self.school_id}"

    @property
    def instrument_name(self) -> str:
        return instrument_list([self.instrument, *self.doubles])


@dataclass(frozen=True)
class RosterReading:
    """Everything that was read; `text` is what to show for correction."""

    rows: tuple[RosterRow, ...]
    problems: tuple[RosterProblem, ...]
    remarks: tuple[str, ...] = ()
    text: str = ""

    @property
    def people(self) -> int:
        """How many people the rows name: one with two chairs counts once."""
        return len({row.email for row in self.rows})


@dataclass
class _Seen:
    """What earlier lines said, to find repeats and contradictions."""

    chairs: dict[tuple[str, str], int] = field(default_factory=dict)
    names: dict[str, tuple[str, int]] = field(default_factory=dict)
    ids: dict[str, tuple[str, int]] = field(default_factory=dict)  # address → school id and its line
    addresses: dict[str, tuple[str, int]] = field(default_factory=dict)  # school id → address and its line


def decode(data: bytes) -> tuple[str, str]:
    """Text of a file and a remark on how it was read (empty for plain UTF-8)."""
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        return data.decode("utf-16", errors="replace"), "Read as UTF-16."
    try:
        return data.decode("utf-8-sig"), ""
    except UnicodeDecodeError:
        return data.decode(
            "cp1252", errors="replace"
        ), "Read as Windows text; check that names with accents look right."


def read_roster(text: str, ensembles: Mapping[str, object] | tuple[str, ...] | list[str]) -> RosterReading:
    """Read roster text against the names of the term's ensembles. Never raises on any text.

    >>> reading = read_roster("name;e-mail;ensemble;instrument\\nAda Quill;ada@x.example;combo;Tenor sax", ["Combo"])
    >>> reading.rows[0].ensemble, reading.rows[0].instrument, reading.problems
    ('Combo', 'tenor-sax', ())
    """
    text = text.removeprefix("\ufeff").replace("\x00", "")
    if len(text) > MAX_BYTES:
        problem = RosterProblem(1, "The roster is longer than a million characters.", "Split it into several files.")
        return RosterReading((), (problem,), text=text[:MAX_BYTES])
    rows: list[RosterRow] = []
    problems: list[RosterProblem] = []
    columns: dict[str, int] | None = None
    width, seen, ignored = 0, _Seen(), ""
    known = {_fold(name): name for name in ensembles} | {name: name for name in ensembles}
    for line, cells in _records(text, problems):
        if columns is None:
            columns, width = _header(line, cells, problems), len(cells)
            if not columns:
                break
            ignored = _ignored(cells, columns)
            continue
        if len(rows) >= MAX_ROWS:
            problems.append(RosterProblem(line, f"More than {MAX_ROWS} rows.", "Split the roster into several files."))
            break
        _row(line, cells, columns, width, known, seen, rows, problems)
    if not rows and not problems:
        advice = "Add one row for each chair." if columns else f"Begin with a line of column names: {EXAMPLE}"
        problems.append(RosterProblem(1, "There is no row in it.", advice))
    return RosterReading(tuple(rows), with_lines(problems, text), (ignored,) if ignored else (), text=text)


def with_lines(problems: list[RosterProblem], text: str) -> tuple[RosterProblem, ...]:
    """The problems in the order of their lines, each with the line as it was typed."""
    lines = re.split(r"\r\n|\r|\n", text)
    return tuple(
        replace(problem, text=lines[problem.line - 1].strip()[:200] if problem.line <= len(lines) else "")
        for problem in sorted(problems, key=lambda p: p.line)
    )


def _ignored(cells: list[str], columns: Mapping[str, int]) -> str:
    """One remark that names the columns that are not read."""
    names = [f"“{cell[:40]}”" for place, cell in enumerate(cells) if cell and place not in columns.values()]
    if not names:
        return ""
    words = ", ".join(names)
    return f"The column{'s' if len(names) > 1 else ''} {words} {'are' if len(names) > 1 else 'is'} not read."


def _fold(text: str) -> str:
    return " ".join(unicodedata.normalize("NFKC", text).casefold().split())


def _delimiter(text: str) -> str:
    """The separator that the first line with content uses most, outside quotes."""
    first = next((line for line in text.splitlines() if line.strip()), "")
    bare = re.sub(r'"[^"]*"', "", first)
    return max(DELIMITERS, key=bare.count)


def _records(text: str, problems: list[RosterProblem]) -> Iterator[tuple[int, list[str]]]:
    """Line number and cells of every record that is not blank."""
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=_delimiter(text), strict=True, skipinitialspace=True)
    while True:
        start = reader.line_num + 1
        try:
            cells = [_clean(cell) for cell in next(reader)]
        except StopIteration:
            return
        except csv.Error as error:
            problems.append(_quoting(start, reader.line_num, error))
            if "field larger" in str(error) or "unexpected end" in str(error):
                return
            continue
        if any(cells):
            yield start, cells


def _quoting(start: int, end: int, error: csv.Error) -> RosterProblem:
    if "field larger" in str(error):
        return RosterProblem(
            start, "One field is longer than 130,000 characters.", "Look for a quotation mark that is never closed."
        )
    place = "this line" if end <= start else f"lines {start} to {end}"
    return RosterProblem(
        start,
        f"A quotation mark in {place} is not closed, or stands in the middle of a field.",
        'Write "..." around a whole field, and "" for a quotation mark inside it.',
    )


def _clean(cell: str) -> str:
    """One line of text without control characters or doubled spaces."""
    kept = "".join(char if unicodedata.category(char) not in {"Cc", "Cf", "Cs"} else " " for char in cell)
    return " ".join(kept.split())


def _header(line: int, cells: list[str], problems: list[RosterProblem]) -> dict[str, int] | None:
    """Which column holds what; None after noting what is missing."""
    found: dict[str, int] = {}
    for position, cell in enumerate(cells):
        for key, names in COLUMNS.items():
            if _fold(cell).strip("*: ") in names and key not in found:
                found[key] = position
    missing = [label for key, label in (("email", "e-mail"), ("ensemble", "ensemble")) if key not in found]
    if "name" not in found and not {"first", "last"} <= set(found):
        missing.insert(0, "name")
    if not missing:
        return found
    words = " and ".join(missing)
    problems.append(
        RosterProblem(
            line, f"The first line has no column called {words}.", f"Begin with a line of column names: {EXAMPLE}"
        )
    )
    return None


def _row(
    line: int,
    cells: list[str],
    columns: Mapping[str, int],
    width: int,
    known: Mapping[str, str],
    seen: _Seen,
    rows: list[RosterRow],
    problems: list[RosterProblem],
) -> None:
    """Read one record into `rows`, or say in `problems` everything that is wrong with it."""
    if len(cells) > width and any(cells[width:]):
        problems.append(
            RosterProblem(
                line,
                f"{len(cells)} fields where the first line has {width}.",
                'Put "..." around a field that contains the separator.',
            )
        )
        return
    value = {key: cells[place] if place < len(cells) else "" for key, place in columns.items()}
    name = value.get("name") or f"{value.get('first', '')} {value.get('last', '')}".strip()
    email = value["email"].removeprefix("mailto:").strip("<>").lower()
    number = value.get("school_id", "")
    email_problems = [] if number and not email else _email_problems(line, email)
    email = email or addresses.of_row(number)
    found = [
        *_name_problems(line, name),
        *email_problems,
        *_id_problems(line, number),
        *_ensemble_problems(line, value["ensemble"], known),
        *_instrument_problems(line, value.get("instrument", "")),
        *_role_problems(line, value.get("role", "")),
    ]
    if not found:
        ensemble = known.get(value["ensemble"]) or known[_fold(value["ensemble"])]
        named = [
            entry.key for name in split_instruments(value.get("instrument", "")) if (entry := find_instrument(name))
        ]
        keys = list(dict.fromkeys(named)) or [""]
        role = ROLES[_fold(value.get("role", ""))]
        row = RosterRow(line, name, email, ensemble, keys[0], role, tuple(keys[1:]), number)
        found = _clashes(row, seen)
        if not found:
            rows.append(row)
    problems += found


def _name_problems(line: int, name: str) -> list[RosterProblem]:
    if not name:
        return [RosterProblem(line, "The name is missing.", "Type the name as it should be shown.")]
    if len(name) > 120:
        return [RosterProblem(line, "The name is longer than 120 characters.", "Shorten it.")]
    return []


def _email_problems(line: int, email: str) -> list[RosterProblem]:
    if not email:
        advice = "Type an address such as name@school.example, or a school id: the account then waits for an address."
        return [RosterProblem(line, "The e-mail address is missing.", advice)]
    if len(email) > 254 or not EMAIL.fullmatch(email) or not addresses.is_known(email):
        return [
            RosterProblem(
                line, f"“{email[:80]}” is not an e-mail address.", "Type an address such as name@school.example."
            )
        ]
    return []


def _id_problems(line: int, number: str) -> list[RosterProblem]:
    if len(number) <= LONGEST_ID:
        return []
    return [RosterProblem(line, f"The school id is longer than {LONGEST_ID} characters.", "Check which column it is.")]


def _ensemble_problems(line: int, text: str, known: Mapping[str, str]) -> list[RosterProblem]:
    if _fold(text) in known:
        return []
    if not known:
        return [RosterProblem(line, "The term has no ensembles yet.", "Make the ensemble first, then check again.")]
    names = sorted(set(known.values()))
    near = difflib.get_close_matches(_fold(text[:80]), known, n=1, cutoff=0.6)
    suggestion = (
        f"Type {known[near[0]]}" if near else f"Type one of: {', '.join(names[:8])}{' …' if len(names) > 8 else ''}"
    )
    message = f"There is no ensemble called “{text[:80]}” in the term." if text else "The ensemble is missing."
    return [RosterProblem(line, message, f"{suggestion}, or make that ensemble first.")]


def _instrument_problems(line: int, text: str) -> list[RosterProblem]:
    unknown = [name for name in split_instruments(text) if not find_instrument(name)]
    return [
        RosterProblem(line, f"“{name[:80]}” is not an instrument of the list.", nearest(name)) for name in unknown[:3]
    ]


def _role_problems(line: int, text: str) -> list[RosterProblem]:
    if _fold(text) in ROLES:
        return []
    return [RosterProblem(line, f"“{text[:80]}” is not a role.", "Type player or instructor, or leave it empty.")]


def _clashes(row: RosterRow, seen: _Seen) -> list[RosterProblem]:
    """The same chair twice, one address with two names or school ids, one school id with two addresses."""
    chair = (row.email, row.ensemble)
    if chair in seen.chairs:
        message = f"{row.said} is already in {row.ensemble} in line {seen.chairs[chair]}."
        return [RosterProblem(row.line, message, "Remove one of the two lines.")]
    name, line = seen.names.setdefault(row.email, (row.name, row.line))
    if name != row.name:
        message = f"{row.said} is “{name}” in line {line} and “{row.name}” here."
        return [
            RosterProblem(row.line, message, "Give both lines the same name, or each person an address of their own.")
        ]
    if row.school_id:
        number, line = seen.ids.setdefault(row.email, (row.school_id, row.line))
        address, first = seen.addresses.setdefault(row.school_id, (row.email, row.line))
        if number != row.school_id or address != row.email:
            message = (
                f"{row.email} has the school id {number} in line {line} and {row.school_id} here."
                if number != row.school_id
                else f"The school id {row.school_id} is that of {_told(address)} in line {first} and of {_told(row.email)} here."
            )
            return [RosterProblem(row.line, message, "Give each person one school id and one address.")]
    seen.chairs[chair] = row.line
    return []


def _told(email: str) -> str:
    return email if addresses.is_known(email) else "a row without an address"
