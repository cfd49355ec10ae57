"""How lines stand on the staff: values, ties, beams, accidentals; and that nothing is lost in writing."""

from __future__ import annotations

import itertools
import re
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drills.engraving import PAGE_WIDTHS, engrave
from drills.lines.build import Recipe
from drills.lines.line import Line, LineBar, LineChord, LineNote
from drills.lines.notate import VALUES, Written, notate, split
from drills.sheets import line_shown
from drills.wishes import Wish
from tests.drills.lines import RECIPES, line_for
from tests.drills.studies import symbol
from tunes.harmony.charts.bars import Metre
from tunes.harmony.pitch.spelling import Key, Pitch
from tunes.study import study_of_text

COMMON, QUAVER = Metre(4, 4), Fraction(1, 2)


def tiny(*bars: str, key: str = "C", metre: Metre = COMMON, value: Fraction = QUAVER) -> Line:
    """A line of equal notes, one text of pitches a bar."""
    notes, line_bars, time = [], [], Fraction(0)
    for number, text in enumerate(bars, start=1):
        line_bars.append(LineBar(number, metre, time, metre.quarters))
        for place, pitch in enumerate(text.split()):
            notes.append(LineNote(Pitch.parse(pitch), time + value * place, value, 0, "1"))
        time += metre.quarters
    chord = LineChord(0, symbol("C"), Fraction(0), time)
    return Line("scales", "tiny", Key.parse(key), tuple(line_bars), (chord,), tuple(notes))


def signs(line: Line) -> list[str]:
    shown = []
    for bar in notate(line):
        for note in bar.voices[0]:
            if note.sign and note.pitch:
                text = f"{note.pitch.text}"
                shown.append(f"({text})" if note.sign.courtesy else text)
    return shown


# Common practice (cf. Gould, Behind Bars, 2011, cautionary accidentals; from memory).
ACCIDENTALS = [
    ("C", ["F#4 F#4 F4"], ["F#4", "F4"]),
    ("G", ["F#4 G4"], []),
    ("G", ["F4 F4"], ["F4"]),
    ("C", ["F#4 G4", "F4 G4"], ["F#4", "(F4)"]),
    ("C", ["F#4 G4", "F#4 G4"], ["F#4", "F#4"]),
    ("C", ["F#4 F5"], ["F#4", "(F5)"]),
    ("C", ["F#4 F5 F5"], ["F#4", "(F5)"]),
    ("C", ["F#4 G4", "A4 A4", "F4 G4"], ["F#4"]),
    ("F", ["B4 C5", "Bb4 C5"], ["B4", "(Bb4)"]),
    # a whole bar of naturals after a bar of flats needs no row of brackets; one or two reminders stay
    ("C", ["Ab4 Bb4 Db5 Eb5", "A4 B4 D5 E5"], ["Ab4", "Bb4", "Db5", "Eb5"]),
    ("C", ["Ab4 Bb4", "A4 B4"], ["Ab4", "Bb4", "(A4)", "(B4)"]),
    ("C", ["Ab4 Bb4 Db5", "A4 B4 D5 F#5"], ["Ab4", "Bb4", "Db5", "(A4)", "(B4)", "(D5)", "F#5"]),
    ("Gb", ["Cb5 Cb5", "C5 Cb5"], ["C5", "Cb5"]),
]  # fmt: skip


@pytest.mark.parametrize(("key", "bars", "shown"), ACCIDENTALS)
def test_accidentals_hold_for_the_bar_and_are_recalled_after_it(key: str, bars: list[str], shown: list[str]) -> None:
    assert signs(tiny(*bars, key=key)) == shown


def beams(line: Line) -> list[int]:
    """Lengths of the beam groups of the first bar."""
    groups: dict[int, int] = {}
    for note in notate(line)[0].voices[0]:
        if note.beam is not None:
            groups[note.beam] = groups.get(note.beam, 0) + 1
    return list(groups.values())


# Common practice: half bars in 4/4, beats in 3/4 and 5/4, dotted beats in compound metres.
BEAMS = [
    (Metre(4, 4), 8, [4, 4]), (Metre(3, 4), 6, [2, 2, 2]), (Metre(5, 4), 10, [2] * 5), (Metre(6, 8), 6, [3, 3]),
    (Metre(12, 8), 12, [3] * 4), (Metre(2, 2), 8, [4, 4]), (Metre(2, 4), 4, [2, 2]), (Metre(5, 8), 5, [3, 2]),
]  # fmt: skip


@pytest.mark.parametrize(("metre", "count", "groups"), BEAMS)
def test_beams_follow_the_metre(metre: Metre, count: int, groups: list[int]) -> None:
    assert beams(tiny(" ".join(["C5"] * count), metre=metre)) == groups


# (start, end, metre) in crotchets → the note values written, common practice.
SPLITS = [
    ("0", "4", (4, 4), ["4"]), ("0", "3", (4, 4), ["3"]), ("1", "4", (4, 4), ["3"]), ("1", "3", (4, 4), ["1", "1"]),
    ("0", "7/2", (4, 4), ["2", "3/2"]), ("1/2", "4", (4, 4), ["3/2", "2"]), ("0", "3", (3, 4), ["3"]),
    ("0", "5", (5, 4), ["3", "2"]), ("0", "3", (6, 8), ["3"]), ("0", "5/2", (3, 4), ["2", "1/2"]),
    ("0", "3/2", (6, 8), ["3/2"]), ("0", "7", (7, 4), ["4", "3"]), ("3/2", "5/2", (4, 4), ["1/2", "1/2"]),
]  # fmt: skip


@pytest.mark.parametrize(("start", "end", "metre", "lengths"), SPLITS)
def test_note_values_do_not_hide_the_middle_of_the_bar(
    start: str, end: str, metre: tuple[int, int], lengths: list[str]
) -> None:
    bar = Metre(*metre)
    found = split(Fraction(start), Fraction(end), bar, bar.quarters)
    assert [length for _, length in found] == [Fraction(text) for text in lengths]


@given(
    st.sampled_from([Metre(4, 4), Metre(3, 4), Metre(5, 4), Metre(6, 8), Metre(7, 4), Metre(2, 2), Metre(11, 8)]),
    st.data(),
)
def test_values_of_any_stretch_add_up(metre: Metre, data: st.DataObject) -> None:
    eighths = int(metre.quarters * 2)
    start = data.draw(st.integers(0, eighths - 1))
    end = data.draw(st.integers(start + 1, eighths))
    found = split(Fraction(start, 2), Fraction(end, 2), metre, metre.quarters)
    assert all(length in VALUES for _, length in found)
    assert found[0][0] == Fraction(start, 2)
    assert sum(length for _, length in found) == Fraction(end - start, 2)
    assert all(a + length == b for (a, length), (b, _) in itertools.pairwise(found))


@pytest.mark.parametrize("recipe", RECIPES, ids=lambda recipe: f"{recipe.kind}-{recipe.start}-{recipe.voices}")
@pytest.mark.parametrize("instrument", ["alto-sax", "trombone", "bass", "flute"])
def test_every_voice_of_every_bar_is_full(instrument: str, recipe) -> None:  # type: ignore[no-untyped-def]
    line = line_for(instrument, recipe)
    for written in notate(line):
        for voice in written.voices:
            assert sum((note.duration for note in voice), Fraction(0)) == written.bar.length


@pytest.mark.parametrize("per_system", [4, 2])
@pytest.mark.parametrize(
    "recipe",
    [Recipe(), Recipe("scales", "root"), Recipe("arpeggios", "root", value="crotchets")],
    ids=lambda recipe: recipe.kind,
)
@pytest.mark.parametrize("bars", [1, 2, 3, 5, 6, 7, 9])
def test_a_short_last_system_has_bars_as_wide_as_the_others(bars: int, recipe: Recipe, per_system: int) -> None:
    """Each is between two thirds and four thirds of its share of the page; nothing of what filled it up is left."""
    text = "key: F major\n" + "| Gm7 " * bars + "|"
    svg = engrave(line_for("piano", recipe, text), per_system=per_system).svg
    assert "filler" not in svg
    assert svg.count('class="measure"') == bars
    edges = [int(x) for x in re.findall(r'class="barLine"><path d="M(\d+)', svg)]
    share = PAGE_WIDTHS[per_system] * 10 / per_system
    for place in range(bars):
        if place % per_system:  # the first bar of a system also holds the clef and the signature
            assert 2 / 3 < (edges[place] - edges[place - 1]) / share < 4 / 3
    ends = max(int(x) for x in re.findall(r'<path d="M\d+ \d+ L(\d+)', svg[svg.rindex('class="measure"') :]))
    assert ends <= share * ((bars - 1) % per_system + 1.5)


@pytest.mark.parametrize(("first", "last"), [(1, 4), (5, 8), (6, 0), (2, 7)])
def test_no_text_stands_outside_of_the_picture(first: int, last: int) -> None:
    """Also where the first bar shown begins no section, so that nothing but the key's name stands above its chords."""
    whole = study_of_text("key: F major\n\nA:\n| Gm7 | C7 | Fmaj7 | % | Gm7 C7 | F6 | Gm7 | C7 |")
    wish = Wish(recipe=Recipe(first_bar=first, last_bar=last), instrument="flute")
    made = engrave(line_shown(whole, wish)[0])
    boxes = [int(height) for height in re.findall(r'viewBox="0 0 \d+ (\d+)"', made.svg)]
    assert boxes == [made.height, made.height * 10]
    down = int(re.search(r'class="page-margin" transform="translate\(200, (\d+)\)', made.svg)[1])  # type: ignore[index]
    names = re.findall(r'<text x="-?\d+" y="(-?\d+)" class="(area|letter|chord)" font-size="(\d+)"', made.svg)
    assert {name for _, name, _ in names} >= {"area", "chord"}
    assert all(int(y) + down >= int(size) * 0.9 for y, _, size in names)


def test_a_tie_is_always_answered() -> None:
    line = Line(
        "guide-tones", "held", Key.parse("C"),
        (LineBar(1, Metre(4, 4), Fraction(0), Fraction(4)), LineBar(2, Metre(4, 4), Fraction(4), Fraction(4))),
        (LineChord(0, symbol("C7"), Fraction(0), Fraction(8)),),
        (LineNote(Pitch.parse("Bb4"), Fraction(0), Fraction(8), 0, "b7"),),
    )  # fmt: skip
    first, second = (bar.voices[0][0] for bar in notate(line))
    assert (first.tied_to, first.tied_from, second.tied_to, second.tied_from) == (True, False, False, True)
    assert isinstance(first, Written)
    assert first.sign is not None
    assert second.sign is None, "a tied note needs no new accidental"
