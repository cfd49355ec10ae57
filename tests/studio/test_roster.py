"""Reading rosters: a table of real-world files first, then anything at all."""

from __future__ import annotations

import csv
import io

import pytest
from hypothesis import given
from hypothesis import strategies as st

from studio.roster import MAX_ROWS, decode, read_roster

ENSEMBLES = ("Combo", "Octet", "Übungsband")
HEAD = "name,e-mail,ensemble,instrument\n"
GOOD = "Ada Quill,ada@school.example,Combo,Tenor sax\n"


@pytest.mark.parametrize(
    "text",
    [
        HEAD + GOOD,
        (HEAD + GOOD).replace("\n", "\r\n"),
        (HEAD + GOOD).replace("\n", "\r"),
        (HEAD + GOOD).replace(",", ";"),
        (HEAD + GOOD).replace(",", "\t"),
        "\ufeff" + HEAD + GOOD,
        "\n\n" + HEAD + "\n" + GOOD + "\n,,,\n",
        "Instrument,Ensemble,Email address,Student name\ntenor saxophone,combo,ADA@School.Example,Ada  Quill\n",
        'First name,Last name,Email,Group,Instrument\n"Ada","Quill","ada@school.example","COMBO","Tenor"\n',
        'name;e-mail;ensemble;instrument;role\n"Ada Quill";"mailto:ada@school.example";Combo;tenor-sax;Student\n',
        HEAD + '"Ada\nQuill",<ada@school.example>,Combo,Tenor Sax\n',
    ],
    ids=[
        "plain",
        "crlf",
        "cr",
        "semicolon",
        "tab",
        "bom",
        "blank lines",
        "order",
        "first and last",
        "role",
        "quoted break",
    ],
)
def test_dialects_read_the_same(text: str) -> None:
    reading = read_roster(text, ENSEMBLES)
    assert reading.problems == ()
    (row,) = reading.rows
    assert (row.name, row.email, row.ensemble, row.instrument, row.role) == (
        "Ada Quill",
        "ada@school.example",
        "Combo",
        "tenor-sax",
        "player",
    )


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "cp1252"])
def test_encodings(encoding: str) -> None:
    data = (HEAD + "Zoë Müßig,zoe@school.example,Übungsband,Flute\n").encode(encoding)
    if encoding == "utf-16-le":
        data = b"\xff\xfe" + data
    reading = read_roster(decode(data)[0], ENSEMBLES)
    assert reading.problems == ()
    assert (reading.rows[0].name, reading.rows[0].ensemble) == ("Zoë Müßig", "Übungsband")


# Each row: what stands in line 2, words of the message, words of the advice.
WRONG = [
    (",ada@school.example,Combo,Flute", "name is missing", "Type the name"),
    ("Ada,,Combo,Flute", "address is missing", "name@school.example"),
    ("Ada,ada at school,Combo,Flute", "“ada at school” is not an e-mail", "name@school.example"),
    ("Ada,ada@school,Combo,Flute", "not an e-mail address", "name@school.example"),
    ("Ada,ada@x.example,Comboo,Flute", "no ensemble called “Comboo”", "Type Combo, or make"),
    ("Ada,ada@x.example,Choir of the North,Flute", "no ensemble called", "one of: Combo, Octet"),
    ("Ada,ada@x.example,,Flute", "ensemble is missing", "one of: Combo"),
    ("Ada,ada@x.example,Combo,Tenor saxofone", "“Tenor saxofone” is not an instrument", "Type “Tenor saxophone”"),
    ("Ada,ada@x.example,Combo,Flute,extra", "5 fields where the first line has 4", '"..."'),
    (f"{'A' * 121},ada@x.example,Combo,Flute", "longer than 120", "Shorten"),
    ('Ada "Q" Quill",ada@x.example,"Combo"x,Flute', "quotation mark", '"..."'),
]


@pytest.mark.parametrize(("line", "message", "advice"), WRONG, ids=[row[1] for row in WRONG])
def test_every_bad_row_is_named_with_its_line_and_what_to_type(line: str, message: str, advice: str) -> None:
    reading = read_roster(HEAD + line + "\nBo Quist,bo@x.example,Octet,Bass\n", ENSEMBLES)
    problem = reading.problems[0]
    assert problem.line == 2
    assert message in problem.message
    assert advice in problem.suggestion
    assert [row.line for row in reading.rows] == [3]


def test_all_that_is_wrong_with_a_row_is_said_at_once() -> None:
    reading = read_roster(HEAD + ",nothing,Nowhere,Kazoo\n", ENSEMBLES)
    assert [problem.line for problem in reading.problems] == [2, 2, 2, 2]


def test_lines_are_counted_as_an_editor_counts_them() -> None:
    text = HEAD + '"Ada\nQuill",ada@x.example,Combo,Flute\n\nBo,bad,Combo,Flute\n'
    assert [problem.line for problem in read_roster(text, ENSEMBLES).problems] == [5]


@pytest.mark.parametrize(
    ("text", "line", "words"),
    [
        ("", 1, "no row"),
        ("\n\n", 1, "no row"),
        (HEAD, 1, "no row"),
        ("name,instrument\nAda,Flute\n", 1, "e-mail and ensemble"),
        ("Ada Quill,ada@x.example,Combo,Flute\n", 1, "name and e-mail and ensemble"),
        (HEAD + '"Ada,ada@x.example,Combo,Flute\nBo,bo@x.example,Combo,Flute\n', 2, "quotation mark"),
    ],
)
def test_broken_files(text: str, line: int, words: str) -> None:
    problem = read_roster(text, ENSEMBLES).problems[0]
    assert (problem.line, words in problem.message) == (line, True)


def test_the_same_chair_twice_and_one_address_with_two_names() -> None:
    text = HEAD + GOOD + GOOD + "Eve Other,ada@school.example,Octet,Flute\n"
    reading = read_roster(text, ENSEMBLES)
    assert [(problem.line, problem.message) for problem in reading.problems] == [
        (3, "ada@school.example is already in Combo in line 2."),
        (4, "ada@school.example is “Ada Quill” in line 2 and “Eve Other” here."),
    ]


def test_school_ids_and_addresses_are_one_to_one() -> None:
    rows = "Ada,ada@x.example,Combo,S1\nAda,ada@x.example,Octet,\n"
    wrong = "Bo,bo@x.example,Combo,S1\nAda,ada@x.example,Übungsband,S2\n" + f"Cy,cy@x.example,Combo,{'9' * 81}\n"
    reading = read_roster("name,e-mail,ensemble,Student number\n" + rows + wrong, ENSEMBLES)
    assert [(row.line, row.school_id) for row in reading.rows] == [(2, "S1"), (3, "")]
    assert [(problem.line, problem.message) for problem in reading.problems] == [
        (4, "The school id S1 is that of ada@x.example in line 2 and of bo@x.example here."),
        (5, "ada@x.example has the school id S1 in line 2 and S2 here."),
        (6, "The school id is longer than 80 characters."),
    ]


def test_one_person_may_have_two_chairs() -> None:
    reading = read_roster(HEAD + GOOD + GOOD.replace("Combo", "Octet"), ENSEMBLES)
    assert (len(reading.rows), reading.problems) == (2, ())


def test_a_term_without_ensembles_says_so() -> None:
    assert "no ensembles yet" in read_roster(HEAD + GOOD, ()).problems[0].message


def test_a_column_that_is_not_read_is_named_and_a_wrong_line_is_shown() -> None:
    text = "No.,Name,Phone,E-mail,Ensemble\n1,Ada Quill,555,ada@x.example,Combo\n2,Bo,555,bo at x,Combo\n"
    reading = read_roster(text, ENSEMBLES)
    assert reading.remarks == ("The columns “No.”, “Phone” are not read.",)
    assert [(problem.line, problem.text) for problem in reading.problems] == [(3, "2,Bo,555,bo at x,Combo")]
    assert read_roster(HEAD + GOOD, ENSEMBLES).remarks == ()


@pytest.mark.parametrize(
    ("cell", "main", "doubles"),
    [
        ("Alto sax / Flute / Clarinet", "alto-sax", ("flute", "clarinet")),
        ("tenor doubling bass clarinet and flute", "tenor-sax", ("bass-clarinet", "flute")),
        ("Flute & flute", "flute", ()),
        ("Voice, alto", "voice-alto", ()),
        ("Tuba", "tuba", ()),
        ("French horn", "horn", ()),
        ("Keys", "keyboards", ()),
        ("Aux percussion", "percussion", ()),
    ],
)
def test_somebody_who_doubles_has_all_instruments_in_one_field(cell: str, main: str, doubles: tuple[str, ...]) -> None:
    (row,) = read_roster(HEAD.replace(",", ";") + f"Ada;ada@x.example;Combo;{cell}\n", ENSEMBLES).rows
    assert (row.instrument, row.doubles) == (main, doubles)


def test_an_unknown_instrument_is_answered_with_the_nearest_and_the_list() -> None:
    (problem,) = read_roster(HEAD + "Ada,ada@x.example,Combo,Flute / Bass clarinett\n", ENSEMBLES).problems
    assert problem.message == "“Bass clarinett” is not an instrument of the list."
    assert problem.suggestion.startswith("Type “Bass clarinet”")
    assert "; Tuba; " in problem.suggestion


def test_people_and_chairs_are_counted_as_what_they_are() -> None:
    reading = read_roster(HEAD + GOOD + GOOD.replace("Combo", "Octet"), ENSEMBLES)
    assert (reading.people, len(reading.rows)) == (1, 2)


def test_size_is_bounded() -> None:
    many = HEAD + "".join(f"P {n},p{n}@x.example,Combo,Flute\n" for n in range(MAX_ROWS + 5))
    reading = read_roster(many, ENSEMBLES)
    assert len(reading.rows) == MAX_ROWS
    assert "More than" in reading.problems[-1].message


words = (
    st.text(st.characters(exclude_categories=["Cs", "Cc", "Cf", "Zl", "Zp"]), min_size=1, max_size=12)
    .map(lambda text: " ".join(text.split()))
    .filter(lambda text: text.strip() and not text.isspace())
)
people = st.lists(
    st.tuples(words, st.integers(0, 10**6), st.sampled_from(ENSEMBLES), st.sampled_from(["Flute", "Bass", ""])),
    min_size=1,
    max_size=12,
    unique_by=lambda row: row[1],
)


@given(
    people=people,
    delimiter=st.sampled_from(",;\t"),
    quoting=st.sampled_from([csv.QUOTE_MINIMAL, csv.QUOTE_ALL]),
    end=st.sampled_from(["\n", "\r\n"]),
)
def test_what_a_spreadsheet_writes_is_read_back(people, delimiter, quoting, end) -> None:  # type: ignore[no-untyped-def]
    out = io.StringIO()
    writer = csv.writer(out, delimiter=delimiter, quoting=quoting, lineterminator=end)
    writer.writerow(["name", "e-mail", "ensemble", "instrument"])
    for name, number, ensemble, instrument in people:
        writer.writerow([name, f"p{number}@x.example", ensemble, instrument])
    reading = read_roster(decode(out.getvalue().encode())[0], ENSEMBLES)
    assert reading.problems == ()
    assert [(row.name, row.email, row.ensemble) for row in reading.rows] == [
        (name, f"p{number}@x.example", ensemble) for name, number, ensemble, _ in people
    ]


near_rosters = st.lists(
    st.sampled_from([HEAD, GOOD, '"', ",", ";", "\n", "\r", "\x00", "\ufeff", "a@b.example", "Combo", '""', "é"]),
    max_size=40,
).map("".join)


@given(
    data=st.one_of(
        st.binary(max_size=300),
        st.text(max_size=300).map(lambda text: text.encode("utf-8", "surrogatepass")),
        near_rosters.map(str.encode),
        near_rosters.map(lambda text: (HEAD + text).encode()),
    )
)
def test_any_bytes_give_rows_or_located_problems(data: bytes) -> None:
    text, _ = decode(data)
    reading = read_roster(text, ENSEMBLES)
    assert reading.rows or reading.problems
    lines = text.count("\n") + text.count("\r") + 1
    assert all(1 <= problem.line <= lines and problem.message and problem.suggestion for problem in reading.problems)
    assert all(row.name and "@" in row.email and row.ensemble in ENSEMBLES for row in reading.rows)


def test_a_long_list_of_instruments_can_be_read() -> None:
    """Some names hold a comma, so the list is set apart by other signs."""
    problem = read_roster("name,e-mail,ensemble,instrument\nAda,ada@x.example,Combo,zzzz", ["Combo"]).problems[0]
    assert "Voice, soprano; Voice, alto;" in problem.suggestion
