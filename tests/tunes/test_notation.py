"""The one table of chord kinds, and the MusicXML of every chord that a chart may hold, from both writers.

Sources: W3C, MusicXML 4.0 XSD (2021): the list in the words of type `kind-value`, and type `degree` (an added degree
counts from a dominant chord, an altered one from the kind); the form of each symbol follows from it.
"""

from __future__ import annotations

import re
from typing import Any
from xml.etree import ElementTree as ET

import music21
import pytest
from hypothesis import given
from hypothesis import strategies as st

from drills.lines.build import Recipe
from drills.musicxml import to_musicxml
from tests.drills.lines import line_for
from tests.harmony.test_symbols import SPELLING_CASES
from tests.tunes import musicxml_schema
from tunes.harmony.charts import parse_chart
from tunes.harmony.chords import make_symbol, parse_symbol
from tunes.harmony.chords.vocabulary import KINDS as OUR_KINDS
from tunes.harmony.pitch.spelling import NoteName
from tunes.interchange import import_lead_sheet, write_musicxml
from tunes.notation.chords import form_of
from tunes.notation.degrees import apply_changes, changes_for, pitch_classes
from tunes.notation.kinds import ALL_KINDS, KINDS, parts_of

# The words of the standard's list, each as a degree.
WORDS = {
    "major third": (3, 0), "minor third": (3, -1), "perfect fifth": (5, 0), "augmented fifth": (5, 1),
    "diminished fifth": (5, -1), "minor seventh": (7, -1), "major seventh": (7, 0), "diminished seventh": (7, -2),
    "added sixth": (6, 0), "major ninth": (9, 0), "perfect 11th": (11, 0), "major 13th": (13, 0),
    "major second": (2, 0), "perfect fourth": (4, 0), "pedal-point bass": (1, 0),
}  # fmt: skip


def test_the_table_is_the_list_of_the_standard() -> None:
    """Every line like "dominant-ninth (dominant-seventh, major ninth)" of the XSD, read as the degrees that it names."""
    text = musicxml_schema.source()
    listed = re.search(r"A kind-value indicates the type of chord\.(.*?)</xs:documentation>", text, re.DOTALL)
    assert listed is not None
    said: dict[str, frozenset[tuple[int, int]]] = {}
    for name, words in re.findall(r"^    ([\w-]+) \((.*)\)$", listed[1], re.MULTILINE):
        degrees: set[tuple[int, int]] = {(1, 0)}
        for word in words.split(", "):
            base = word.removesuffix(" triad")
            base = base if base in said else base.removesuffix("-seventh")  # the list says "dominant-seventh" once
            degrees |= {WORDS[word]} if word in WORDS else said[base]
        said[name] = frozenset(degrees)
    assert len(said) == 26
    assert {name: KINDS[name] for name in said} == said
    values = musicxml_schema.values_of("kind-value")
    assert len(values) == 33
    assert values == set(ALL_KINDS)


def test_every_kind_of_ours_names_the_kind_that_holds_it() -> None:
    """No kind of ours is written as one with a third or a seventh that it has not."""
    for row in OUR_KINDS.values():
        assert KINDS[row.musicxml] <= parts_of(row.degrees), row.id


@given(st.sampled_from(sorted(KINDS)), st.frozensets(st.tuples(st.integers(1, 13), st.integers(-2, 2)), max_size=8))
def test_changes_lead_from_any_kind_to_any_degrees(kind: str, wanted: frozenset[tuple[int, int]]) -> None:
    assert apply_changes(KINDS[kind], changes_for(kind, wanted)) == wanted


# Every chord that the parser's table of spellings knows: its kind and degrees ("+9" add, "*9" alter, "-9" subtract,
# a number alone with what it alters by).
FORMS = {
    "C": "major", "Cm": "minor", "Caug": "augmented", "Cdim": "diminished", "C5": "power",
    "Csus4": "suspended-fourth", "Csus2": "suspended-second", "C6": "major-sixth", "Cm6": "minor-sixth",
    "Cmaj7": "major-seventh", "Cm7": "minor-seventh", "C7": "dominant", "Cdim7": "diminished-seventh",
    "Cm7b5": "half-diminished", "C7#5": "augmented-seventh", "Cm(maj7)": "major-minor",
    "C9": "dominant-ninth", "Cmaj9": "major-ninth", "Cm9": "minor-ninth", "Cm11": "minor-11th", "Cm13": "minor-13th",
    "C13": "dominant-13th -11", "Cmaj13": "major-13th -11", "C13#11": "dominant-13th *11:1",
    "C13b9": "dominant-13th *9:-1 -11", "C9#5": "augmented-seventh +9:0",
    "Cadd9": "major +9:0", "Cmadd9": "minor +9:0", "C6/9": "major-sixth +9:0", "Cm6/9": "minor-sixth +9:0",
    "Cdim(maj7)": "diminished +7:1", "Cm9b5": "half-diminished +9:0", "Cm7(11)": "minor-seventh +11:0",
    "C7sus4": "suspended-fourth +7:0", "C9sus4": "suspended-fourth +7:0 +9:0",
    "C13sus4": "suspended-fourth +7:0 +9:0 +13:0", "C7sus4b9": "suspended-fourth +7:0 +9:-1",
    "Cmaj7#5": "major-seventh *5:1", "Cmaj7#11": "major-seventh +11:1", "C7b5": "dominant *5:-1",
    "C7no5": "dominant -5", "C7b9": "dominant +9:-1", "C7#9": "dominant +9:1", "C7#11": "dominant +11:1",
    "C7(13)": "dominant +13:0", "C7(b9,#11)": "dominant +9:-1 +11:1", "C7(b9,b13)": "dominant +9:-1 +13:-1",
    "C7(#5,#9)": "augmented-seventh +9:1", "C7alt": "dominant -5 +9:-1 +9:1 +11:1 +13:-1",
}  # fmt: skip
SIGNS = {"add": "+", "alter": "*", "subtract": "-"}


def degrees_of(text: str) -> tuple[str, ...]:
    symbol = parse_symbol(text).symbol
    assert symbol is not None, text
    return symbol.degrees


def written(harmony: ET.Element) -> str:
    """A `<harmony>` as a row of `FORMS` says it."""
    parts = [harmony.findtext("kind", "")]
    for degree in harmony.findall("degree"):
        number, alter, how = (degree.findtext(f"degree-{word}", "") for word in ("value", "alter", "type"))
        parts.append(SIGNS[how] + number + ("" if how == "subtract" else f":{alter}"))
    return " ".join(parts)


TEXT = "key: C major\n| " + " | ".join(FORMS) + " |"


def both() -> dict[str, bytes]:
    chart = parse_chart(TEXT).chart
    assert chart is not None
    return {"chart": write_musicxml(chart), "line": to_musicxml(line_for("piano", Recipe(), TEXT)).encode()}


def test_the_table_holds_every_chord_that_the_parser_knows() -> None:
    known = {tuple(degrees.split()) for _, degrees, _ in SPELLING_CASES} | {kind.degrees for kind in OUR_KINDS.values()}
    assert known == {degrees_of(text) for text in FORMS}


@pytest.mark.parametrize("writer", ["chart", "line"])
def test_a_chord_is_written_as_the_standard_has_it_and_comes_back(writer: str) -> None:
    """By either writer; the reader gives the same symbols back, without a loss."""
    content = both()[writer]
    assert musicxml_schema.faults(content) == []
    found = [written(harmony) for harmony in ET.fromstring(content).iter("harmony")]
    assert dict(zip(FORMS, found, strict=True)) == FORMS
    back = import_lead_sheet(content)
    assert back.harmonic_losses == ()
    chords = [slot.symbol for bar in back.chart.bars for slot in bar.slots]
    assert chords == [parse_symbol(text).symbol for text in FORMS]


def test_another_reader_hears_the_same_notes() -> None:
    """music21 (its own table of kinds, its own reading of degrees) on what we wrote; it counts the seventh that is added to
    a suspended chord from the major scale, where the standard counts from a dominant chord."""
    score: Any = music21.converter.parseData(both()["chart"].decode(), format="musicxml")
    theirs = [
        frozenset((p.pitchClass - h.root().pitchClass) % 12 for p in h.pitches)
        for h in score.recurse().getElementsByClass(music21.harmony.ChordSymbol)
    ]
    ours = [pitch_classes(parts_of(degrees_of(text))) for text in FORMS]
    differ = {text for text, a, b in zip(FORMS, theirs, ours, strict=True) if a != b}
    assert differ <= {"C7sus4", "C9sus4", "C13sus4", "C7sus4b9"}


ROOTS = st.builds(NoteName, st.sampled_from("ABCDEFG"), st.integers(-1, 1))
DEGREES = st.frozensets(st.sampled_from(sorted({d for _, many, _ in SPELLING_CASES for d in many.split()})), max_size=8)


@given(ROOTS, DEGREES)
def test_any_chord_survives(root: NoteName, degrees: frozenset[str]) -> None:
    symbol = make_symbol(root, degrees | {"1"})
    form = form_of(symbol)
    assert apply_changes(KINDS[form.kind], form.changes) == parts_of(symbol.degrees)
