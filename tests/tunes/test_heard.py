"""What an instructor types to overrule a label."""

from __future__ import annotations

import pytest

from tunes.harmony.pitch.spelling import Key
from tunes.heard import NotThisChord, read_function
from tunes.study import study_of_text

STUDY = study_of_text("key: C major\n| A7 | Db7 | Bb7 | F#dim7 | Dm7 | Cmaj7 | N.C. |")


@pytest.mark.parametrize(
    ("event", "text", "key", "numeral", "role"),
    [
        (0, "5 of 2", "C", "V7/ii", "dominant"),
        (0, "V7/ii", "C", "V7/ii", "dominant"),
        (0, "D: 5", "D", "V7", "dominant"),
        (1, "sub 5", "C", "subV7", "dominant"),
        (1, "bII7", "C", "subV7", "dominant"),  # the substitute of 5 by its root
        (2, "b7", "C", "bVII7", "colour"),
        (3, "#4 dim", "C", "#iv°7", "colour"),
        (4, "2", "C", "ii7", "predominant"),
        (5, "1", "C", "Imaj7", "tonic"),
        (5, "G: 4", "G", "IVmaj7", "predominant"),
        (6, "N.C.", "C", "N.C.", "none"),
    ],
)
def test_any_form_becomes_the_function_of_that_chord(event: int, text: str, key: str, numeral: str, role: str) -> None:
    symbol = STUDY.events[event].symbol
    found, function = read_function(text, Key.parse("C"), symbol, STUDY.computed.readings[event])
    assert (found, function.numeral) == (Key.parse(key), numeral)
    assert function.role == role or function in [STUDY.computed.readings[event].function]


@pytest.mark.parametrize(
    ("event", "text", "says"),
    [
        (0, "5", "stands on"),  # V of C is G, this is A7
        (0, "nonsense", "."),
        (0, "", "Write what"),
        (0, "N.C.", "A chord sounds"),
        (6, "5 of 2", "N.C."),
    ],
)
def test_what_names_another_chord_is_refused_with_the_reason(event: int, text: str, says: str) -> None:
    with pytest.raises(NotThisChord, match=says):
        read_function(text, Key.parse("C"), STUDY.events[event].symbol, STUDY.computed.readings[event])
