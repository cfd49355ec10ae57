"""Progressions in charts invented for this test, as typed and in all twelve keys: common practice, no source, unless
`idiom_table` names one. Each row says which chords wear the name, and for some which do not."""

from dataclasses import replace

import pytest

from tests.harmony import TRIED_MAJOR, TRIED_MINOR
from tests.harmony.test_idioms import analysis
from tunes.harmony.analysis.pipeline import analyse
from tunes.harmony.charts import chart_in_key, parse_chart
from tunes.harmony.pitch.spelling import Key
from tunes.harmony.progressions.idioms import BUILT_IN, find_idioms, make_idiom
from tunes.harmony.progressions.index import IdiomIndex
from tunes.harmony.progressions.occurrences import told

END = " Dm7 G7 | C6 | F6 G7 |"
MAJOR = [
    ("chromatic-two-fives", "| C6 | Em7 A7 | Ebm7 Ab7 | Dm7 G7 | C6 |", {1, 2, 3, 4, 5, 6}),
    ("chromatic-two-fives", "| C6 | C#m7b5 F#7 | Cm7b5 F7 | Bb6 | Dm7 G7 | C6 |", {1, 2, 3, 4}),
    ("chromatic-two-fives", "| C6 | Em7 A7 | Dm7 G7 | C6 |", set()),
    ("two-five-slipping-up", "| C6 | Dm7 G7 | Ebm7 Ab7 | Dm7 G7 | C6 |", {1, 2, 3, 4}),
    ("slide-3-2", "| C6 F6 | Em7 Ebm7 |" + END, {2, 3, 4}),
    ("slide-3-2", "| C6 F6 | Em7 Eb7 |" + END, {2, 3, 4}),
    ("slide-3-2", "| C6 F6 | Em7 Am7 |" + END, set()),
    ("falling-from-sharp-4", "| C6 | F#m7b5 | Fm6 | Em7 A7 |" + END, {1, 2, 3}),
    ("two-five-falling-by-tone", "| C6 | Em7b5 A7 | Dm7 G7 | C6 |", {1, 2, 3, 4}),
    ("two-fives-by-fifths", "| C6 | Am7 D7 | Dm7 G7 | C6 |", {1, 2, 3, 4}),
    ("key-falling-by-tone", "| Em7 A7 | D6 | Dm7 G7 | C6 |", {0, 1, 2, 3, 4, 5}),
    ("dominants-by-semitones", "| C6 | A7 Ab7 | G7 | C6 |", {1, 2, 3}),
    ("dominant-chain", "| C6 | E7 | A7 | Am7 D7 | G7 | C6 |", {1, 2, 3, 4, 5, 6}),
    ("turnaround-1-6-2-5-dominants", "| C6 A7 | D7 G7 | C6 A7 | D7 G7 |", set(range(8))),
    ("turnaround-1-5of2-2-5", "| C7 | F7 | C7 A7 | Dm7 G7 |", {2, 3, 4, 5}),
    ("turnaround-substitutes", "| C6 F6 | Dm7 G7 | C6 Eb7 | Abmaj7 Db7 |", {4, 5, 6, 7}),
    ("turnaround-flat-3-2-flat-2", "| C6 F6 | Dm7 G7 | C6 Eb7 | D7 Db7 |", {4, 5, 6, 7}),
    ("turnaround-3-6-2-5", "| C6 F6 | Em7 A7 | Dm7 G7sus | C6 |", {2, 3, 4, 5}),
    ("line-falling-in-major", "| Cmaj7 C7 | C6 Caug | Dm7 G7 |" + END, {0, 1, 2, 3}),
    ("line-falling-in-major", "| Cmaj7 C7 | F6 Fm6 |" + END, set()),
    ("line-rising", "| C Caug | C6 C7 | F6 |" + END, {0, 1, 2, 3}),
    ("bass-falling-1-to-6", "| C G/B | C7/Bb A7 |" + END, {0, 1, 2, 3}),
    ("bass-falling-scale", "| C G/B | Am C/G | F |" + END, {0, 1, 2, 3, 4}),
    ("bass-rising", "| C Dm7 | C/E F6 |" + END, {0, 1, 2, 3}),
    ("passing-4-5", "| C6 | F6 | F#dim7 | C/G |" + END, {1, 2, 3}),
    ("passing-4-5", "| C7 | F7 | F#dim7 | C7 | G7 | C7 |", set()),
    ("climb-4-back-to-1", "| C7 | F7 | F#dim7 | C7 | G7 | C7 |", {1, 2, 3}),
    ("major-thirds-by-dominants", "| C6 Eb7 | Abmaj7 B7 | Emaj7 G7 | C6 |", set(range(7))),
    ("deceptive", "| C6 | Dm7 G7 | Em7b5 A7 | Dm7 G7 | C6 |", {2, 3}),
    ("deceptive", "| C6 F6 | Dm7 G7 | E7 | A7 | D7 | G7 | C6 F6 | C6 |", {3, 4}),
    ("deceptive", "| C6 F6 | Dm7 G7 | E7 A7 | D7 G7 | C6 F6 | C6 |", set()),
    ("two-five-left-open", "| C6 | Dm7 G7 | Em7b5 A7 | Dm7 G7 | C6 |", set()),
    ("two-five-to-minor", "| C6 | Bm7b5 E7 | Am7 D7 |" + END, {1, 2, 3}),
    ("cadence-minor", "| C6 | Bm7b5 E7 | Am7 D7 |" + END, set()),
    ("pedal-tonic", "| C6 | Dm7/C | G7/C | C6 | F6 |" + END, {0, 1, 2, 3}),
    ("cadence-major", "| C6 | Dm7/C | G7/C | C6 | F6 | G7 | C6 | F6 |", set()),
    ("pedal-dominant", "| C6 | G7sus | Eb/G | G7 | C6 |", {1, 2, 3}),
    ("planing", "| Cmaj7 | Ebmaj7 | Cmaj7 | Ebmaj7 |" + END, {0, 1, 2, 3}),
    ("planing", "| Cmaj7 | Fmaj7 | Cmaj7 | Fmaj7 |" + END, set()),
    ("planing", "| C6 | Em7 | Dm7 | Em7 | Dm7 | G7 | C6 |", set()),
    ("two-five-with-substitute", "| C6 F6 | Am7 | Dm7 Ab7 | G7 | C6 |", {3, 4, 5}),
    ("two-five-with-substitute", "| C6 F6 | Am7 | Dm7 G7 | C6 |", set()),
    ("tritone-two-five", "| C6 F6 | Dm7 G7 | Abm7 Db7 | C6 |", {4, 5, 6}),
    ("tritone-two-five", "| C6 | Em7 A7 | Ebm7 Ab7 | Dm7 G7 | C6 |", set()),
    ("tritone-cadence", "| C6 F6 | Dm7 Db7 | C6 | F6 G7 |", {2, 3, 4}),
    ("tritone-cadence", "| C6 | Dm7 Db7 | C7 | F6 | Dm7 G7 | C6 |", set()),
    ("turnaround-3-6-2-5", "| C6 F6 | Em7 A7sus | Dm7 G7sus | C6 |", {2, 3, 4, 5}),
    ("two-five-falling-by-tone", "| C6 F6 | Em7 A7sus | Dm7 G7sus | C6 |", {2, 3, 4, 5}),
    ("two-fives-by-fifths", "| C6 | Am7 D7sus | Dm7 G7sus | C6 |", {1, 2, 3, 4}),
    ("two-fives-by-fifths", "| C6 | Am7 D7 | Ab7 | Dm7 G7 | Db7 | C6 |", {1, 2, 3, 4, 5}),
    ("key-falling-by-tone", "| Em7 A7 | D6 | Dm7 Db7 | C6 |", {0, 1, 2, 3, 4, 5}),
    ("turnaround-3-6-2-flat-2", "| C6 F6 | Em7 A7 | Dm7 Db7 | C6 |", {2, 3, 4, 5}),
    ("turnaround-3-6-2-flat-2", "| C6 F6 | Em7 A7 | Dm7 G7 | C6 |", set()),
    ("falling-6-flat-6-5", "| C6 F6 | Am7b5 Ab7 | Dm7 G7 | C6 |", {2, 3, 4, 5}),
    ("minor-four-to-3", "| C6 | Fmaj7 Fm6 | Em7 A7 |" + END, {1, 2, 3}),
    ("minor-four-to-3", "| C6 | Fmaj7 Fm6 | C6 A7 |" + END, set()),
    ("minor-plagal", "| C6 | Dm7 G7 | C6 Fm6 | C6 |", {4, 5}),
    ("minor-plagal", "| C6 | Fmaj7 Fm6 | C6 A7 |" + END, {1, 2, 3}),
    ("minor-plagal", "| C6 | Fmaj7 Fm7 | Bb7 | C6 A7 |" + END, set()),
    ("passing-3-2", "| C6 F6 | Em7 Ebdim7 | D7 G7 | C6 |", {2, 3, 4}),
    ("two-dominant-five", "| C6 | D7 G7 | C6 F6 |", {1, 2, 3}),
    ("two-dominant-five", "| C6 | Dm7 G7 | C7 | F6 |" + END, set()),
    ("blues-five-four", "| C7 | F7 | C7 | C7 | F7 | F7 | C7 | C7 | G7 | F7 | C7 | C7 |", {8, 9, 10, 11}),
    ("turnaround-1-6-2-5", "| C6 Am7 | Dm7 G7 | F6 | Dm7 G7 | C6 |", {0, 1, 2, 3}),
    ("passing-1-2", "| C6 C#dim7 | Dm7 G7 | F6 | Dm7 G7 | C6 |", {0, 1, 2}),
]  # fmt: skip
MINOR = [
    ("cadence-minor", "| Cm6 | Dm7b5 G7 | Cm6 | Fm6 | Dm7b5 G7 | Cm6 |", {1, 2, 3, 5, 6, 7}),
    ("turnaround-minor-flat-6", "| Cm6 | Fm6 | Cm6 Ab7 | Dm7b5 G7 |", {2, 3, 4, 5}),
    ("flat-6-5-minor", "| Cm6 | Fm6 | Ab7 | G7 | Cm6 |", {2, 3, 4}),
    ("flat-3-flat-6-5", "| Cm6 | Fm6 | Cm6 Eb7 | Ab7 G7 |", {3, 4, 5}),
    ("falling-6-flat-6-5", "| Cm6 | Fm6 | Am7b5 | Ab7 | G7 | Cm6 |", {2, 3, 4}),
    ("line-falling", "| Cm Cm(maj7) | Cm7 Cm6 | Dm7b5 | G7 | Cm6 |", {0, 1, 2, 3}),
    ("line-falling-by-steps", "| Cm Cm7 | Cm6 Cm7 | Dm7b5 | G7 | Cm6 |", {0, 1, 2, 3}),
    ("line-falling-from-7", "| Cm6 | Fm6 | Dm7b5 G7 | Cm(maj7) Cm7 | Am7b5 | Dm7b5 G7 | Cm6 |", {4, 5, 6}),
    ("bass-falling-1-to-5", "| Cm | Cm/Bb | F/A | Abmaj7 | G7 | Cm6 Fm6 |", {0, 1, 2, 3, 4}),
    ("backdoor-minor", "| Cm6 | Fm7 Bb7 | Cm6 | Dm7b5 G7 | Cm6 |", {1, 2, 3}),
    ("backdoor-minor", "| Cm6 | Fm7 Bb7 | Ebmaj7 | Dm7b5 G7 | Cm6 |", set()),
    ("line-falling-from-7", "| Cm Cm(maj7) | Cm7 Cm6 | Dm7b5 | G7 | Cm6 |", set()),
    ("bass-falling-under-minor", "| Cm | Cm/Bb | Am7b5 | Abmaj7 | G7 | Cm6 Fm6 |", {0, 1, 2}),
]  # fmt: skip


def worn(text, key, name):
    """The events that wear a name in a chart moved to a key."""
    found = analyse(chart_in_key(parse_chart(text).chart, key))
    return {reading.event for reading in found.readings if name in reading.patterns}


@pytest.mark.parametrize("key", TRIED_MAJOR, ids=str)
@pytest.mark.parametrize(("name", "text", "events"), MAJOR)
def test_in_major(name, text, events, key):
    assert worn("key: C\n" + text, key, name) == events


@pytest.mark.parametrize("key", TRIED_MINOR, ids=str)
@pytest.mark.parametrize(("name", "text", "events"), MINOR)
def test_in_minor(name, text, events, key):
    assert worn("key: Cm\n" + text, key, name) == events


def test_falling_two_fives_of_a_blues():
    """Blues with descending ii–Vs: cf. Baerman, Intermediate Jazz Keyboard (1998) p. 63."""
    text = (
        "key: G\n| Gmaj7 | F#m7b5 B7 | Em7 A7 | Dm7 G7 | C7 | Cm7 F7 | Bm7 E7 | Bbm7 Eb7 | Am7 | D7 | Bm7 E7 | Am7 D7 |"
    )
    for key in TRIED_MAJOR:
        assert worn(text, key, "two-fives-falling-to-4") == set(range(1, 8))
        assert worn(text, key, "chromatic-two-fives") == set(range(8, 16))


ELSEWHERE = [
    ("backdoor-to-3", "| Cmaj7 F6 | Fm7 Bb7 | Em7 | Ebm7 Ab7 | Dm7 | G7 | Cmaj7 |"),
    ("circle-to-relative-minor", "| C6 | Dm7 G7 | Cmaj7 Fmaj7 | Bm7b5 E7 | Am7 | Dm7 G7 | C6 |"),
    ("turnaround-3-6-2-5", "| C6 | Dm7b5 G7 | Cm7 F7 | Bbm7 Eb7 | Abmaj7 | Dm7 G7 | C6 |"),
]  # fmt: skip


@pytest.mark.parametrize("key", TRIED_MAJOR, ids=str)
@pytest.mark.parametrize(("name", "text"), ELSEWHERE)
def test_a_name_agrees_with_what_is_said_of_its_chords(name, text, key):
    """The back door is open where flat 7 is heard so; a turnaround stands in one key; the circle of minor in its own."""
    found = analyse(chart_in_key(parse_chart("key: C\n" + text).chart, key)).readings
    worn = [reading for reading in found if name in reading.patterns]
    if name == "backdoor-to-3":
        heard = found[3].function.kind == "backdoor" and found[4].function.role == "tonic"
        assert bool(worn) == heard
    elif name.startswith("turnaround"):
        assert len({reading.key.tonic for reading in worn}) <= 1
    else:
        one_minor = {reading.key.mode for reading in found[1:8]} == {"minor"}
        assert (bool(worn), any("circle-minor" in reading.patterns for reading in found)) == (not one_minor, one_minor)


@pytest.mark.parametrize("key", TRIED_MAJOR, ids=str)
def test_away_from_home(key):
    chords = analysis(key, "1 6", "3 m7b5 >2 2", "6 7 >2 5", "2 m7", "5 7 >1 5")
    away = make_idiom("x", "x", "away: 2min|2half 5dom 1min|1maj")
    assert [(o.first, o.last, o.of) for o in find_idioms(chords, [away])] == [(1, 3, "2")]
    index = IdiomIndex()
    index.add("a", chords)
    assert [(o.first, o.last) for _, o in index.find(away)] == [(1, 3)]


@pytest.mark.parametrize("key", TRIED_MAJOR, ids=str)
@pytest.mark.parametrize(("resolution", "turned"), [("deceptive", True), ("held", False), ("delayed", False)])
def test_5_is_turned_aside_by_a_dominant_only_where_it_is_heard_so(key, resolution, turned):
    """5 to the dominant of 6 or of 2 in place of 1: common practice, no source."""
    for degree, of in (("3", "6"), ("6", "2")):
        chart = analysis(key, "1 6", "5 7 >1 5", f"{degree} 7 >{of} 5", f"{of} m7")
        five, after = chart.readings[1], chart.readings[2]
        after = replace(after, function=replace(after.function, role="dominant"))
        chart = replace(
            chart, readings=(chart.readings[0], replace(five, resolution=resolution), after, chart.readings[3])
        )
        assert ("deceptive" in [one.idiom for one in told(chart)]) == turned


BASSES = [
    ("_1 _7 _b7", [(0, 2)]), ("1maj_1 * 1_b7", [(0, 2)]), ("5_7 1", [(1, 2)]), ("1_5", None), ("sound: 1maj 5_7", [(0, 1)]),
    ("_b7 _6", [(2, 3)]), ("_1 _6", []),
]  # fmt: skip


@pytest.mark.parametrize(("pattern", "places"), BASSES)
def test_patterns_of_the_bass(pattern, places):
    """`1_b7` is 1 over flat 7, `_b7` any chord over it; the index finds what a walk finds."""
    if places is None:
        with pytest.raises(ValueError, match="at least two chords"):
            make_idiom("x", "x", pattern)
        return
    chords = analysis(Key.parse("Bb"), "1 maj7", "5 7 _7", "1 7 _b7", "6 7", "b2 5")
    idiom = make_idiom("x", "x", pattern)
    assert [(o.first, o.last) for o in find_idioms(chords, [idiom])] == places
    index = IdiomIndex()
    index.add("a", chords)
    assert [(o.first, o.last) for _, o in index.find(idiom)] == places


def test_every_name_is_reached():
    """No built-in progression is left without a pattern that can be read, nor a name used twice."""
    names = [idiom.name for idiom in BUILT_IN.values()]
    assert len(set(names)) == len(names)
