"""Chords, keys and functions as text."""

from __future__ import annotations

import pytest

from tunes.engine import pattern_words
from tunes.harmony.analysis.patterns.patterns import WORDS
from tunes.harmony.chords import parse_symbol
from tunes.harmony.pitch.spelling import Key
from tunes.harmony.progressions.table import BUILT_IN
from tunes.harmony.readings.reason import Args, Reason
from tunes.harmony.readings.rule_ids import RuleId
from tunes.templatetags.tunes import chord, key_display, progressions, signs, strength, told


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("bVII7", "♭VII7"),
        ("#iv°7", "♯iv°7"),
        ("subV7/V", "subV7/V"),
        ("subV7/bVI", "subV7/♭VI"),
        ("V7/ii", "V7/ii"),
        ("bbVII", "♭♭VII"),
        ("b3", "♭3"),
        ("N.C.", "N.C."),
        ("iiø7", "iiø7"),
        ("bVIImaj7", "♭VIImaj7"),
        ("V7#5", "V7♯5"),
    ],
)
def test_numerals_have_real_signs(text: str, shown: str) -> None:
    assert signs(text) == shown


def test_a_chord_is_text_with_a_spoken_name() -> None:
    html = chord(parse_symbol("Bbm7b5/Ab").symbol)
    assert "♭" in html
    assert "B flat" in html
    assert "aria-hidden" in html
    assert "no chord" in chord(None)


@pytest.mark.parametrize(("value", "shown"), [("Eb major", "E♭ major"), ("", ""), ("nonsense", "nonsense")])
def test_keys(value: str, shown: str) -> None:
    assert key_display(value) == shown


def test_keys_in_a_sentence() -> None:
    """Keys have real signs; what a person typed stays as it was typed."""
    heard = Reason(rule=RuleId.BY_HAND, args=Args(by="Ines", words="Bb major, as sung,."))
    assert told(Reason(rule=RuleId.AREA_RETURN, args=Args(key=Key.parse("Eb")))) == "Back in E♭ major."
    assert told(heard) == "Ines hears it so: Bb major, as sung,."


def test_margins_are_words() -> None:
    assert [strength(margin) for margin in (0, 1, 3, 9)] == ["as good", "nearly as good", "weaker", "much weaker"]


def test_every_progression_has_words() -> None:
    words = [pattern_words(pattern) for pattern in (*BUILT_IN, *WORDS)]
    assert not set(words) & {*BUILT_IN, *WORDS}
    assert progressions(("two-five", "blues-one-four", "two-five")) == "2 5; 1 and 4, both at home"
