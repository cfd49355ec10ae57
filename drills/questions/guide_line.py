"""Kind "guide-line": one note per chord, the smoothest line of 3rds and 7ths through a stretch of the form.

One question per section (sections longer than sixteen bars in pieces of eight); chords that stay are one note.
The optimum is solved by `drills.lines.guide_tones`, for both notes a line may begin on.
"""

from __future__ import annotations

from typing import Any

from drills.lines.guide_tones import guide_tones_of, options, smoothest
from drills.questions.base import KeyJson, Options, Question
from drills.questions.places import Place, places, sections_of
from tunes.harmony.charts.bar_count import stretch_name
from tunes.harmony.charts.bars import Event
from tunes.harmony.charts.model import Chart
from tunes.harmony.chords.symbol import ChordSymbol

KIND = "guide-line"
LONGEST_STRETCH = 16
PIECE = 8


def build_guide_line(study: Any, options_: Options, seed: int) -> tuple[Question, ...]:
    """The stretches of the form in order; one that comes back with the same chords is asked once."""
    chart: Chart = study.chart
    where = places(chart)
    asked: set[tuple[str, ...]] = set()
    made: list[Question] = []
    for label, first, last in stretches(chart):
        events = _changes(chart, first, last)
        if options_.bars and not any(where[event.index].bar in options_.bars for event in events):
            continue
        chords = tuple(event.symbol.text for event in events if event.symbol)
        if len(chords) < 2 or (chords in asked and not options_.every_section):
            continue
        asked.add(chords)
        made.append(_question(label, events, where, study.analysis.home.text))
    return tuple(made)


def stretches(chart: Chart) -> list[tuple[str, int, int]]:
    """(label, first, last chorus bar) of every section, long ones cut into pieces of eight bars."""
    found: list[tuple[str, int, int]] = []
    for label, first, bars in sections_of(chart):
        step = bars if bars <= LONGEST_STRETCH else PIECE
        found.extend((label, at, min(at + step, first + bars) - 1) for at in range(first, first + bars, step))
    return found


def _changes(chart: Chart, first: int, last: int) -> list[Event]:
    """The chords of a stretch, without N.C. and without a chord that only goes on."""
    kept: list[Event] = []
    for event in chart.events():
        if (
            first <= event.chorus_bar <= last
            and event.symbol is not None
            and (not kept or kept[-1].symbol != event.symbol)
        ):
            kept.append(event)
    return kept


def _question(label: str, events: list[Event], where: tuple[Place, ...], home: str) -> Question:
    symbols = [event.symbol for event in events if event.symbol is not None]
    start, end = where[events[0].index], where[events[-1].index]
    key: KeyJson = {
        "kind": KIND, "event": events[0].index, "bar": start.bar, "played": start.played, "pass": start.pass_no, "home": home,
        "chords": [symbol.text for symbol in symbols], "options": _options(symbols), "lines": _lines(symbols),
        "tones": [[tone.text for tone in symbol.tones] for symbol in symbols],
    }  # fmt: skip
    place = stretch_name(start.played, end.played) if end.played != start.played else start.text
    named = f"{label}, {place.lower()}" if label else place.capitalize()
    prompt = f"{named}: write the smoothest line of 3rds and 7ths through {{chords}}, one note for each chord."
    context = {"chords": key["chords"], "events": [event.index for event in events], "section": label, "home": home}
    return Question(f"{KIND}:{events[0].index}", KIND, prompt, None, start.bar, key, context, answer_form="notes")


def _options(symbols: list[ChordSymbol]) -> list[list[list[str]]]:
    """For every chord the (degree, note) pairs that a guide-tone line may take there."""
    before = [None, *symbols[:-1]]
    return [
        [[tone.degree, tone.name.text] for tone in options(symbol, previous)]
        for symbol, previous in zip(symbols, before, strict=True)
    ]


def _lines(symbols: list[ChordSymbol]) -> list[KeyJson]:
    """The best line from either beginning: notes and total movement in half steps, the smoother one first."""
    third, seventh = guide_tones_of(symbols[0])
    found: list[KeyJson] = []
    for start, tone in (("3", third), ("7", seventh)):
        line = smoothest(symbols, start)
        notes = [tones[0].name.text for tones in line.tones if tones]
        found.append({"start": tone.name.text, "notes": notes, "movement": line.movement})
    return sorted(found, key=lambda one: int(one["movement"]))
