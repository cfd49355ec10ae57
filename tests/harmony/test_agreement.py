"""What is said of a chord, where it points, how it resolves and how far it is from landing agree, in any chart.

Each claim is checked against the roots of the chart itself. That a dominant falls a fifth and its substitute a semitone:
Pease, *Jazz Composition* (2003), p. 53; deceptive dominants: Mulholland & Hojnacki (2013), appendix. The rest is what the
words mean (logical). All charts are made up here.
"""

from __future__ import annotations

import re

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from tests.harmony.test_analysis import chart_of
from tunes.harmony.analysis.pipeline import Analysis, Reading, analyse
from tunes.harmony.chords.over_bass import heard_as
from tunes.harmony.explain.sentences import TELLS_NEXT, told
from tunes.harmony.pitch.spelling import Key
from tunes.harmony.readings.landing import LANDED, OVER_FIVE, SAME_DOMINANT, SLIDES, taken_up
from tunes.harmony.readings.rule_ids import RuleId
from tunes.harmony.scales.scales import scale_for

ROOTS = ("C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")
QUALITIES = ("maj7", "m7", "7", "7", "m7b5", "dim7", "6", "m6", "7sus", "m7")
FUNCTIONS = (
    "Cmaj7", "Dm7", "Em7", "Fmaj7", "G7", "Am7", "Bm7b5", "A7", "E7", "D7", "B7", "C7", "Fm6", "Fm7", "Bb7", "Db7", "Ab7",
    "Eb7", "Abmaj7", "Ebmaj7", "Dbmaj7", "F#dim7", "C#dim7", "Ebdim7", "G7sus", "Em7b5", "Gm7", "C6", "F7", "F#m7b5", "C/G",
)  # fmt: skip
CHORDS = st.sampled_from(FUNCTIONS) | st.builds(
    lambda root, kind: root + kind, st.sampled_from(ROOTS), st.sampled_from(QUALITIES)
)
CHARTS = st.lists(CHORDS, min_size=3, max_size=18).map(lambda chords: "| " + " | ".join(chords) + " |")

INSTEAD = re.compile("in its place|home by the back door|opens the back door|leaves the back door open")
SEMITONES = {"1": 0, "2": 2, "3": 4, "4": 5, "5": 7, "6": 9, "7": 11}
FALLS = {"falls a fifth to": 5, "falls a semitone to": 11, "prepares the dominant a fifth below it,": 5,
         "the tritone substitute a semitone below": 11, "rises a tone to": 2, "moves down a fifth to": 5}  # fmt: skip


def semitones(words: str, key: Key) -> int:
    """The pitch class of a degree as players say it: "flat 6 minor", "sharp 4", "3"."""
    found = re.match(r"(flat |sharp )?([1-7])", words)
    assert found, words
    shift = {"flat ": -1, "sharp ": 1}.get(found[1] or "", 0)
    return (key.tonic.pc + SEMITONES[found[2]] + shift) % 12


def roots_of(text: str) -> list[int]:
    return [event.symbol.root.pc for event in chart_of(text).events() if event.symbol]


def after_the_run(found: Analysis, reading: Reading) -> int:
    """The event after a chord and its own repetitions, round the top of the form."""
    count = len(found.readings)
    at = reading.event + 1

    def lasts(other: Reading) -> bool:
        same = (other.root, other.function.role, other.function.of) == (
            reading.root,
            reading.function.role,
            reading.function.of,
        )
        held = other.root == reading.root and other.function.role == "colour" and other.function.quality == "7sus"
        return same or held or (other.root == reading.root and other.function == reading.function)

    while at < count and lasts(found.readings[at]):
        at += 1
    return at % count


def called_by_what_it_leads_to(reading: Reading) -> bool:
    """Whether the chord that follows begins another key and is called "5 of 2" or the like in it."""
    args = reading.reason.args
    return bool(args.following_key and args.following and args.following.function and args.following.function.of)


def what_comes_in_its_place_is_what_comes(found: Analysis, roots: list[int]) -> None:
    """A sentence about another chord in the goal's place goes with a deceptive resolution, and names the next chord; the substitute of
    the goal is one that the arrow goes to."""
    for reading in found.readings:
        if reading.rule == RuleId.GOAL_EXCHANGED:
            assert reading.resolution in ("direct", "delayed")
            assert reading.resolves_to is not None
            promised = (reading.root + 5) % 12
            assert (roots[reading.resolves_to] - promised) % 12 == 6, (reading.event, told(reading.reason))
            continue
        said = bool(INSTEAD.search(told(reading.reason)))
        assert said == (reading.resolution == "deceptive"), (reading.event, told(reading.reason), reading.resolution)
        if reading.resolution != "deceptive":
            continue
        ahead = found.heading(reading.event)
        assert ahead == after_the_run(found, reading)
        if called_by_what_it_leads_to(reading):
            assert reading.reason.args.following_key == found.readings[ahead].key
            continue
        named = re.search(r"(?:but|goes to|goes on to) ((?:flat |sharp )?[1-7])", told(reading.reason))
        assert named, told(reading.reason)
        key = reading.reason.args.following_key or reading.key
        assert semitones(named[1], key) == roots[ahead], (reading.event, told(reading.reason))


def a_fall_in_words_is_a_fall_of_the_roots(found: Analysis, roots: list[int]) -> None:
    """A fifth, a semitone, a tone: whatever a sentence claims, the root it names lies there, and the arrow goes to it."""
    for reading in found.readings:
        said = told(reading.reason)
        for words, move in FALLS.items():
            if words not in said:
                continue
            goal = reading.resolves_to if reading.resolution != "none" else after_the_run(found, reading)
            if words == "moves down a fifth to":
                goal = after_the_run(found, reading)
            assert goal is not None, (reading.event, said)
            fall = (roots[goal] - roots[reading.event]) % 12
            assert fall == move, (reading.event, said)
            named = re.search(words + r" ((?:flat |sharp )?[1-7])(?! of)", said)
            if named:
                assert semitones(named[1], reading.key) == roots[goal], (reading.event, said)


def an_arrow_says_how_far_it_goes(found: Analysis, roots: list[int]) -> None:
    """direct: to the chord after the run; delayed: past other chords, which a sentence about the goal mentions; held: to
    the same root again; none at rest."""
    for reading in found.readings:
        ahead = found.heading(reading.event)
        if reading.resolution == "direct":
            last = reading.event
            while last + 1 < len(roots) and roots[last + 1] == roots[reading.event]:
                last += 1
            assert ahead == (last + 1) % len(roots), (reading.event, told(reading.reason))
        elif reading.resolution == "delayed":
            assert ahead != reading.event + 1, (reading.event, told(reading.reason))
            assert "falls a" not in told(reading.reason) or " between" in told(reading.reason), (
                reading.event,
                told(reading.reason),
            )
        elif reading.resolution == "held":
            assert ahead is not None
            assert roots[ahead] == roots[reading.event], (reading.event, told(reading.reason))
        elif reading.resolution in ("none", "onward"):
            assert ahead is None
            goes_on_to = reading.rule in TELLS_NEXT and reading.function.role != "tonic"
            assert not (goes_on_to and reading.resolution == "none"), (reading.event, told(reading.reason))


def a_number_counts_down_to_something(found: Analysis, roots: list[int]) -> None:
    """0 is a chord at rest; any other number is one more than that of its goal, or the one resolution that a deceptive
    dominant promises to a degree that its key has; a chord of colour has none."""
    count = len(found.readings)
    for reading, left in zip(found.readings, found.landing, strict=True):
        if left is None:
            continue
        if left == 0:
            assert reading.function.role == "tonic" or reading.function.kind == "blues" or reading.rule in LANDED
            continue
        assert reading.function.role in ("dominant", "predominant", "passing"), (reading.event, told(reading.reason))
        if reading.resolution == "deceptive":
            assert left == 1
            assert any(o.key == reading.key and o.function.degree == reading.function.target for o in found.readings)
        elif reading.rule in SAME_DOMINANT | SLIDES:
            assert left == found.landing[(reading.event + 1) % count]
        elif (again := taken_up(found.readings, reading)) is not None:
            assert again == found.heading(reading.event)
            assert left == found.landing[again], (reading.event, told(reading.reason))
        else:
            assert reading.resolves_to is not None
            goal = found.landing[reading.resolves_to]
            if goal is None:  # it can be landed on, though it is not at rest itself
                assert found.readings[reading.resolves_to].rule in SAME_DOMINANT | SLIDES | {OVER_FIVE}
            assert left == (goal or 0) + 1, (reading.event, told(reading.reason))


def three_takes_the_place_of_one_only_where_it_rests(found: Analysis, roots: list[int]) -> None:
    """3 in place of 1 (Nettles & Graf 1997) belongs to the tonic; where it is a 2 or slides on, it sets out again."""
    for reading in found.readings:
        if reading.rule not in ("to-three", "backdoor-three", "three-onward", "backdoor-left"):
            continue
        three = found.readings[after_the_run(found, reading)]
        assert (three.function.role in ("tonic", "colour")) == (reading.rule in ("to-three", "backdoor-three")), told(
            reading.reason
        )


def tensions_lie_in_the_scale_beside_them(text: str, found: Analysis) -> None:
    """A tension is a note of the scale that stands beside it and no tone of the chord (Nettles & Graf 1997)."""
    for event, reading in zip(chart_of(text).events(), found.readings, strict=True):
        assert event.symbol is not None
        heard = heard_as(event.symbol)
        choice = scale_for(event.symbol, reading)
        chord = {heard.tone(degree).pc for degree in heard.degrees if int(degree.strip("b#")) <= 7}
        tensions = {note.pc for note in choice.tension_notes}
        assert tensions <= {note.pc for note in choice.notes}, (event.symbol.text, choice)
        assert not tensions & chord, (event.symbol.text, choice)


NOTES = {"": (0, 4, 7), "6": (0, 4, 7, 9), "maj7": (0, 4, 7, 11), "m": (0, 3, 7), "m6": (0, 3, 7, 9), "m7": (0, 3, 7, 10),
         "mmaj7": (0, 3, 7, 11), "m7b5": (0, 3, 6, 10), "7": (0, 4, 7, 10)}  # fmt: skip
MAJOR, MINORS = {0, 2, 4, 5, 7, 9, 11}, ({0, 2, 3, 5, 7, 8, 10}, {0, 2, 3, 5, 7, 8, 11}, {0, 2, 3, 5, 7, 9, 11})


def what_is_said_of_the_key_is_so(found: Analysis, roots: list[int]) -> None:
    """A chord that is told as of the key has only notes of it; one that is told from outside has another (logical)."""
    for reading in found.readings:
        said = told(reading.reason)
        root = roots[reading.event] - reading.key.tonic.pc
        notes = {(root + step) % 12 for step in NOTES.get(reading.function.quality, ())}
        scales = (MAJOR,) if reading.key.mode == "major" else MINORS
        inside = any(notes <= scale for scale in scales)
        if " belongs to " in said and "of chords" not in said and "the substitute" not in said:
            assert inside, (reading.event, said)
        if " comes from outside " in said and notes:
            assert not notes <= scales[0], (reading.event, said)


def an_arrow_is_spoken_of(found: Analysis, roots: list[int]) -> None:
    """What prepares, falls or promises has an arrow; what rests, decorates or asks for nothing has none. "Moves on to"
    names the chord that comes next, on another root or of another kind."""
    for reading in found.readings:
        said, ahead = told(reading.reason), found.heading(reading.event)
        if STILL.search(said):
            assert ahead is None, (reading.event, said, reading.resolution)
        if MOVING.search(said):
            assert ahead is not None, (reading.event, said, reading.resolution)
        moves = re.search(r"(moves|goes) on to ((?:flat |sharp )?[1-7])", said)
        if moves and not called_by_what_it_leads_to(reading):
            count, root = len(roots), roots[reading.event]
            later = [*range(reading.event + 1, count), *range(reading.event)]
            other = next((roots[at] for at in later if roots[at] != root), root)
            comes = {other} if moves[1] == "moves" else {other, roots[after_the_run(found, reading)], roots[later[0]]}
            if {*roots[reading.event :]} == {root}:
                comes.add(roots[0])  # the last chord of the form goes on to the top, whatever stands there
            key = reading.reason.args.following_key or reading.key
            assert semitones(moves[2], key) in comes, (reading.event, said)


STILL = re.compile(r"rests here|the run lands on|no dominant|asks? for no|asks for nothing|in the place of 1|without a cadence|"
                   r"its place for a while|needs no resolution|decorates")  # fmt: skip
MOVING = re.compile(r"prepares (?!flat 7, the dominant of the back)|falls a (?:fifth|semitone) to|promises (?!nothing)|the chain runs on|"
                    r"together they are the 2 and 5|as its 2|lies a semitone below")  # fmt: skip
CLAIMS = (
    what_comes_in_its_place_is_what_comes,
    a_fall_in_words_is_a_fall_of_the_roots,
    an_arrow_says_how_far_it_goes,
    a_number_counts_down_to_something,
    three_takes_the_place_of_one_only_where_it_rests,
    what_is_said_of_the_key_is_so,
    an_arrow_is_spoken_of,
)


@settings(max_examples=120, deadline=None)
@given(CHARTS)
@example("| Dm7 | G7 | Em7b5 | A7 | Dm7 | G7 | Cmaj7 |")
@example("| Cmaj7 | Fm7 | Bb7 | Em7 | A7 | Dm7 | G7 | Cmaj7 |")
@example("| Cmaj7 | Dm7 | Db7 | E7 | A7 | D7 | G7 | Cmaj7 |")
@example("| Cmaj7 | A7 | A7sus | A7 |")
@example("| Eb7 | Eb7sus | Cmaj7 | Dm7 |")
@example("| C7 | Ab7 | Fm6 | Dbmaj7 | Fmaj7 |")
@example(
    "| Ebm7b5 | Fmaj7 | G7 | F7 | Em7b5 | E7 | Bb6 | Gm7 | E7 | A7sus | Ebdim7 | B6 | Bm7b5 | Dbmaj7 | C7 | Db7 | C/G |"
)
@example("| Cmaj7 | A7 | Dm7 | G7 | Cmaj7 |")
@example("| Cmaj7 | Fmaj7 | Bm7b5 | E7 | Am7 | Dm7 | G7 | Cmaj7 |")
@example("| Cmaj7 | Dm7b5 | Db7 | C7 | Fm7 | G7 | Cmaj7 |")
@example("| Cmaj7 | Dm7 | G7sus | G7 | Cmaj7 |")
@example("| Cmaj7 | Dm7 | Em7 | A7 | Dm7 | G7 | Cmaj7 |")
@example("| Cmaj7 | Dm7 | G7 | Am7 | Dm7 | G7 | Cmaj7 |")
@example("| Cmaj7 | Ebmaj7 | Abmaj7 | Dbmaj7 | Cmaj7 |")
@example("| C6 | F6 | F#dim7 | C/G | A7 | Dm7 | G7 | C6 |")
@example("| Cmaj7 | Cmaj7 | Fm7 Bb7 | Em7 | Ebm7 Ab7 | Dm7 G7 | Cmaj7 | Cmaj7 |")
@example("| Cmaj7 | Fmaj7 | Fm6 | Em7 A7 | Dm7 G7 | Cmaj7 |")
@example("| F7 | E7 | Am7b5 | Am7 | Db7 |")
@example("| D7 | C7 | Fm6 | Ab6 | F#m7b5 | Abm7b5 | Am7b5 |")
@example("| A7 | A7 | Dbm7 | C7sus | C7 | Em7b5 | B6 | B7 | Abmaj7 | Fm6 | Fm7 | Bbm6 | A7 | Am7 | Gm7 | C#dim7 |")
@example("| Em7 | E7 | Ebmaj7 | Ebm7 | F7 | F7sus | F7 | Ebdim7 | F7 |")
@example("| Em7b5 | Fm6 | Bb7 | C/G | E7 | Em7 | Abm7 | Fm7 | Ebm7 | Bb7 | Bm7b5 | F#m7b5 | Em7b5 |")
@example("| Cmaj7 | Am7 | Dm7 | G7 | Em6 | C7 | Fmaj7 | Bbmaj7 | Cmaj7 |")
def test_what_is_said_is_so(text: str) -> None:
    """Every claim over one reading of a chart."""
    found, roots = analyse(chart_of(text)), roots_of(text)
    for claim in CLAIMS:
        claim(found, roots)
    tensions_lie_in_the_scale_beside_them(text, found)


SAID = (
    (
        "| Cm6 | Fm7 | Bb7 | Ebmaj7 | Abmaj7 | Dm7b5 | G7 | Cm6 |",
        4,
        "Flat 6 moves on to 2 half diminished in the circle of the key, by the diminished fifth.",
        3,
    ),
    (
        "| Cmaj7 | Fm7 | Bb7 | Dm7 | G7 | Cmaj7 |",
        2,
        "Flat 7 leaves the back door open and goes on to 2; 1 comes later.",
        1,
    ),
    (
        "| C6 | C#dim7 | Dm7 | D#dim7 | Em7 | A7 | Dm7 | Db7 | C6 | C6 |",
        2,
        "2 belongs to C major and moves on to sharp 2 diminished.",
        None,
    ),
    (
        "| C6 | F6 | F#dim7 | C/G | A7 | Dm7 | G7 | C6 |",
        2,
        "Sharp 4 diminished carries the bass from 4 up to 5, with the sound of 5 of 5 with a flat 9.",
        None,
    ),
    (
        "| C6 | C7 | F6 | F#dim7 | Dm7 | G7 | C6 | C6 |",
        3,
        "Sharp 4 diminished has the sound of 5 of 5 with a flat 9 and leads to 5, with 2 between.",
        2,
    ),
    ("| Cmaj7 | Bbmaj7 | Fmaj7 | Dm7 | G7 | Cmaj7 |", 1, "Flat 7 is borrowed from the Mixolydian mode.", None),
    ("| Cmaj7 | Dm7 | Dm7/G | Cmaj7 | Cmaj7 |", 2, "5, suspended, falls a fifth to 1.", 1),
    ("| Cmaj7 | Bb | F | Dm7 | G7 | Cmaj7 |", 1, "Flat 7 is borrowed from minor.", None),
)
"""Chart, event, what is said, number. The whole circle has one diminished fifth, sharp 4 diminished is D7 with a flat 9
without its root, B flat major seventh has an A natural (all three logical); the back door: common practice, no source."""


@pytest.mark.parametrize(("text", "event", "sentence", "left"), SAID)
def test_a_sentence_and_its_number(text: str, event: int, sentence: str, left: int | None) -> None:
    found = analyse(chart_of("key: C minor\n" + text if "Cm6" in text else "key: C major\n" + text))
    assert told(found.readings[event].reason) == sentence
    assert found.landing[event] == left


def test_five_that_comes_back_a_section_later_is_not_held() -> None:
    """5 before 5 of 2 is a deceptive step (Mulholland & Hojnacki 2013, appendix); only a 5 that comes back soon is held."""
    found = analyse(chart_of("key: C major\n| Cmaj7 | G7 | A7 | A7 | D7 | D7 | Dm7 | G7 | Cmaj7 | Cmaj7 |"))
    assert found.readings[1].resolution == "deceptive"
    assert told(found.readings[1].reason) == "5 promises 1, but 6, here 5 of 2, comes in its place; 1 comes later."
    soon = analyse(chart_of("key: C major\n| Cmaj7 | G7 | Dm7 | G7 | Cmaj7 | Cmaj7 |"))
    assert soon.readings[1].resolution == "held"


@pytest.mark.parametrize("claim", ["5 falls a fifth to 2.", "5 promises 1, but 6 comes in its place."])
def test_a_false_sentence_is_found_out(claim: str) -> None:
    """The words are read as they are meant: the checks above can fail."""
    named = re.search(r"(?:falls a fifth to|but) ((?:flat |sharp )?[1-7])", claim)
    assert named
    assert semitones(named[1], Key.parse("C major")) not in (0, 4)


def test_a_dominant_before_a_passing_two_five_is_named_by_its_own_goal() -> None:
    """Chromatic two-fives (common practice, no source): 6 dominant before flat 3, flat 6 is 5 of 2, which those two put off."""
    found = analyse(chart_of("key: C major\n| Cmaj7 | Em7 A7 | Ebm7 Ab7 | Dm7 | G7 | Cmaj7 | Cmaj7 |"))
    assert found.readings[2].function.spoken == "5 of 2"
    assert (
        told(found.readings[2].reason) == "5 of 2 would lead to 2; the dominant a tritone from it comes in its place."
    )


def test_flat_seven_heard_by_the_back_door_says_where_it_goes() -> None:
    """The back door answered by 3 in place of 1 (common practice, no source), where it is the second reading."""
    found = analyse(chart_of("key: C major\n| Cmaj7 | Fmaj7 Bb7 | Em7 A7 | Dm7 G7 | Cmaj7 | Cmaj7 |"))
    flat_seven = next(reading for reading in found.readings if reading.function.degree == "b7")
    said = [
        told(flat_seven.reason),
        *(told(other.reason) for other in flat_seven.alternatives if other.key == flat_seven.key),
    ]
    assert "Flat 7 opens the back door, but 3 comes and sets out again." in said
    assert not any("comes to 1" in text for text in said)
