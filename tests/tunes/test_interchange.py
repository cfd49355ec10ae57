"""MusicXML in and out, against scores and programs that are not ours.

Sources: W3C MusicXML 4.0 XSD (2021), shipped by the package `musicxml`; music21's corpus and its copies of the
unofficial MusicXML test suite; music21's own reading of chords as a second opinion.
"""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import music21
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.tunes import musicxml_schema, real_scores
from tunes.harmony.charts import parse_chart
from tunes.harmony.chords import parse_symbol
from tunes.harmony.pitch.spelling import NoteName, Pitch
from tunes.interchange import Extras, Melody, MelodyNote, Refused, import_lead_sheet, write_musicxml
from tunes.interchange.importing import differing, same_music
from tunes.notation.degrees import pitch_classes
from tunes.notation.kinds import FUNCTIONAL, KINDS


def score(body: str, attributes: str = "") -> bytes:
    """A MusicXML document with one part; `body` is its measures."""
    default = (
        "<attributes><divisions>2</divisions><key><fifths>0</fifths><mode>major</mode></key>"
        "<time><beats>4</beats><beat-type>4</beat-type></time></attributes>"
    )
    body = body.replace("<measure number='1'>", f"<measure number='1'>{attributes or default}", 1)
    return (
        "<score-partwise version='4.0'><part-list><score-part id='P1'><part-name/></score-part></part-list>"
        f"<part id='P1'>{body}</part></score-partwise>"
    ).encode()


def chord(root: str = "C", kind: str = "major", rest: str = "", alter: str = "") -> str:
    flat = f"<root-alter>{alter}</root-alter>" if alter else ""
    return f"<harmony><root><root-step>{root}</root-step>{flat}</root><kind>{kind}</kind>{rest}</harmony>"


def bar(number: int, inside: str, quarters: int = 4, *, after: str = "") -> str:
    """A measure of one long rest with `inside` before it."""
    rest = f"<note><rest/><duration>{quarters * 2}</duration><voice>1</voice></note>"
    return f"<measure number='{number}'>{inside}{rest}{after}</measure>"


def degree(number: int, alter: int, how: str) -> str:
    return (
        f"<degree><degree-value>{number}</degree-value><degree-alter>{alter}</degree-alter>"
        f"<degree-type>{how}</degree-type></degree>"
    )


# --- kinds


@pytest.mark.parametrize("kind", sorted(set(KINDS) - {"pedal", "other"}))
def test_every_kind_becomes_a_symbol_with_the_same_notes(kind: str) -> None:
    reading = import_lead_sheet(score(bar(1, chord("E", kind, alter="-1"))))
    symbol = reading.chart.bars[0].slots[0].symbol
    assert symbol is not None
    assert symbol.root == NoteName("E", -1)
    assert {(pc - symbol.root.pc) % 12 for pc in symbol.pcs} == pitch_classes(KINDS[kind])
    assert reading.harmonic_losses == ()


@pytest.mark.parametrize("kind", sorted(FUNCTIONAL))
def test_functional_kinds_are_named_losses(kind: str) -> None:
    reading = import_lead_sheet(score(bar(1, chord("D", kind, alter="-1"))))
    assert [loss.what for loss in reading.losses] == ["functional-kind"]
    assert reading.chart.bars[0].slots[0].symbol is not None


@pytest.mark.parametrize(
    ("kind", "degrees", "text"),
    [
        # MusicXML 4.0 XSD, type `degree`; the texts are common practice.
        ("dominant", degree(9, -1, "add"), "C7b9"),
        ("dominant", degree(9, -1, "add") + degree(9, 1, "add"), "C7(b9,#9)"),
        ("dominant", degree(5, -1, "alter"), "C7b5"),
        ("dominant", degree(11, 1, "add"), "C7#11"),
        ("dominant-13th", degree(11, 0, "subtract"), "C13"),
        ("dominant-13th", degree(11, 1, "alter"), "C13#11"),
        ("suspended-fourth", degree(7, 0, "add"), "C7sus4"),
        ("suspended-fourth", degree(7, 0, "add") + degree(9, 0, "add"), "C9sus4"),
        ("major", degree(9, 0, "add"), "Cadd9"),
        ("major-sixth", degree(9, 0, "add"), "C6/9"),
        ("major-seventh", degree(5, 1, "alter"), "Cmaj7#5"),
        ("minor-seventh", degree(5, -1, "alter"), "Cm7b5"),
        ("major", degree(5, 0, "subtract"), "C(no5)"),
    ],
)
def test_degrees(kind: str, degrees: str, text: str) -> None:
    reading = import_lead_sheet(score(bar(1, chord("C", kind, degrees))))
    assert reading.losses == ()
    assert reading.chart.bars[0].slots[0].symbol == parse_symbol(text).symbol


# --- bars, metres, pickups, repeats


@pytest.mark.parametrize(
    ("measures", "text"),
    [
        pytest.param(bar(1, chord()) + bar(2, "") + bar(3, chord("G", "dominant")), "| C | C | G7 |", id="held"),
        pytest.param(
            "<measure number='1'>" + chord() + "<note><rest/><duration>3</duration></note>"
            + chord("F") + "<note><rest/><duration>5</duration></note></measure>",
            "| C@1 F@2.5 |", id="off the beat",
        ),
        pytest.param(
            "<measure number='1'>" + chord() + chord("D", "minor", "<offset>4</offset>")
            + "<note><rest/><duration>8</duration></note></measure>",
            "| C Dm |", id="offset",
        ),
        pytest.param(
            "<measure number='1'><note><rest/><duration>2</duration></note></measure>" + bar(2, chord()) + bar(3, chord("G"), 3),
            "| <pickup 1> N.C. | C | G |", id="pickup, completed by the last bar",
        ),
        pytest.param(
            bar(1, chord()) + bar(2, chord("G"), 3, after="<barline location='right'><repeat direction='backward'/></barline>")
            + bar(3, chord("A", "dominant"), 1) + bar(4, chord("D", "minor")),
            "| C | G / / A7 :| Dm |", id="a bar split by a repeat",
        ),
        pytest.param(
            bar(1, chord()) + "<measure number='2'><attributes><time><beats>3</beats><beat-type>4</beat-type></time></attributes>"
            + chord("F") + "<note><rest/><duration>6</duration></note></measure>" + bar(3, chord("G"), 3),
            "| C | <3/4> F | G |", id="change of metre",
        ),
        pytest.param(
            bar(1, "<barline location='left'><repeat direction='forward'/></barline>" + chord())
            + bar(2, "<barline location='left'><ending number='1' type='start'/></barline>" + chord("G", "dominant"),
                  after="<barline location='right'><ending number='1' type='stop'/><repeat direction='backward'/></barline>")
            + bar(3, "<barline location='left'><ending number='2' type='start'/></barline>" + chord("F")),
            "|: C |1. G7 :|2. F |", id="two endings",
        ),
        pytest.param(
            bar(1, chord(), after="<barline location='right'><repeat direction='backward' times='4'/></barline>"),
            "| C :|x4", id="four times",
        ),
        pytest.param(
            bar(1, "<direction><direction-type><segno/></direction-type></direction>" + chord())
            + bar(2, chord("F"), after="<direction><direction-type><words>To Coda</words></direction-type></direction>")
            + bar(3, chord("G"), after="<direction><direction-type><words>D.S. al Coda</words></direction-type></direction>")
            + bar(4, "<direction><direction-type><coda/></direction-type></direction>" + chord()),
            "| <segno> C | F <to coda> | G <D.S. al coda> | <coda> C |", id="segno and coda",
        ),
        pytest.param(
            bar(1, chord()) + bar(2, "<direction><direction-type><words>N.C.</words></direction-type></direction>"),
            "| C | N.C. |", id="N.C. in words",
        ),
        pytest.param(
            bar(1, "<direction><direction-type><rehearsal>A</rehearsal></direction-type></direction>" + chord())
            + bar(2, "<direction><direction-type><rehearsal>B</rehearsal></direction-type></direction>" + chord("F")),
            "A:\n| C |\nB:\n| F |", id="sections",
        ),
        pytest.param(bar(1, chord("F", "major", "<bass><bass-step>A</bass-step></bass>")), "| F/A |", id="bass"),
        pytest.param(bar(1, chord("F", "major", "<inversion>1</inversion>")), "| F/A |", id="inversion"),
        pytest.param(
            bar(1, "<harmony><numeral><numeral-root>5</numeral-root></numeral><kind>dominant</kind></harmony>"),
            "| G7 |", id="a numeral in the key",
        ),
        pytest.param(
            bar(1, "<harmony><numeral><numeral-root>3</numeral-root><numeral-key><numeral-fifths>-3</numeral-fifths>"
                "<numeral-mode>minor</numeral-mode></numeral-key></numeral><kind>major-seventh</kind></harmony>"),
            "| Ebmaj7 |", id="a numeral in a minor key of its own",
        ),
    ],
)  # fmt: skip
def test_bars(measures: str, text: str) -> None:
    reading = import_lead_sheet(score(measures))
    wanted = parse_chart(f"key: C major\nmetre: 4/4\n{text}")
    assert wanted.chart is not None
    assert wanted.problems == ()
    assert reading.losses == ()
    assert differing(reading.chart, wanted.chart) == []
    assert reading.chart.sections == wanted.chart.sections
    assert len(reading.chart.bars) == len(wanted.chart.bars)


def test_a_transposing_part_is_read_in_concert_pitch() -> None:
    """A tenor saxophone's D7 sounds C7, and its melody sounds a ninth lower (MusicXML 4.0, `transpose`)."""
    attributes = (
        "<attributes><divisions>2</divisions><key><fifths>2</fifths></key><time><beats>4</beats><beat-type>4</beat-type>"
        "</time><transpose><diatonic>-1</diatonic><chromatic>-2</chromatic><octave-change>-1</octave-change></transpose></attributes>"
    )
    note = "<note><pitch><step>E</step><octave>5</octave></pitch><duration>8</duration><voice>1</voice></note>"
    reading = import_lead_sheet(score(f"<measure number='1'>{chord('D', 'dominant')}{note}</measure>", attributes))
    assert reading.chart.bars[0].slots[0].text == "C7"
    assert reading.chart.key is not None
    assert reading.chart.key.text == "C major"
    assert [n.pitch.text for n in reading.melody.notes] == ["D4"]


def test_a_timewise_score_is_the_same_score() -> None:
    inside = chord("F", "minor-seventh") + "<note><rest/><duration>4</duration></note>"
    partwise = import_lead_sheet(
        f"<score-partwise><part id='a'><measure number='1'>{inside}</measure></part></score-partwise>".encode()
    )
    timewise = import_lead_sheet(
        f"<score-timewise><measure number='1'><part id='a'>{inside}</part></measure></score-timewise>".encode()
    )
    assert partwise.text == timewise.text


def test_words_under_notes_are_never_kept() -> None:
    lyric = "<lyric><text>secretword</text></lyric>"
    note = f"<note><pitch><step>E</step><octave>5</octave></pitch><duration>8</duration>{lyric}</note>"
    reading = import_lead_sheet(score(f"<measure number='1'>{chord()}{note}</measure>"))
    assert [loss.what for loss in reading.losses] == ["lyrics"]
    assert "secretword" not in repr(reading)


def test_a_key_that_the_chords_deny_is_remarked_on() -> None:
    assert import_lead_sheet(score(bar(1, chord("F")))).remark == (
        "The signature says C major, but the last chord is F: check the key."
    )
    assert import_lead_sheet(score(bar(1, chord("A", "minor")))).remark == ""


# --- real scores

REAL = real_scores.with_harmony()
LEAD_SHEETS = [path for path in REAL if path.parent.name in ("leadSheet", "lilypondTestSuite", "musicxml")]
# Every loss in the scores that are lead sheets, by file: a change here is a change of what we can read.
KNOWN_LOSSES = {
    "71f-AllChordTypes.xml": {"functional-kind", "unknown-kind", "degree"},
    "71g-MultipleChordnames.xml": {"simultaneous"},
    "46g-PickupMeasure-Chordnames-FiguredBass.xml": {"figured-bass"},
}


def test_there_are_real_scores_to_read() -> None:
    assert len(REAL) >= 20
    assert len(LEAD_SHEETS) >= 8


@pytest.mark.parametrize("path", REAL, ids=lambda p: p.name)
def test_real_scores_are_read_and_come_back_the_same(path: Path) -> None:
    """Import, export, validate against the XSD, import again: no bar and no note of the melody differs."""
    reading = import_lead_sheet(path.read_bytes())
    out = write_musicxml(reading.chart, Extras(reading.title, reading.composer, reading.melody))
    assert musicxml_schema.faults(out) == []
    back = import_lead_sheet(out)
    assert differing(back.chart, reading.chart) == []
    assert same_music(back.chart, reading.chart)
    assert [(n.bar, n.start, n.pitch) for n in back.melody.notes] == [
        (n.bar, n.start, n.pitch) for n in reading.melody.notes
    ]
    if path in LEAD_SHEETS:
        assert {loss.what for loss in reading.harmonic_losses} == KNOWN_LOSSES.get(path.name, set())


@pytest.mark.parametrize("path", [p for p in REAL if p.parent.name == "leadSheet"], ids=lambda p: p.name)
def test_chords_fall_where_music21_finds_them(path: Path) -> None:
    """A second reader: bar by bar, the roots and where they stand agree with music21's own parser."""
    reading = import_lead_sheet(path.read_bytes())
    ours = [
        (number, float(slot.start), slot.symbol.root.pc)
        for number, bar_ in enumerate(reading.chart.bars)
        for slot in bar_.slots
        if slot.symbol
    ]
    part = music21.converter.parse(path, forceSource=True).parts[0]
    theirs = [
        (number, float(found.offset), found.root().pitchClass)
        for number, measure in enumerate(part.getElementsByClass("Measure"))
        for found in measure.getElementsByClass("ChordSymbol")
        if found.chordKind != "none"
    ]
    assert theirs
    assert set(theirs) <= set(ours)
    # What is ours alone is a chord held into a bar that has none of its own.
    held = set(ours) - set(theirs)
    assert all(start == 0 for _number, start, _pc in held)


def test_tunes_converted_by_another_program() -> None:
    tunes = real_scores.from_abc()
    assert tunes
    for name, data in tunes:
        reading = import_lead_sheet(data)
        assert {loss.what for loss in reading.harmonic_losses} <= {"empty-bar"}, name
        back = import_lead_sheet(write_musicxml(reading.chart, Extras(melody=reading.melody)))
        assert same_music(back.chart, reading.chart), name


# --- our own charts out and back

CHART = """key: Eb major
metre: 4/4

A:
| <pickup 1> N.C. |: Ebmaj7 | Cm7 Cm7/Bb | Fm7@1 Bb7(b9,#11)@2.5 |1. Gm7b5 C7alt :|2. Bb7sus4 Bb13 |
B:
| <3/4> Abm(maj7) | <segno> Db7#11 | <4/4> Gb6/9 <to coda> | B7#5 E7(#9) <D.S. al coda> |
C:
| <coda> N.C. | Dbmaj7#5/F | Ebdim7 / D7b13 / | Eb6 :|x3
"""


def test_a_chart_with_everything_comes_back() -> None:
    found = parse_chart(CHART)
    assert found.chart is not None
    assert found.problems == ()
    out = write_musicxml(found.chart, Extras("A tune", "Somebody"))
    assert musicxml_schema.faults(out) == []
    back = import_lead_sheet(out)
    assert back.losses == ()
    assert same_music(back.chart, found.chart)
    assert back.title == "A tune"


def test_a_melody_goes_out_and_comes_back() -> None:
    chart = parse_chart("key: C major\n| C | F G7 |").chart
    assert chart is not None
    notes = tuple(
        MelodyNote(bar_, Fraction(start), Fraction(length), pitch)
        for bar_, start, length, pitch in (
            (0, "0", "3/2", Pitch.parse("E4")), (0, "3/2", "1/2", Pitch.parse("F4")), (1, "1/3", "1/3", Pitch.parse("Bb4")),
        )
    )  # fmt: skip
    out = write_musicxml(chart, Extras(melody=Melody(notes)))
    assert musicxml_schema.faults(out) == []
    back = import_lead_sheet(out)
    assert back.melody.notes == notes
    assert Melody.from_json(back.melody.to_json()) == back.melody
    assert [n.pitch.text for n in back.melody.during(0, Fraction(1), Fraction(1))] == ["E4", "F4"]


ROOTS = ("C", "F#", "Bb", "Eb", "G#", "Db", "B")
TAILS = (
    "",
    "m",
    "7",
    "maj7",
    "m7",
    "m7b5",
    "dim7",
    "6",
    "m6",
    "9",
    "13",
    "7b9",
    "7#11",
    "7alt",
    "7sus4",
    "m9",
    "maj9",
    "6/9",
    "aug",
    "m(maj7)",
)
symbols = st.one_of(st.just("N.C."), st.builds(lambda r, t: r + t, st.sampled_from(ROOTS), st.sampled_from(TAILS)))
plain_bars = st.one_of(
    symbols,
    st.builds(lambda a, b: f"{a} {b}", symbols, symbols),
    st.builds(lambda a, b, c: f"{a}@1 {b}@{c}", symbols, symbols, st.sampled_from(("2.5", "4.25", "7/3"))),
    st.just("%"),
)


@st.composite
def chart_texts(draw: st.DrawFn) -> str:
    parts = [f"key: {draw(st.sampled_from(('C major', 'Eb major', 'F# minor', 'Ab major')))}", "metre: 4/4"]
    for label in draw(st.lists(st.sampled_from("ABCD"), min_size=1, max_size=3, unique=True)):
        bars = draw(st.lists(plain_bars, min_size=1, max_size=6))
        if bars[0] == "%":
            bars[0] = "C"
        repeated = draw(st.booleans())
        parts.append(f"{label}:\n{'|:' if repeated else '|'} " + " | ".join(bars) + (" :|" if repeated else " |"))
    return "\n".join(parts)


@given(chart_texts())
def test_any_chart_comes_back(text: str) -> None:
    found = parse_chart(text)
    assert found.chart is not None
    back = import_lead_sheet(write_musicxml(found.chart), chords=False)
    assert [loss for loss in back.losses if loss.what != "empty-bar"] == []
    # A repeat of one N.C. by another has nothing to say; slots that say the same are one.
    assert back.chart.sections == found.chart.sections
    for ours, theirs in zip(found.chart.bars, back.chart.bars, strict=True):
        assert (ours.start_repeat, ours.end_repeat, ours.metre) == (
            theirs.start_repeat,
            theirs.end_repeat,
            theirs.metre,
        )
        assert sounding(ours) == sounding(theirs)


def sounding(bar_):  # type: ignore[no-untyped-def]
    found = []
    for slot in bar_.slots:
        if slot.symbol or not found or found[-1][1]:
            found.append((slot.start, slot.symbol))
    return found


def test_what_is_no_lead_sheet_is_refused() -> None:
    with pytest.raises(Refused, match="no chord symbols"):
        import_lead_sheet(score(bar(1, "")))
    assert import_lead_sheet(score(bar(1, "")), chords=False).chart.bars
