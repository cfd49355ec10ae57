"""Kind "changes": what sounds in every bar, by ear, the chart closed; the chords, or first the bass alone.

One question stands for one bar, because how many chords a bar has is part of what is heard.  A bar that is played
again through a repeat sign is asked once; a section that comes again is asked again: hearing that it is the same is
the player's work.  Nothing outside the key tells a chord or how many there are: ``event`` is None, ``context`` holds
the place, the metre and what is asked ("" or "bass").
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from drills.questions.base import KeyJson, Options, Question
from drills.questions.places import beat_text
from tunes.harmony.analysis.pipeline import Analysis
from tunes.harmony.charts.bar_count import bar_count, bar_name
from tunes.harmony.charts.bars import Event
from tunes.harmony.charts.model import Chart

KIND = "changes"
BASS = "bass"


def build_changes(study: Any, options: Options, seed: int) -> tuple[Question, ...]:
    """One question a bar in playing order; with ``options.part`` "bass" the bass notes alone are asked."""
    chart: Chart = study.chart
    made, seen = [], set()
    for place in chart.unfold():
        bar = chart.bars[place.bar]
        again = place.bar in seen and not options.every_section
        if bar.is_pickup or again or (options.bars and bar.number not in options.bars):
            continue
        seen.add(place.bar)
        events = chorus_bars(chart)[place.index]
        if events:
            passed = place.pass_no if options.every_section else 1
            made.append(_question(study, place.index, place.section_label, passed, events, options.part))
    return tuple(made)


def chorus_bars(chart: Chart) -> list[list[Event]]:
    """The events of every bar of the chorus as played, those left out that nobody has agreed on."""
    rows: list[list[Event]] = [[] for _ in chart.unfold()]
    for event in chart.events():
        if event.text != "?":
            rows[event.chorus_bar].append(event)
    return rows


def _question(study: Any, index: int, section: str, passed: int, events: Sequence[Event], part: str) -> Question:
    bar = study.chart.bars[events[0].bar]
    played = bar_count(study.chart).chorus[index]
    name = bar_name(played, bar.number).capitalize()
    context = {
        "section": section, "group": bar.section, "written": events[0].bar, "pass": passed, "metre": bar.metre.text,
        "endings": list(bar.endings), "part": part, "played": played,
    }  # fmt: skip
    asked = "which bass notes" if part == BASS else "which chords"
    key = changes_key(study.analysis, events, part) | {
        "bar": bar.number,
        "played": played,
        "pass": passed,
        "metre": bar.metre.text,
    }
    return Question(f"{KIND}:{index}", KIND, f"{name}: {asked} do you hear?", None, bar.number, key, context)


def changes_key(analysis: Analysis, events: Sequence[Event], part: str = "") -> KeyJson:
    """The stored key of one bar: every agreed chord with where it begins, how long it lasts, its key and function.

    Onsets and lengths are beats of the metre as text ("0", "5/2").
    """
    chords = []
    for event in events:
        reading = analysis.readings[event.index]
        chords.append({
            "chord": event.symbol.text if event.symbol else "N.C.", "onset": str(event.onset), "beats": str(event.duration),
            "beat": beat_text(event.onset), "key": reading.key.text, "expected": reading.function.to_json(),
        })  # fmt: skip
    return {
        "kind": KIND,
        "part": part,
        "home": analysis.home.text,
        "events": [e.index for e in events],
        "chords": chords,
    }
