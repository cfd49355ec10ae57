"""Which scale a drill plays on each chord of a study, asked of the theory engine."""
from __future__ import annotations

from drills.lines.line import LineChord
from drills.lines.scales import ChordScale, ScaleOf
from tunes.harmony.spelling import Interval, Key, NoteName
from tunes.harmony.symbols import ChordSymbol
from tunes.harmony.vocabulary import degree_parts
from tunes.study import StudyChart

MAJOR = (0, 2, 4, 5, 7, 9, 11)
MINOR = (0, 2, 3, 5, 7, 8, 10)


def scales_of(study: StudyChart) -> ScaleOf:
    """The scale of each chord of a study, in its key area; each chord's is worked out once."""
    kept: dict[int, ChordScale] = {}

    def scale_of(chord: LineChord) -> ChordScale:
        if chord.event not in kept:
            assert chord.symbol is not None
            kept[chord.event] = key_scale(chord.symbol, study.reading(chord.event).key)
        return kept[chord.event]

    return scale_of


def key_scale(symbol: ChordSymbol, key: Key) -> ChordScale:
    """The chord's own tones, and the notes of the key between them.

    The rule of secondary dominants (Nettles, *Harmony 3*, 2007: chord tones and tensions of the home key), used for
    every chord.
    """
    by_letter: dict[int, NoteName] = {}
    for step, semitones in enumerate(MAJOR if key.mode == "major" else MINOR):
        name = key.tonic + Interval(step, semitones)
        by_letter[name.step] = name
    for degree, tone in zip(symbol.degrees, symbol.tones, strict=True):
        if degree_parts(degree)[0] in (1, 2, 3, 4, 5, 6, 7, 9, 11, 13):
            by_letter[tone.step] = tone
    root = symbol.root.step
    notes = tuple(by_letter[(root + step) % 7] for step in range(7))
    return ChordScale(f"{key.display} with the tones of {symbol.display}", notes, "Chord tones and the notes of the key.")
