"""Which scale a drill plays on each chord of a study: asked of the theory engine, the reference's melody considered."""

from __future__ import annotations

from collections.abc import Sequence
from types import MappingProxyType

from drills.lines.carried import CarriedNotes, Heard, named, with_names
from drills.lines.line import LineChord
from drills.lines.scales import ChordScale, ScaleOf
from tunes.harmony.pitch.spelling import NoteName, degree_interval
from tunes.harmony.scales.scales import ScaleChoice, scale_for
from tunes.interchange.melody import Melody
from tunes.study import StudyChart

NINTHS = ("9", "b9", "#9")


def scales_of(study: StudyChart, melody: Melody | None = None, carried: CarriedNotes = MappingProxyType({})) -> ScaleOf:
    """The scale of each chord of a study in its function; each chord's is worked out once. What is `carried` from a recording
    counts like a note of the melody."""
    kept: dict[int, ChordScale] = {}

    def scale_of(chord: LineChord) -> ChordScale:
        if chord.event not in kept:
            assert chord.symbol is not None
            told = [name for _, name in named(chord, carried)]
            played = [*heard(study, melody, chord.event), *told]
            choice = scale_for(chord.symbol, study.reading(chord.event), melody=played)
            kept[chord.event] = ChordScale(
                f"{choice.root.display} {choice.name}",
                with_names(choice.notes, told),
                _said(carried[chord.event]) if told else choice.reason,
                choice.overridden or bool(told),
                ninth_of(choice),
            )
        return kept[chord.event]

    return scale_of


def _said(told: Sequence[Heard]) -> str:
    text = "; ".join(one.words for one in told)
    return f"{text[0].upper()}{text[1:]}."


def heard(study: StudyChart, melody: Melody | None, event: int) -> list[NoteName]:
    """The melody's notes that count against a chord: on a beat or held for a beat, in the pitch of the study."""
    if melody is None:
        return []
    place = study.events[event]
    notes = melody.during(place.bar, place.onset, place.duration)
    return [note.pitch.name + study.interval for note in notes if note.start.denominator == 1 or note.duration >= 1]


def ninth_of(choice: ScaleChoice) -> NoteName:
    """The 9th that colours the chord; the scale's second note where none does."""
    degree = next((degree for degree in NINTHS if degree in choice.tensions), None)
    return choice.root + degree_interval(degree) if degree else choice.notes[1]
