"""What a teacher would not let pass: each row was once read otherwise. Common practice, no source; the charts are our own."""

from __future__ import annotations

import pytest

from tests.harmony import golden
from tunes.harmony.analysis.naming.label import semitones_of
from tunes.harmony.analysis.passes.names import _FARTHEST, _SURE, _bars_ahead
from tunes.harmony.analysis.pipeline import analyse, trace
from tunes.harmony.charts import Chart, parse_chart
from tunes.harmony.explain.sentences import told
from tunes.harmony.form.sections import name_form
from tunes.harmony.pitch.spelling import Interval
from tunes.harmony.scales.scales import scale_for

CHARTS = {path.stem: golden.split(path)[0] for path in golden.files()}
FOUR = "| Fmaj7 | % | Dm7 | G7 | Fmaj7 | % | Em7 | A7 | Dm7 | G7 | Fmaj7 | G7 |"
IN_C = "| Cmaj7 | Am7 | Dm7 | G7 | Cmaj7 | Am7 | Dm7 | G7 | Em7 | A7 | Dm7 | G7 | Cmaj7 | % | Dm7 | G7 |"


def chart_of(text: str) -> Chart:
    found = parse_chart(text).chart
    assert found is not None
    return found


@pytest.mark.parametrize(("typed", "bars", "home"), [
    ("", FOUR, "F major"),
    ("C major", FOUR, "C major"),  # begins on 4 and leads back to it: the chords leave it open, the key that was typed decides
    ("F major", FOUR, "F major"),
    ("F major", IN_C, "C major"),  # the chords speak for C from end to end
    ("C major", "| Am7 | Dm7 | Bm7b5 | E7 | Am7 | Dm7 | Bm7b5 E7 | Am6 |", "A minor"),  # the signature is right, the mode not
])  # fmt: skip
def test_the_typed_key_is_evidence(typed: str, bars: str, home: str) -> None:
    found = analyse(chart_of((f"key: {typed}\n" if typed else "") + bars))
    assert found.home.text == home
    against = bool(typed) and typed[0] != home[0] and home != "A minor"
    assert ("The key that is typed is F major; the chords speak against it." in told(found.areas[0].reason)) == against


@pytest.mark.parametrize("text", CHARTS.values(), ids=CHARTS)
def test_deceptive_only_where_the_promised_root_does_not_come(text: str) -> None:
    chart = chart_of(text)
    found, events = analyse(chart), chart.events()
    for reading in found.readings:
        symbol = events[reading.event].symbol
        if reading.resolution != "deceptive" or symbol is None or reading.function.target is None:
            continue
        later = [event.symbol.root.pc for event in [*events[reading.event + 1 :], *events] if event.symbol]
        after = next((root for root in later if root != symbol.root.pc), None)
        assert after != (reading.key.tonic.pc + semitones_of(reading.function.target)) % 12, (
            reading.event,
            told(reading.reason),
        )


@pytest.mark.parametrize(("bars", "event", "rule", "way"), [
    ("| C7 | Bb7 | C7 | F7 | C7 | Bb7 | C7 | G7 | C7 |", 1, "backdoor", "direct"),  # home as a seventh is home
    ("| Cmaj7 | Dm7 | G7 | C7 | Fmaj7 | Dm7 | G7 | Cmaj7 |", 2, "chain", "direct"),  # 1 comes and goes on
    ("| Cmaj7 | D7 | Dm7 | Db7 | Cmaj7 | D7 | Dm7 | Db7 | Cmaj7 | % |", 1, "turns-minor", "onward"),
])  # fmt: skip
def test_dominants_that_are_not_deceptive(bars: str, event: int, rule: str, way: str) -> None:
    reading = analyse(chart_of(f"key: C major\n{bars}")).readings[event]
    assert (reading.rule, reading.resolution) == (rule, way), told(reading.reason)


@pytest.mark.parametrize("text", CHARTS.values(), ids=CHARTS)
def test_the_blues_is_spoken_of_only_in_a_blues(text: str) -> None:
    *_, (_, last) = trace(chart_of(text))
    assert last.blues or not [told(one.reason) for one in last.readings if "blues" in told(one.reason)]
    if "blues" in name_form(chart_of(text)).name and last.bones.home[1] == "major":
        assert last.blues


@pytest.mark.parametrize("text", CHARTS.values(), ids=CHARTS)
def test_no_arrow_goes_further_than_is_heard(text: str) -> None:
    """Past four bars only where the grammar is sure, or where the chord itself comes again."""
    *_, (_, last) = trace(chart_of(text))
    for reading in last.readings:
        if reading.resolution == "delayed" and reading.event in last.stretch_of:
            index = last.stretch_of[reading.event]
            near = _bars_ahead(last, index) <= _FARTHEST or last.bones.sure[index] >= _SURE
            assert near or reading.rule in ("leading-delayed", "leading", "leading-turned", "related-ii"), told(
                reading.reason
            )


A, B = "| C | Am | Dm | G7 | C | Am | Dm G7 | C |", "| F | Fm | C | A7 | Dm | D7 | G7 | % |"
VARIED = "| C | C7 | F | F#dim7 | C | A7 | Dm G7 | C |"
HALF = "| C | Am | Dm | G7 | C | Fm | G7 | G7 |"


@pytest.mark.parametrize(("text", "name", "letters"), [
    (f"A:\n{A}\nA:\n{A}\nB:\n{B}\nA:\n{VARIED}", "AABA", "AABA"),
    (f"A1:\n{A}\nA2:\n{A}\nB:\n{B}\nA3:\n{VARIED}", "AABA", "AABA"),
    (f"Intro:\n| F | G7 | F | G7 |\nA:\n{A}\nA:\n{A}\nB:\n{B}\nA:\n{A}", "AABA", "AABA"),
    (f"Intro 2:\n{B}\nA:\n{A}\nB:\n{B}", "AB", "AB"),
    (f"A:\n{A}\nB:\n{A}", "AB", "AB"),  # typed apart, though the bars are the same
    (f"{A}\nX:\n{B}\n{HALF}", "AB", "AB"),
    (f"Verse 1 and more:\n{VARIED}\nOne:\n{A}\nTwo:\n{B}\nThree:\n{HALF}", "ABA", "ABA"),  # more than half of the bars shared
])  # fmt: skip
def test_forms(text: str, name: str, letters: str) -> None:
    found = name_form(chart_of("key: C major\n" + text))
    assert "".join(found.letters) == letters, found
    assert found.name == name


@pytest.mark.parametrize(("bars", "event", "role", "way", "left"), [
    ("| Cmaj7 | Am7 | Dm7 | G7 | Cmaj7 | Em7 Am7 | Dm7 G7 | Cmaj7 |", 1, "predominant", "direct", 3),  # 1 6 2 5
    ("| Cmaj7 | Am7 | Dm7 | G7 | Cmaj7 | Em7 Am7 | Dm7 G7 | Cmaj7 |", 5, "predominant", "direct", 4),  # 3 6 2 5
    ("| Cmaj7 | E7 | Am7 | Dm7 | G7 | Cmaj7 | Cmaj7 | Cmaj7 |", 2, "tonic", "onward", 0),  # 5 of 6 has led to 6: it has landed
    ("| Cmaj7 | Am7 | Cmaj7 | Em7 | Dm7 | G7 | Cmaj7 | Cmaj7 |", 1, "tonic", "none", 0),  # no circle: in the place of 1
])  # fmt: skip
def test_a_chord_in_the_circle_is_not_at_rest(bars: str, event: int, role: str, way: str, left: int) -> None:
    found = analyse(chart_of("key: C major\n" + bars))
    reading = found.readings[event]
    assert (reading.function.role, reading.resolution, found.landing[event]) == (role, way, left), told(reading.reason)


@pytest.mark.parametrize(("bars", "event", "rule", "words"), [
    ("| Cmaj7 | Abmaj7 | Cmaj7 | Abmaj7 | Dm7 | G7 | Cmaj7 | Cmaj7 |", 1, "interchange", "Flat 6 is borrowed from minor."),
    ("| C6 | C6 | Ab6 | Ab6 | C6 | Ab | Dm7 G7 | C6 |", 2, "interchange", "Flat 6 is borrowed from minor."),
    ("| Cmaj7 | Am7 | Abmaj7 | G7 | Cmaj7 | Cmaj7 |", 2, "predominant-borrowed", "Flat 6 is borrowed from minor and prepares 5"),
])  # fmt: skip
def test_flat_six_in_major_is_borrowed(bars: str, event: int, rule: str, words: str) -> None:
    """Modal interchange: Mulholland & Hojnacki, The Berklee Book of Jazz Harmony (2013), ch. 5."""
    reading = analyse(chart_of("key: C major\n" + bars)).readings[event]
    assert reading.rule == rule
    assert told(reading.reason).startswith(words)


@pytest.mark.parametrize(("bars", "name", "first", "last"), [
    ("| Cmaj7 | Em7 A7 | Dmaj7 | Ebm7 Ab7 | Dbmaj7 | Dm7 G7 | Cmaj7 | % |", "key-falling-by-semitone", 1, 10),
    ("| Cmaj7 | F#m7 B7 | Emaj7 | Em7 A7 | Dmaj7 | Dm7 G7 | Cmaj7 | % |", "key-falling-by-tone", 1, 10),
    ("| Cmaj7 | Cmaj7 | Am7 | Gm7 | Fm7 | Bb7 | Dm7 G7 | Cmaj7 |", "planing", 2, 4),
    ("| Cmaj7 | Fm7 Bb7 | Ebmaj7 | Abm7 Db7 | Gbmaj7 | Bm7 E7 | Amaj7 | Dm7 G7 | Cmaj7 | % |", "minor-third-cycle", 0, 12),
    ("| Cmaj7 | Dm7 G7 | Fm7 Bb7 | Abm7 Db7 | Cmaj7 | Dm7 G7 | Cmaj7 |", "two-fives-rising-by-minor-third", 1, 6),
    ("| Cmaj7 | Dm7 G7 | Bm7 E7 | Abm7 Db7 | Cmaj7 | Dm7 G7 | Cmaj7 |", "two-fives-falling-by-minor-third", 1, 6),
    ("| Cmaj7 | A7 | C7 | Eb7 | Dm7 | G7 | Cmaj7 | % |", "dominants-by-minor-thirds-up", 1, 3),
    ("| Cmaj7 | F7 | F#7 | G7 | Cmaj7 | Dm7 | G7 | Cmaj7 |", "dominants-rising-by-semitones", 1, 3),
    ("| Cmaj7 | Bb7 | C7 | D7 | G7 | Dm7 | G7 | Cmaj7 |", "dominants-rising-by-tones", 1, 3),
    ("| C | Ab | Bb | C | F | G | C | C |", "triads-rising-by-tones", 1, 3),
    ("| Cmaj7 | Am7 | Abmaj7 | Bbmaj7 | Cmaj7 | Dm7 | G7 | Cmaj7 |", "flat-6-flat-7-1", 2, 4),
])  # fmt: skip
def test_progressions_that_leave_the_key_are_named(bars: str, name: str, first: int, last: int) -> None:
    found = analyse(chart_of("key: C major\n" + bars))
    events = [reading.event for reading in found.readings if name in reading.patterns]
    assert (events[0], events[-1]) == (first, last), events


def test_sections_in_another_key_are_areas() -> None:
    """A bridge in the relative major, and eight bars on one minor chord."""
    minor = "| Am7 | Dm7 | Bm7b5 | E7 | Am7 | Dm7 | Bm7b5 E7 | Am6 |"
    bridge = "| Dm7 | G7 | Cmaj7 | Cmaj7 | Dm7 | G7 | Cmaj7 | Bm7b5 E7 |"
    areas = analyse(chart_of(f"key: A minor\nA:\n{minor}\nB:\n{bridge}\nC:\n{minor}")).areas
    assert [area.key.text for area in areas] == ["A minor", "C major", "A minor"]
    modal = "| Ebm7 | % | % | % | Ebm7 | % | % | % |"
    areas = analyse(
        chart_of(f"key: D minor\nA:\n{modal.replace('Eb', 'D')}\nB:\n{modal}\nA:\n{modal.replace('Eb', 'D')}")
    ).areas
    assert [area.key.text for area in areas] == ["D minor", "Eb minor", "D minor"]
    assert told(areas[1].reason) == "The music stays on 1 of Eb minor for a section."


@pytest.mark.parametrize("text", CHARTS.values(), ids=CHARTS)
def test_one_goal_is_written_one_way(text: str) -> None:
    """A 2 and its dominant name their goal alike: no ii/vi before V/VI."""
    readings = analyse(chart_of(text)).readings
    for reading in readings:
        goal = reading.resolves_to
        if reading.function.of != "2" or goal is None or readings[goal].key != reading.key:
            continue
        ahead, own = readings[goal].function, reading.function
        if ahead.of in ("5", "sub5") and ahead.target == own.target:
            assert ahead.target_minor == own.target_minor, (reading.event, own.numeral, ahead.numeral)


def test_a_dominant_is_no_substitute_past_another_dominant() -> None:
    """The last 2 5 of the key before a cadence to another: it belongs to home (common practice, no source)."""
    found = analyse(chart_of("key: C major\n|: Cmaj7 | Am7 | Dm7 | G7 :|x3\n| Abm7 | Db7 | Gbmaj7 | % |"))
    assert [(area.key.text, area.first) for area in found.areas] == [("C major", 0), ("Gb major", 12)]


SUS_A = "| Dm7 | G7sus | Cmaj7 | % | Dm7 | G7sus G7 | Cmaj7 | % |"


@pytest.mark.parametrize(("text", "event", "rule", "way"), [
    # a suspended chord that is held, moves in parallel or is all there is, is a colour; one that resolves is a dominant
    ("key: G major\n" + "| Gsus |" * 8 + "| Csus |" * 8, 0, "suspended-home", "none"),
    ("key: G major\n" + "| Gsus |" * 8 + "| Csus |" * 8, 8, "suspended-colour", "none"),
    ("key: D major\n| D7sus | % | F7sus | % | E7sus | Eb7sus | D7sus | % |", 2, "suspended-colour", "none"),
    ("key: C major\n| Cmaj7 | A7sus | G7sus | F7sus | Cmaj7 | Dm7 | G7 | Cmaj7 |", 2, "suspended-colour", "none"),
    ("key: C major\n" + SUS_A, 1, "dominant", "direct"),
    ("key: C major\n" + SUS_A, 5, "suspended", "held"),
    ("key: C major\n| Cmaj7 | D7sus | G7sus | Cmaj7 | Dm7 | G7 | Cmaj7 | % |", 1, "applied", "direct"),
    ("key: C major\n| C7sus | F7sus | C7sus | % | F7sus | % | C7sus | % | G7sus | F7sus | C7sus | % |", 0, "suspended-home", "none"),
    # a 2 5 sets out, whatever degree it stands on; a seventh after 1 itself leads to 4, also over the double bar
    ("key: C major\n| Fmaj7 | Dm7 G7 | Cmaj7 | Em7 A7 | Dm7 | G7 | Cmaj7 | Gm7 C7 |", 10, "applied", "direct"),
    ("key: C major\n| Cmaj7 | C7 | Fmaj7 | Fm6 | Cmaj7 | Dm7 G7 | Cmaj7 | % | Dm7 | G7 | Cmaj7 C7 | Fmaj7 |", 12, "applied", "direct"),
    ("key: C major\n| C7 | % | C7 | % | F7 | % | C7 | % | Cm7 | F7 | Dm7 G7 | C7 |", 9, "unresolved", "onward"),
    ("key: C major\n| Dm7 | G7 | Cmaj7 | % | Cm7 | F7 | Dm7b5 | G7 | Dm7 | G7 | Cm7 | F7 |", 4, "related-ii", "direct"),
    ("key: C major\n| Dm7 | G7 | Cmaj7 | % | Cm7 | F7 | Dm7b5 | G7 | Dm7 | G7 | Cmaj7 | % |", 5, "unresolved", "onward"),
    ("key: C major\n| C7 F7 | C7 F7 | Cmaj7 | A7 | Dm7 | G7 | Cmaj7 | G7 |", 0, "rest", "none"),
    # the back door to 3, whatever 3 goes on to; with its 2 it is one of a chain of 2 5s
    ("key: C major\n| Cmaj7 C7 | Fmaj7 Bb7 | Em7 A7 | Dm7 G7 | Cmaj7 | Dm7 G7 | Cmaj7 | % |", 3, "backdoor-left", "onward"),
    ("key: C major\n| Cmaj7 | Fm7 Bb7 | Em7 A7 | Dm7 G7 | Cmaj7 | Dm7 G7 | Cmaj7 | % |", 2, "tritone", "delayed"),
    ("key: C major\n| Cmaj7 G7 | C7 | F7 Bb7 | Cmaj7 | Dm7 G7 | Cmaj7 | Dm7 G7 | Cmaj7 |", 3, "to-flat-seven", "direct"),
    # 4 to which its dominant has led is a landing, whatever run begins there
    ("key: C major\n| Cmaj7 | Gm7 C7 | Fmaj7 | % | D7 | Dm7 | G7 | Cmaj7 |", 3, "landed-subdominant", "onward"),
    ("key: C major\n| Cmaj7 | Gm7 C7 | Fmaj7 | Bm7b5 E7 | Am7 | Dm7 | G7 | Cmaj7 |", 3, "landed-subdominant", "onward"),
    ("key: C major\n| Cmaj7 | C6 | Fmaj7 | Bm7b5 E7 | Am7 | Dm7 | G7 | Cmaj7 |", 2, "narrow-fifth", "direct"),
    # a 2 5 that slips is left open, no substitute of something far off
    ("key: C minor\n| Cm6 | % | Ebm7 | Ab7 | Em7 | A7 | Am7 | D7 | G7 | % | Cm6 | % |", 3, "unresolved", "onward"),
])  # fmt: skip
def test_what_asks_for_something_and_what_does_not(text: str, event: int, rule: str, way: str) -> None:
    reading = analyse(chart_of(text)).readings[event]
    assert (reading.rule, reading.resolution) == (rule, way), told(reading.reason)


def test_a_diminished_chord_on_five_does_not_disappoint_it() -> None:
    found = analyse(chart_of("key: C major\n| C6 | Dm7 | G7sus Gdim7 | G7 | Am7 | Dm7 G7 | C6 | C6 |"))
    assert (found.readings[2].resolution, found.heading(2)) == ("held", 4)
    assert found.readings[4].resolution == "deceptive"


def test_a_chord_is_taken_up_before_its_goal() -> None:
    """Not at a later chorus line where the very same symbol stands again: the arrow and the sentence agree."""
    found = analyse(chart_of("key: C major\n| C6 | A7 | Dm6 | Am7 | Dm7 | G7 | C6 | % | Dm6 | G7 | C6 | % |"))
    assert (found.readings[2].resolution, found.heading(2)) == ("held", 4)


@pytest.mark.parametrize(("bars", "event", "said"), [
    # what a sentence moves on to is where the music goes; 4 that falls to 3 is a subdominant (Nettles & Graf 1997)
    ("| Cmaj7 | Fmaj7 | Em7 | Am7 | Dm7 | G7 | Cmaj7 | Cmaj7 |", 1, ("subdominant", "onward", "4 steps down to 3.")),
    # 3 to which a dominant has led stands in the place of 1 before it slides on
    ("| Cmaj7 | F7 | Em7 | Ebm7 | Dm7 | G7 | Cmaj7 | Cmaj7 |", 2,
     ("tonic", "onward", "3 starts the slide 3, flat 3, 2, down to the chord before the dominant.")),
    # 5 that goes back to its own 2 is prolonged, not deceived
    ("| Cmaj7 | Dm7 | G7 | Dm7 | Am7 | Dm7 | G7 | Cmaj7 |", 2,
     ("dominant", "held", "5 goes on to 2 first and is taken up again before 1.")),
    # nothing is kept waiting past 1 at rest, or past the chord that a diminished one climbs to
    ("| Cmaj7 | Em7 | G7 | Cmaj7 | Em7 | A7 | Dm7 | G7 |", 1, ("tonic", "none", "3 shares its sound with 1 and takes its place for a while.")),
    ("| Cmaj7 | Dm7 | D#dim7 | Em7 | A7 | Dm7 | G7 | Cmaj7 |", 1,
     ("predominant", "onward", "2 belongs to C major and moves on to sharp 2 diminished.")),
    # 5 that a dominant has led to is a half cadence
    ("| Cmaj7 | D7 | G6 | G6 | Dm7 | G7 | Cmaj7 | Cmaj7 |", 2, ("dominant", "none", "A dominant has just led here: the run lands on 5.")),
    # 1 minor at the beginning is at home, in a tune in major too
    ("| Cm | Cm(maj7) | Bbm6 Eb7 | Abmaj7 | Dm7 | G7 | Cmaj7 | Cmaj7 |", 0, ("tonic", "none", "1 minor is home: C minor rests here.")),
    # a suspended chord belongs to the key that has its notes
    ("| Cmaj7 | Asus4 | % | % | % | % | Fmaj7 | Cmaj7 |", 1,
     ("colour", "none", "6 sus is suspended for its colour and promises nothing.")),
])  # fmt: skip
def test_what_a_chord_is_on_its_way_agrees_with_what_is_said(bars: str, event: int, said: tuple[str, str, str]) -> None:
    reading = analyse(chart_of("key: C major\n" + bars)).readings[event]
    assert (reading.function.role, reading.resolution, told(reading.reason)) == said


HALF_CADENCE = "key: D minor\n| Dm7 | Em7b5 A7 | Dm7 | % | Ebm7 Ab7 | Dbmaj7 | Bbmaj7 | A7 |"
IN_DB = "| Dbmaj7 | Bbm7 | Ebm7 | Ab7 | Dbmaj7 | Bbm7 | Ebm7 Ab7 | Db6 |"
IN_A, TO_C = "| Cmaj7 | Am7 | Dm7 | G7 | Cmaj7 | Am7 | Dm7 G7 | C6 |", "| Cmaj7 | Dm7 G7 | Cmaj7 | Dm7 G7 |"


@pytest.mark.parametrize(("text", "keys"), [
    # a minor cadence confirmed by its 5, over four bars, is a key; said once it is a 2 5 of 3
    (f"key: C major\n{IN_A}\n| F#m7b5 B7 | Em7 | B7 | Em7 | Dm7 | G7 | Cmaj7 | G7 |", ["C major", "E minor", "C major"]),
    (f"key: C major\n{IN_A}\n| F#m7b5 B7 | Em7 | Am7 | D7 | Dm7 | G7 | Cmaj7 | G7 |", ["C major"]),
    # a minor triad with its moving voice, held, to which its 5 has led; the 2 of home held is a 2
    (f"key: C major\n{IN_A}\n| E7 | Am Am(maj7) | Am7 Am6 | Am | D7 | Dm7 G7 | Cmaj7 | G7 |", ["C major", "A minor", "C major"]),
    (f"key: C major\n{IN_A}\n| A7 | Dm Dm(maj7) | Dm7 Dm6 | Dm | G7 | Dm7 G7 | Cmaj7 | G7 |", ["C major"]),
    # 1 6 2 5 goes round in its own key, though the 5 turns to a new 2
    (f"key: C major\n{IN_A}\n| G6 Em7 | Am7 D7 | Dm7 | G7 |\n{TO_C}", ["C major", "G major", "C major"]),
    # keys that fall by tones begin with the first of them
    (f"key: C major\n{IN_A}\n| Emaj7 | % | Em7 | A7 | Dmaj7 | % | Dm7 | G7 |\n{IN_A}", ["C major", "E major", "D major", "C major"]),
    # the other mode among its own chords, and held; one chord of it is borrowed
    (f"key: C major\n{IN_A}\n| Gm7 Ebmaj7 | Abmaj7 | Fm | Cm | Fm7 | Abmaj7 Fm6 | Ebmaj7 | G7 |\n{IN_A}", ["C major", "C minor", "C major"]),
    (f"key: C major\n{IN_A}\n| Fmaj7 | Fm6 | Cmaj7 | Cm7 | Dm7 | Fm6 | Cmaj7 | G7 |", ["C major"]),
    # minor 4 with its sixth falls back to 1: a cadence too, said once it does not carry a key
    (f"key: Db major\n{IN_DB}\n| C7 | Fmaj7 | Bm7b5 Bbm6 | F6 Ab7 | Bm7b5 Bbm6 | F6 Ab7 | Dbmaj7 | Ebm7 Ab7 |",
     ["Db major", "F major", "Db major"]),
    (f"key: C major\n{IN_A}\n| Am7 | Bbm6 Fmaj7 | Dm7 | G7 |\n{TO_C}", ["C major"]),
    # a half cadence of home at the double bar is home
    (f"{HALF_CADENCE}\n| Gm7 | C7 | Fmaj7 | Bbmaj7 | Em7b5 | A7 | Dm6 | % |", ["D minor", "Db major", "D minor", "F major", "D minor"]),
    # a bridge that opens on a chord and comes back to it by its own 5
    (f"key: C major\n{IN_A}\n| Fmaj7 | Bbmaj7 | Gm7 | C7 | Fmaj7 | Bm7b5 E7 | Am7 | Dm7 G7 |\n{IN_A}", ["C major", "F major", "C major"]),
    (f"key: C major\n{IN_A}\n| Am7 | Fmaj7 | Bm7b5 | E7 | Am6 | D7 | Dm7 | G7 |\n{IN_A}", ["C major", "A minor", "C major"]),
    (f"key: C major\n{IN_A}\n| Fmaj7 | Fmaj7 | Cmaj7 | Cmaj7 | Fmaj7 | Em7 | Dm7 | G7 |\n{IN_A}", ["C major"]),
    # a dominant left open belongs where it points
    ("key: F major\n| Fmaj7 | Gm7 C7 | Fmaj7 | F#m7 B7 | Emaj7 | F7 | Bb7 | Bdim7 | Fmaj7/C | Gm7 C7 | F6 | % |",
     ["F major", "E major", "F major"]),
])  # fmt: skip
def test_where_keys_begin_and_end(text: str, keys: list[str]) -> None:
    """Choi (2011) for the segmentation; what insists on a key is common practice, no source."""
    assert [area.key.text for area in analyse(chart_of(text)).areas] == keys


def test_an_area_without_a_cadence_does_not_claim_one() -> None:
    found = analyse(
        chart_of(f"key: C major\n{IN_A}\n| Gm7 Ebmaj7 | Abmaj7 | Fm | Cm | Fm7 | Abmaj7 Fm6 | Ebmaj7 | G7 |\n{IN_A}")
    )
    assert "without a cadence" in told(found.areas[1].reason)


def test_the_first_chord_of_another_key_is_called_as_it_is_there() -> None:
    """The A part stops on 5, the B part begins in another key (common practice, no source)."""
    chart = "key: B minor\n[A]\n| Bm7 | C#m7b5 F#7 | Bm7 | F#7 |\n[B]\n| Em7 A7 | Dmaj7 | Em7 A7 | Dmaj7 |"
    reasons = [reading.reason for reading in analyse(chart_of(chart)).readings]
    assert "but 2 in D major comes in its place" in told(reasons[4])
    assert "but 2 in E major comes in its place" in told(reasons[4].transposed(Interval.parse("M2")))


@pytest.mark.parametrize(("five", "then", "says", "scale"), [
    ("Gmaj7", "G7", "turns into a dominant seventh", "ionian"), ("G6", "G7", "turns into a dominant seventh", "mixolydian"),
    ("Gmaj7", "Em7", "comes from outside C major", "ionian"), ("G6", "Em7", "belongs to C major", "mixolydian"),
])  # fmt: skip
def test_five_major_seven_is_no_chord_of_the_key(five: str, then: str, says: str, scale: str) -> None:
    """Its seventh is the raised 4 (a logical identity); it sounds like a tonic (common practice, no source)."""
    chart = chart_of(f"key: C major\n| Cmaj7 | Dm7 | {five} | {then} | Cmaj7 | Dm7 G7 | Cmaj7 | % |")
    reading, symbol = analyse(chart).readings[2], chart.events()[2].symbol
    assert symbol is not None
    assert (says in told(reading.reason), scale_for(symbol, reading).scale) == (True, scale)


@pytest.mark.parametrize(("chart", "event", "said"), [
    ("key: C major\n| Cmaj7 | G7 | Em | Am | Fmaj7 | Bbmaj7 | Cmaj7 | Cmaj7 |", 4, "4 moves down a fifth, out of C major, to flat 7."),
    ("key: C minor\n| Cm7 | Bbmaj7 | Abmaj7 | Cm7 | Dm7b5 | G7 | Cm7 | Cm7 |", 1, "Flat 7 is borrowed from the Dorian mode."),
    ("key: C major\n| Cmaj7 | Em7 | Am7 | F#m7 | F#m7b5 | Fmaj7 | G7 | Cmaj7 |", 3, "Sharp 4 minor stays on its root and turns into sharp 4 half diminished."),
    ("key: C major\n| C6 | Dm7 G7 | C6 | F#dim7 | Gm7 C7 | F6 | Dm7 G7 | C6 | Dm7 G7 | C6 |", 4, "Sharp 4 diminished lies a semitone below 5 minor"),
])  # fmt: skip
def test_nothing_is_said_of_the_key_that_does_not_hold(chart: str, event: int, said: str) -> None:
    """Notes of keys and modes are logical identities; that a leading diminished chord is named by its goal: common practice, no source."""
    assert told(analyse(chart_of(chart)).readings[event].reason).startswith(said)


TO_AND_FRO = "| Cmaj7 | Am7 | Abmaj7 | % | Cmaj7 | % | Fmaj7 | Cmaj7 | Fmaj7 | % | Ebmaj7 | % | G7 | % | Cmaj7 | % |"


@pytest.mark.parametrize(("chart", "event", "numeral", "rule", "way", "scale"), [
    # 1 and 4 that set out anew do not go round, and move in no parallel
    (f"key: C major\n{TO_AND_FRO}", 6, "IVmaj7", "plagal", "none", "lydian"),
    (f"key: C major\n{TO_AND_FRO}", 8, "IVmaj7", "diatonic", "onward", "lydian"),
    # a neighbour below 5 of 5, which goes where it goes the second time
    ("key: C major\n| Cmaj7 | Am7 | D7 Db7 | D7 | Dm7 | G7 | Cmaj7 | % |", 2, "V7/V", "taken-up", "held", "mixolydian"),
    ("key: C major\n| Cmaj7 | Am7 | D7 Db7 | D7 | Dm7 | G7 | Cmaj7 | % |", 3, "bII7", "approach", "direct", "lydian-b7"),
    # a chain that begins on 4, with a neighbour above
    ("key: C major\n| Cmaj7 | C7 | F7 Gb7 | F7 | Bb7 | A7 | Dm7 G7 | Cmaj7 |", 2, "V7/bVII", "taken-up", "held", "mixolydian"),
    # the half diminished 2 is heard through the substitute of 5 of 5, and under a suspension
    ("key: C major\n| Cmaj7 | % | Dm7b5 Ab7 | G7 | Cmaj7 | % | Dm7 | G7 |", 4, "V7", "dominant", "direct", "mixolydian-b9b13"),
    ("key: C major\n| Cmaj7 | % | Dm7b5 | Gsus4 | Cmaj7 | % | Dm7 | G7 |", 3, "Vsus", "dominant", "direct", "mixolydian-b9b13"),
    # 6 minor 6 has a note from outside the key: with its dominant it is 2 of 5
    ("key: G major\n| G6 | B7 | Em6 | A7 | D7 | % | G6 | % |", 2, "ii6/V", "related-ii", "direct", "dorian"),
    ("key: C minor\n| Cm6 | Fm7 | Am7b5 | D7 | G7alt | % | Cm6 | % |", 2, "iiø7/V", "related-ii", "direct", "locrian-9"),
    # a borrowed chord before a dominant that is not 5 prepares nothing
    ("key: C major\n| Cmaj7 | Bbmaj7 | E7 | Am7 | Fmaj7 | Dm7 | G7 | C6 |", 1, "bVIImaj7", "interchange", "onward", "lydian"),
])  # fmt: skip
def test_chords_as_a_teacher_calls_them(chart: str, event: int, numeral: str, rule: str, way: str, scale: str) -> None:
    """Common practice, no single source; that a minor sixth holds a dominant ninth without its root is a logical identity."""
    made = chart_of(chart)
    reading, symbol = analyse(made).readings[event], made.events()[event].symbol
    assert symbol is not None
    said = reading.function.numeral, str(reading.rule), reading.resolution, scale_for(symbol, reading).scale
    assert said == (numeral, rule, way, scale), told(reading.reason)
    assert "planing" not in reading.patterns
    assert "deceptive" not in reading.patterns
