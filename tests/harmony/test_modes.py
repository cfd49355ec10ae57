"""Modal passages, what is said of them and the scales in them, in all twelve keys.

Sources: the vamps are common practice (Dorian i–IV7, Phrygian i–bII, Lydian I–II, Mixolydian I7–bVII); a mode is heard by its
centre and its characteristic degree, with no dominant that leads home, Miller, *Modal Jazz Composition & Harmony* (1996). The
notes of the modes are a logical identity: rotations of the major scale. All charts are made up here.
"""

from __future__ import annotations

import pytest

from tests.harmony.test_analysis import TONICS, chart_of, in_key, major, minor
from tunes.engine import pattern_words
from tunes.harmony.analysis.pipeline import analyse
from tunes.harmony.explain.sentences import told
from tunes.harmony.scales.scales import scale_for

END = "| Dm7 | G7 | Cmaj7 | Cmaj7 |"
VAMPS = {
    "dorian": (minor("| Cm7 | F7 | Cm7 | F7 | Cm7 | F7 | Cm7 | F7 |"), ("dorian", "mixolydian")),
    "phrygian": (minor("| Cm7 | Dbmaj7 | Cm7 | Dbmaj7 | Cm7 | Dbmaj7 | Cm7 | Dbmaj7 |"), ("phrygian", "lydian")),
    "lydian": (major("| Cmaj7 | D | Cmaj7 | D | Cmaj7 | D | Cmaj7 | D |"), ("lydian", "mixolydian")),
    "mixolydian": (major("| C7 | Bb | C7 | Bb | C7 | Bb | C7 | Bb |"), ("mixolydian", "lydian")),
}


@pytest.mark.parametrize("tonic", TONICS)
@pytest.mark.parametrize("mode", VAMPS)
def test_a_vamp_has_its_mode(mode: str, tonic: str) -> None:
    found = in_key(VAMPS[mode][0], tonic)
    assert {tag for reading in found.readings for tag in reading.patterns if tag.startswith("mode-")} == {
        f"mode-{mode}"
    }
    name = f"{found.home.tonic.text} {mode.capitalize()}"
    assert told(found.areas[0].reason).endswith(f"All of it is in {name}.")
    assert all(name in told(reading.reason) for reading in found.readings)


@pytest.mark.parametrize("mode", VAMPS)
def test_the_scales_of_a_passage_have_the_notes_of_its_mode(mode: str) -> None:
    text, scales = VAMPS[mode]
    chart = chart_of(text)
    readings = analyse(chart).readings
    chosen = [scale_for(event.symbol, reading) for event, reading in zip(chart.events(), readings, strict=True)]
    assert tuple(one.scale for one in chosen[:2]) == scales
    assert len({frozenset(note.pc for note in one.notes) for one in chosen}) == 1


@pytest.mark.parametrize("tonic", TONICS)
def test_a_passage_on_another_centre_over_a_pedal(tonic: str) -> None:
    found = in_key(major("| Cmaj7 " + END + "| Abmaj7 | Bb/Ab | Abmaj7 | Bb/Ab " + END), tonic)
    assert found.readings[6].patterns[-1] == "mode-lydian-b6"
    assert found.readings[6].rule == "mode"
    assert "Lydian" in told(found.readings[5].reason)
    assert pattern_words("mode-lydian-b6") == "Lydian on flat 6"


@pytest.mark.parametrize(
    "text",
    [
        major("| Dm7 | G7 | Dm7 | G7 | Cmaj7 | Cmaj7 | Dm7 G7 | Cmaj7 |"),  # 2 5 2 5 1 leads home
        major("| Cmaj7 | Dm7 | Em7 | Dm7 | Cmaj7 | Dm7 G7 | Cmaj7 | Cmaj7 |"),  # 2 steps between 1 and 3
        major(
            "| Cmaj7 | Bbmaj7 | Cmaj7 | Bbmaj7 | Cmaj7 | Dm7 G7 | Cmaj7 | Cmaj7 |"
        ),  # 1 with a major 7th is not Mixolydian
        major("| C6 | F6 | C6 | F6 | Dm7 | G7 | C6 | C6 |"),  # nothing that major does not have
    ],
)
def test_what_is_no_mode(text: str) -> None:
    found = analyse(chart_of(text))
    assert not any(tag.startswith("mode-") for reading in found.readings for tag in reading.patterns)
