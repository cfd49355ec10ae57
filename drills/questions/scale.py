"""Kind "scale": name one plain scale for each chord in its function, and the notes in which it differs from the key.

The scale is chosen by `tunes.harmony.scales.scales`; another that players use in that place is stored beside it and is as
right.  A note of the melody that contradicts the usual scale overrules it, with the reason.  A chord with the same
function and the same scale in the same key is asked once unless every section is wanted.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from drills.questions.base import KeyJson, Options, Question
from drills.questions.places import places
from tunes.harmony.analysis.pipeline import Reading
from tunes.harmony.charts.bars import Event
from tunes.harmony.charts.model import Chart
from tunes.harmony.pitch.spelling import Key, NoteName
from tunes.harmony.scales.scales import scale_for, scale_notes
from tunes.harmony.scales.tables import BLUES_SCALE, SCALES

KIND = "scale"
_MAJOR_STEPS = (0, 2, 4, 5, 7, 9, 11)


def build_scale(
    study: Any, options: Options, seed: int, heard: Callable[[int], Sequence[NoteName]] | None = None
) -> tuple[Question, ...]:
    """One question for every chord and function that differ. `heard` gives the melody's notes against an event."""
    chart: Chart = study.chart
    readings, where = study.analysis.readings, places(chart)
    first: dict[object, int] = {}
    also: dict[int, list[int]] = {}
    made: list[tuple[Event, KeyJson]] = []
    for event in chart.events():
        if event.symbol is None or (options.bars and where[event.index].bar not in options.bars):
            continue
        reading = readings[event.index]
        key = scale_key(event, reading, study.analysis.home, heard(event.index) if heard else ())
        mark = (event.symbol, reading.key, reading.function.numeral, key["scales"][0]["id"], key["reason"])
        if mark in first and not options.every_section:
            also.setdefault(first[mark], []).append(event.index)
            continue
        first[mark] = event.index
        made.append((event, key))
    questions = []
    for event, key in made:
        place = where[event.index]
        key |= {"bar": place.bar, "played": place.played, "beat": place.beat, "pass": place.pass_no}
        context = {"chord": key["chord"], "section": place.section, "beat": place.beat, "home": key["home"]}
        prompt = f"{place.text}: name the scale for {{chord}}, and the notes that differ from the key (or none)."
        twins = tuple(also.get(event.index, ()))
        questions.append(Question(f"{KIND}:{event.index}", KIND, prompt, None, place.bar, key, context, twins))
    return tuple(questions)


def scale_key(event: Event, reading: Reading, home: Key, melody: Sequence[NoteName] = ()) -> KeyJson:
    """The stored key: ``scales`` holds the choice first, then what players also use there."""
    assert event.symbol is not None
    choice = scale_for(event.symbol, reading, melody=melody)
    scales = [_scale(choice.scale, choice.root, choice.notes, reading.key)]
    if choice.also:
        scales.append(_scale(choice.also, choice.root, scale_notes(choice.root, choice.also), reading.key))
    return {
        "kind": KIND, "event": event.index, "chord": event.symbol.text, "home": home.text, "key": reading.key.text,
        "root": choice.root.text, "scales": scales, "tones": [tone.text for tone in event.symbol.tones],
        "reason": choice.reason, "overridden": choice.overridden,
    }  # fmt: skip


def _scale(scale: str, root: NoteName, notes: Sequence[NoteName], key: Key) -> KeyJson:
    name = BLUES_SCALE.name if scale == BLUES_SCALE.id else SCALES[scale].name
    return {
        "id": scale, "name": name, "notes": [note.text for note in notes],
        "differs": [note.text for note in differing(notes, key)],
    }  # fmt: skip


def differing(notes: Sequence[NoteName], key: Key) -> tuple[NoteName, ...]:
    """The notes outside the key's own scale (natural minor in a minor key).

    >>> key = Key.parse("C")
    >>> [note.text for note in differing(scale_notes(NoteName.parse("D"), "lydian-b7"), key)]
    ['F#', 'G#']
    """
    inside = {(NoteName.from_fifths(key.fifths).pc + step) % 12 for step in _MAJOR_STEPS}
    return tuple(note for note in notes if note.pc not in inside)
