"""A chorus of the band for a chart as it is kept: in a concert key, by style, by seed, the overrules considered."""

from __future__ import annotations

from typing import Any

from drills.band.chorus import Chorus, in_sound, play_chorus
from drills.band.comping import nearest_voicing, tones_of
from drills.band.styles import STYLES, Style, style_for
from drills.chord_scales import scales_of
from drills.lines.build import Recipe, chosen
from drills.sheets import Material
from tunes.harmony.charts.bar_count import bar_count
from tunes.harmony.chords import ChordSymbol, parse_symbol
from tunes.harmony.pitch.spelling import Key, Pitch
from tunes.interchange.melody import Melody
from tunes.models import Tune
from tunes.respelling import readable_study
from tunes.study import StudyChart

LOW_ROOT = Pitch.parse("A1").midi


def usual_length(study: StudyChart) -> Any:
    """Crotchets of most bars of a chart."""
    lengths = [bar.length for bar in chosen(study, Recipe()).bars]
    return max(set(lengths), key=lambda length: (lengths.count(length), length))


def last_bar(study: StudyChart) -> int:
    """The number as played of the last bar of one chorus."""
    return max(bar_count(study.chart).chorus, default=0)


def styles_of(study: StudyChart) -> list[Style]:
    """The styles made for the bar of a chart; the one for bars of four where none is."""
    length = usual_length(study)
    return [style for style in STYLES.values() if style.length == length] or [style_for(length)]


# Words in what a tune's page says of its feel, and the style they mean; the first that is found counts.
FEELS = (
    ("ballad", "ballad"),
    ("bossa", "bossa"),
    ("latin", "bossa"),
    ("even", "even"),
    ("straight", "even"),
    ("two", "two"),
)


def usual_style(tune: Tune, styles: list[Style]) -> str:
    """The style that fits the feel of a tune, among those made for its bar; walking four (or the only one) otherwise."""
    ids = [style.id for style in styles]
    feel = tune.feel.lower()
    return next((style for word, style in FEELS if word in feel and style in ids), "four" if "four" in ids else ids[0])


def swings(tune: Tune, study: StudyChart) -> bool:
    """Whether quavers swing in the style that fits a tune."""
    styles = styles_of(study)
    usual = usual_style(tune, styles)
    return any(one.swing for one in styles if one.id == usual)


def chorus_of(material: Material, *, style: str, seed: str, key: Key | None) -> Chorus:
    """One chorus in concert pitch. Raises `EmptyPassage` for a chart without chords."""
    return chorus_over(material.study, material.melody, style=style, seed=seed, key=key)


def chorus_over(study: StudyChart, melody: Melody | None, *, style: str, seed: str, key: Key | None) -> Chorus:
    """One chorus over a study in concert pitch; the melody is that of its chart, none where bars were changed."""
    moved = readable_study(study.transposed(key) if key and key != study.key else study)
    found = style_for(usual_length(study), style)
    kept = melody if moved.key == study.key else None
    return play_chorus(chosen(moved, Recipe()), found, scales_of(moved, kept), seed)


def sound_of(material: Material, *, style: str, seed: str, key: Key | None) -> dict[str, Any]:
    """A chorus as the page's sound needs it, with the chord that ends a performance."""
    return in_band_sound(chorus_of(material, style=style, seed=seed, key=key))


def in_band_sound(chorus: Chorus) -> dict[str, Any]:
    """A chorus as the page's sound needs it, with the chord that ends a performance."""
    home = chorus.passage.key
    return in_sound(chorus) | {"key": home.tonic.text, "ending": ending_of(home)}


def ending_of(home: Key) -> list[int]:
    """Bass and piano of the last chord: the tonic with its 6th (common practice, no source)."""
    symbol = parse_symbol(home.tonic.text + ("m6" if home.mode == "minor" else "6")).symbol
    assert isinstance(symbol, ChordSymbol)
    bass = Pitch.nearest(home.tonic, LOW_ROOT + 5).midi
    return [bass, *(pitch.midi for pitch in nearest_voicing(tones_of(symbol, None), ()))]
