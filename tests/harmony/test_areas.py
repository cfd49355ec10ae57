"""Key areas: where a key begins and ends, and what the analysis says of it. Every case in all twelve keys.

Sources: the cheapest division of a chorus into keys, Choi, Computer Music Journal 35/2 (2011); a secondary dominant does not
change the key, Mulholland & Hojnacki, *The Berklee Book of Jazz Harmony* (2013), p. 38; a minor piece that closes on a major
tonic (Picardy third), Kostka & Payne, *Tonal Harmony*. What has no single source is marked "common practice". All charts are
made up here.
"""

from __future__ import annotations

import pytest

from tests.harmony.test_analysis import TONICS, in_key, major, minor
from tunes.harmony.analysis.key_areas.tables import MARGIN_OPEN
from tunes.harmony.analysis.pipeline import Analysis
from tunes.harmony.explain.sentences import told

END = "| Dm7 | G7 | Cmaj7 | Cmaj7 |"


def areas(found: Analysis) -> list[tuple[int, str, int, int]]:
    """Each area: semitones above home, mode, first and last chord."""
    home = found.home.tonic.pc
    return [((area.key.tonic.pc - home) % 12, area.key.mode, area.first, area.last) for area in found.areas]


CASES = {
    # Common practice: 1, flat 3, flat 6, flat 2 is a turnaround; half a bar of flat 6 is no key.
    "half a bar of flat 6": (major("| Cmaj7 | Dm7 G7 | Cmaj7 Eb7 | Abmaj7 Db7 | Cmaj7 " + END), [(0, "major", 0, 11)]),
    # Common practice: the circle of minor passes through flat 3 without changing the key.
    "the circle of minor": (
        minor("| Cm6 | Dm7b5 G7 | Cm7 | Fm7 Bb7 | Ebmaj7 Abmaj7 | Dm7b5 | G7 | Cm6 |"), [(0, "minor", 0, 10)],
    ),
    # Kostka & Payne: change of mode; the tonic held in major makes a section in major.
    "a section in the other mode": (
        minor("| Cm6 | Dm7b5 G7 | Cm7 | G7 | Cmaj7 | Cmaj7 | Dm7 G7 | Cmaj7 | Dm7b5 | G7 | Cm6 | Cm6 |"),
        [(0, "minor", 0, 3), (0, "major", 4, 9), (0, "minor", 10, 13)],
    ),
    # Common practice: a ii is heard with its dominant, so 2 of 2 does not hold up the key before it.
    "back home at the 2 of 2": (
        major("| Cmaj7 | Dm7 G7 | Cmaj7 | Cmaj7 | Cm7 | F7 | Bbmaj7 | Bbmaj7 | Em7b5 | A7b9 " + END),
        [(0, "major", 0, 4), (10, "major", 5, 8), (0, "major", 9, 14)],
    ),
    # Mulholland & Hojnacki p. 38: a run of 2 5s down to 4 stays in the key, 4 being a member of it.
    "a run of 2 5s to 4": (
        major("| Cmaj7 | Bm7b5 E7 | Am7 D7 | Gm7 C7 | Fmaj7 | Fm7 Bb7 | Dm7 G7 | C6 |"), [(0, "major", 0, 12)],
    ),
    # Choi (2011): evidence for a key adds up; 2 5 begun twice and then landed is a key where 2 5 1 once is not.
    "2 5 begun twice": (
        major("| Cmaj7 | Dm7 G7 | Cmaj7 | Cmaj7 | Gm7 | C7 | Gm7 | C7 | Fmaj7 | Fmaj7 " + END + END),
        [(0, "major", 0, 4), (5, "major", 5, 10), (0, "major", 11, 18)],
    ),
    # Common practice: limbs of a sequence are heard alike, 2 5 1 three times down by tones.
    "a sequence of cadences": (
        major("| Cmaj7 " + END + "| Gm7 | C7 | Fmaj7 | % | Fm7 | Bb7 | Ebmaj7 | % | Ebm7 | Ab7 | Dbmaj7 | % " + END + END),
        [(0, "major", 0, 4), (5, "major", 5, 8), (3, "major", 9, 12), (1, "major", 13, 16), (0, "major", 17, 24)],
    ),
    # Mulholland & Hojnacki p. 38: the dominant at the turn of the form belongs to the tonic of the next chorus.
    "the turn of the form": (
        major("| Cmaj7 | Am7 | Dm7 G7 | Cmaj7 | Cm7 | F7 | Bbmaj7 | Gm7 | Em7b5 | A7 | Dm7 | G7 |"),
        [(0, "major", 0, 4), (10, "major", 5, 8), (0, "major", 9, 12)],
    ),
    # Common practice: 2 5 1 of home in minor, after a glance at flat 6, is home in the other mode and not 3 of flat 6.
    "2 5 1 of home minor after flat 6": (
        major("| C6 | Bbm7 Eb7 | Abmaj7 | Dm7b5 G7 | Cm7 Am7b5 | Dm7b5 G7 | C6 | C6 " + END),
        [(0, "major", 0, 0), (8, "major", 1, 3), (0, "minor", 4, 7), (0, "major", 8, 15)],
    ),
    # The other way about: a lone 5 of that chord inside flat 6 that has been established is applied there.
    "5 of 3 inside flat 6": (
        major("| C6 | Dm7 G7 | C6 | C6 | Bbm7 Eb7 | Abmaj7 | Fm7 G7 | Cm7 | Bbm7 Eb7 | Abmaj7 " + END + END),
        [(0, "major", 0, 4), (8, "major", 5, 13), (0, "major", 14, 21)],
    ),
    # Common practice: a dominant that falls to a minor chord which is at once the 2 of the next key belongs to the key before it.
    "5 of 6 before a pivot": (
        major("| Cmaj7 | G7 | Cmaj7 | E7 | Am7 D7 | Gmaj7 | Am7 D7 | Gmaj7 " + END),
        [(0, "major", 0, 3), (7, "major", 4, 9), (0, "major", 10, 13)],
    ),
    # Common practice: a foreign major seventh held where a section begins is a key of its own; half as long it is not.
    "a bridge a semitone up": (
        major(END + END + "| Dbmaj7 | Dbmaj7 | Gb7 | Gb7 | Dm7 | Dm7 | G7 | G7 " + END),
        [(0, "major", 0, 7), (1, "major", 8, 11), (0, "major", 12, 19)],
    ),
    "flat 2 for a bar": (major(END + END + "| Dbmaj7 | Dm7 G7 | Cmaj7 | Cmaj7 " + END), [(0, "major", 0, 16)]),
}  # fmt: skip


@pytest.mark.parametrize("tonic", TONICS)
@pytest.mark.parametrize("case", CASES)
def test_where_a_key_begins_and_ends(case: str, tonic: str) -> None:
    text, expected = CASES[case]
    assert areas(in_key(text, tonic)) == expected


@pytest.mark.parametrize("tonic", TONICS)
def test_a_key_begins_where_something_speaks_for_it(tonic: str) -> None:
    """Common practice: the chord on which a cadence lands, held for three bars, is home there until the next 5."""
    found = in_key(
        minor("| Cm7 | % | % | Fm7 Bb7 | Ebm7 | % | % | Ab7 | Dbmaj7 | % | Cm7 | % | Dm7b5 | G7 | Cm7 | % |"), tonic
    )
    landed = [reading for reading in found.readings if reading.event in range(5, 8)]
    assert {(reading.key.tonic.pc - found.home.tonic.pc) % 12 for reading in landed} == {3}
    assert {reading.function.numeral for reading in landed} == {"i7"}
    assert {(reading.resolves_to, reading.resolution) for reading in landed} == {(8, "onward")}, (
        "and what it goes on to is kept"
    )


PICARDY = "| Cm6 | Dm7b5 G7 | Cm6 | Fm7 Bb7 | Ebmaj7 | Abmaj7 | Dm7b5 | G7 | Cm6 | Fm6 | Dm7 G7 | Cmaj7 |"


@pytest.mark.parametrize("tonic", TONICS)
def test_minor_that_ends_in_major(tonic: str) -> None:
    """Kostka & Payne, Picardy third: the tune stays in minor, and the analysis says how it ends."""
    found = in_key(minor(PICARDY), tonic)
    assert found.home.mode == "minor"
    assert found.home.tonic.pc == found.readings[0].key.tonic.pc
    assert told(found.areas[0].reason).endswith("It ends in major.")
    assert "the end" not in told(found.areas[0].reason).split(".")[0]


@pytest.mark.parametrize("tonic", TONICS)
def test_a_key_that_is_only_glanced_at_is_not_said_to_be_heard(tonic: str) -> None:
    """Common practice: half a bar of flat 6 in a turnaround."""
    found = in_key(CASES["half a bar of flat 6"][0], tonic)
    assert "can be heard" not in told(found.areas[0].reason)
    other = [one for one in found.readings[4].alternatives if one.key != found.home]
    assert all(one.margin >= 1.0 for one in other)


@pytest.mark.parametrize("tonic", TONICS)
def test_a_close_rival_is_said_once_for_each_area(tonic: str) -> None:
    """Choi (2011): the division is a choice; a rival within `MARGIN_OPEN` is named, once, with where it is heard."""
    for text, _ in CASES.values():
        found = in_key(text, tonic)
        for area in found.areas:
            rivals = [
                {
                    one.key
                    for one in found.readings[event].alternatives
                    if one.key != area.key and one.margin <= MARGIN_OPEN
                }
                for event in range(area.first, area.last + 1)
            ]
            assert told(area.reason).count("nearly as well") == bool(any(rivals)), told(area.reason)


@pytest.mark.parametrize("tonic", TONICS)
def test_a_pivot_between_two_keys_is_named(tonic: str) -> None:
    """Kostka & Payne, *Tonal Harmony*: a pivot chord belongs to the key that is left and to the one that is entered."""
    found = in_key(
        major(
            "| Cmaj7 | Dm7 G7 | Cmaj7 | Am7 | Bm7b5 E7 | Am7 D7 | Gmaj7 | Em7 | Am7 | D7 | Gmaj7 | Dm7 G7 | Cmaj7 | Cmaj7 |"
        ),
        tonic,
    )
    assert (found.areas[1].key.tonic.pc - found.home.tonic.pc) % 12 == 7
    assert "It comes in by a pivot" in told(found.areas[1].reason)
    assert found.home.text in told(found.areas[1].reason)
