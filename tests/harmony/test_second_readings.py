"""What a second reading says is true of the chords that are printed: what it names as following follows.

Sources: related ii and tritone substitute, Pease, *Jazz Composition* (2003); a pivot belongs to two keys, Kostka & Payne, *Tonal
Harmony*; the rest is common practice, no single source.  The charts are made up here.
"""

from __future__ import annotations

import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.harmony.test_analysis import chart_of
from tunes.harmony.analysis.pipeline import Analysis, analyse
from tunes.harmony.analysis.sounds import DOMINANTS, STABLE, sounds_of
from tunes.harmony.charts.model import Chart
from tunes.harmony.explain.sentences import told

ROOTS = ("C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")
BARS = st.lists(
    st.tuples(st.sampled_from(ROOTS), st.sampled_from(("maj7", "m7", "7", "m7b5", "dim7", "m6", "7sus"))).map("".join),
    min_size=4,
    max_size=14,
)
FAMILIAR = st.lists(
    st.sampled_from([
        "Dm7 G7", "Cmaj7", "Gm7 C7", "Fmaj7", "Bm7b5 E7", "Am7", "Am7 D7", "Gmaj7", "Fm7 Bb7", "Ebmaj7", "Abmaj7", "Dm7b5 G7", "Cm6",
        "Em7 A7", "Ebm7 Ab7", "Db7", "F#m7b5 B7", "Em7", "C#dim7", "Dbmaj7", "Bbmaj7",
    ]), min_size=4, max_size=12,
)  # fmt: skip
PROMISES = re.compile(
    r"goes with the dominant that follows|prepares the dominant a fifth below|the tritone substitute a semitone below"
)
LIFTED = (
    "key: F minor\n| Fm6 | Gm7b5 C7 | Fm6 | Bbm7 Eb7 | Abmaj7 | Dbmaj7 | Gm7b5 C7 | Fm7 | Bb7 | Ebm7 Ab7 | Dbmaj7 "
    "| Dm7b5 | Db7 | Gm7 C7 | Fmaj7 |"
)
TO_FIVE = (
    "key: G major\n| Gmaj7 | Am7 D7 | Gmaj7 | Em7 | F#m7b5 B7 | Em7 A7 | Dmaj7 | Bm7 | Em7 | A7 | Dmaj7 "
    "| Am7 D7 | Gmaj7 | Gmaj7 |"
)
TO_FLAT_SIX = (
    "key: D minor\n| Dm7 | Em7b5 A7 | Dm7 | Dm6 | Cm7 | F7 | Bbmaj7 | Bbmaj7 | E7 | Am7 | Gm7 | C7 | Fmaj7 | Bbmaj7 "
    "| Em7b5 | A7 | Dm6 | Dm6 |"
)
CHAIN = "key: C major\n| Cmaj7 | Am7 Dm7 | G7 C7 | F7 Bb7 | Cmaj7 A7 | Dm7 G7 | C6 | C6 |"


def true_of(chart: Chart, found: Analysis) -> None:
    """Checks every second reading of a chorus against its sounds."""
    sounds = sounds_of(chart.events())[0]
    stretches = [i for i, s in enumerate(sounds) if not i or (s.root, s.cls) != (sounds[i - 1].root, sounds[i - 1].cls)]
    for reading in found.readings:
        here = sounds[reading.event]
        after = sounds[next((i for i in stretches if i > reading.event), 0)]
        for other in reading.alternatives:
            if other.function.of == "2" or PROMISES.search(told(other.reason)):
                assert after.cls in DOMINANTS, (reading.event, told(other.reason))
                assert (after.root - here.root) % 12 in (5, 11), (reading.event, told(other.reason))
            if other.key != reading.key:
                assert "is home:" not in told(other.reason)
            if "is at rest: a dominant" in told(other.reason) and here.cls in STABLE:
                assert (other.key.mode == "minor") == (here.cls == "min"), told(other.reason)
            assert ",." not in told(other.reason)


@pytest.mark.parametrize("text", [LIFTED, TO_FIVE, TO_FLAT_SIX, CHAIN])
def test_second_readings_are_true_of_these(text: str) -> None:
    chart = chart_of(text)
    found = analyse(chart)
    assert any(reading.alternatives for reading in found.readings)
    true_of(chart, found)


@settings(max_examples=150, deadline=None)
@given(BARS | FAMILIAR)
def test_a_second_reading_that_names_the_dominant_that_follows_is_followed_by_it(bars: list[str]) -> None:
    chart = chart_of("| " + " | ".join(bars) + " |")
    true_of(chart, analyse(chart))


def others(text: str, event: int) -> dict[tuple[str, str], str]:
    """The second readings of an event, by what they are called and their key."""
    return {
        (one.function.spoken, one.key.text): told(one.reason)
        for one in analyse(chart_of(text)).readings[event].alternatives
    }


def test_a_second_reading_names_its_goal_by_what_it_is_in_that_key() -> None:
    """A 3 before 5 of 2 does not prepare 6 (Pease 2003)."""
    found = others(LIFTED, 10)
    assert found[("3", "Db major")] == "3 prepares the dominant a fifth below it, 5 of 2."


def test_a_two_five_of_another_key_is_also_heard_at_home() -> None:
    """Nettles & Graf (1997): the related 2 and 5 of flat 6 in minor."""
    assert ("2 of flat 6", "D minor") in others(TO_FLAT_SIX, 5)
    assert ("5 of flat 6", "D minor") in others(TO_FLAT_SIX, 6)
    said = others(TO_FLAT_SIX, 7)["flat 6", "D minor"]
    assert said == "A dominant has just led here: the run lands on flat 6, a subdominant in D minor."


def test_a_pivot_that_the_header_promises_is_told() -> None:
    """Kostka & Payne, *Tonal Harmony*: 6 of the old key, 2 of the new one."""
    found = analyse(chart_of(TO_FIVE))
    assert "It comes in by a pivot that can be heard in G major" in told(found.areas[1].reason)
    assert others(TO_FIVE, 4)["6", "G major"] == "6 belongs to G major and moves on to 7, here 2 of 6."


def test_a_dominant_whose_substitute_comes_instead_of_its_goal_says_so() -> None:
    """Pease (2003): dominants that fall by semitones, every other one a substitute."""
    found = others("key: C major\n| Cmaj7 | Cmaj7 | E7 | Eb7 | D7 | Db7 | Cmaj7 | Cmaj7 |", 4)
    assert found[("5 of 5", "C major")] == "5 of 5 would lead to 5; the dominant a tritone from it comes in its place."


def test_four_dominant_is_also_five_of_flat_seven_and_the_other_way_about() -> None:
    """Before the back door it is 4 (common practice, no source); with its own 2 it sets out, and is 4 with a flat 7 behind
    (the Berklee book, 2013, ch. 6)."""
    assert ("5 of flat 7", "C major") in others(CHAIN, 5)
    open_two_five = "key: C major\n| Cmaj7 | % | Cm7 | F7 | Dm7b5 | G7 | Cmaj7 | % | Dm7 | G7 | Cmaj7 | % |"
    assert ("4 dominant", "C major") in others(open_two_five, 3)


def test_flat_two_before_home_is_heard_to_lean_on_it() -> None:
    """Nettles & Graf (1997): flat 2 major from the Phrygian mode."""
    text = "key: D minor\n| Dm7 | Em7b5 A7 | Dm7 | Dm7 | Fm7 | Bb7 | Ebmaj7 | Ebmaj7 | Dm7 | Dm7 | Em7b5 A7 | Dm7 |"
    said = [
        told(one.reason)
        for reading in analyse(chart_of(text)).readings
        if reading.key.text != "D minor"
        for one in reading.alternatives
    ]
    assert any("leans on 1" in one for one in said), said


def test_a_rising_passing_diminished_has_no_second_reading() -> None:
    """Common practice: it is what its neighbours make of it."""
    found = analyse(
        chart_of("key: C major\n| Cmaj7 C#dim7 | Dm7 D#dim7 | Em7 A7 | Dm7 G7 | Cmaj7 | F6 F#dim7 | C/G A7 | Dm7 G7 |")
    )
    assert all(not reading.alternatives for reading in found.readings if reading.rule == "passing-up")
