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
