"""A reading as the page needs it: plain data, nothing in it of a bar that is still asked. Pure."""
from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from tunes.melody import Habit
from tunes.solos.bars import SoloForm
from tunes.solos.page import ticks
from tunes.solos.reading import FEWEST_OCCASIONS, SAID, SoloReading, signed

MOST_LINES = 8
MOST_HABITS = 12


def reading_data(reading: SoloReading, form: SoloForm, names: Mapping[str, str]) -> dict[str, Any]:
    """Per note: bar, place of its entry, degree, whether it belongs to the chord, role, border, words, source.

    `names` are what people call a passage, by the onset it begins with.
    """
    notes = [
        {"bar": one.note.bar, "place": one.note.place, "hidden": True}
        if one.note.bar in reading.hidden
        else {
            "bar": one.note.bar, "place": one.note.place, "degree": one.shown, "inside": one.reading.role == "chord tone",
            "role": one.reading.role, "said": SAID[one.reading.role], "border": one.reading.border, "words": one.words,
            "source": one.source, "onset": str(one.note.onset),
        }
        for one in reading.notes
    ]  # fmt: skip
    return {"notes": notes, "lines": lines_of(reading, form, names), "hidden": sorted(reading.hidden)}


def lines_of(reading: SoloReading, form: SoloForm, names: Mapping[str, str]) -> list[dict[str, Any]]:
    """The lines that come back, the longest first: name, places as (bar, tick) from and to."""
    rows = []
    for line in sorted(reading.lines, key=lambda one: (-one.length * len(one.places), one.starts))[:MOST_LINES]:
        places = []
        for place in line.places:
            first, last = reading.notes[place.start].note, reading.notes[min(place.start + line.length, len(reading.notes) - 1)].note
            places.append({
                "first": place.start, "last": place.start + line.length, "bar": first.bar, "at": ticks(first.at),
                "end_bar": last.bar, "end_at": ticks(last.at), "changed": place.changed is not None,
                "onset": str(first.onset), "end": str(last.onset),
            })  # fmt: skip
        name = next((names[place["onset"]] for place in places if place["onset"] in names), "")
        rows.append({"name": name, "notes": line.length + 1, "places": places, "where": _where(places, form)})
    return rows


def _where(places: Iterable[Mapping[str, Any]], form: SoloForm) -> str:
    many = len({bar.chorus for bar in form.bars}) > 1
    said = []
    for place in places:
        bar = form.bars[place["bar"]]
        said.append((f"chorus {bar.chorus}, " if many else "") + f"bar {bar.number}" + (" with one note changed" if place["changed"] else ""))
    return "; ".join(said)


def habits_of(reading: SoloReading) -> list[dict[str, Any]]:
    """What is done again and again, in sentences: habits from five occasions on, a plain count below."""
    told = [habit for habit in reading.habits if habit.times >= 2 and (habit.is_habit or habit.of < FEWEST_OCCASIONS)]
    told.sort(key=lambda habit: (not habit.is_habit, habit.p, -habit.times))
    return [_habit(habit, reading) for habit in told[:MOST_HABITS] if habit.is_habit or _outside(habit, reading)]


def _outside(habit: Habit, reading: SoloReading) -> bool:
    """A count is worth telling only of notes outside the chord."""
    return any(reading.notes[place].reading.role != "chord tone" for place in habit.places)


def _habit(habit: Habit, reading: SoloReading) -> dict[str, Any]:
    last = reading.notes[habit.places[-1]].note
    usual = max(1, round(1 / habit.usual)) if habit.usual > 0 else 0
    accident = round(1 / habit.p) if 0 < habit.p < 1 else 0
    return {
        "sentence": f"Over {habit.function} the {signed(habit.degree)}: {habit.times} of {habit.of}.",
        "times": habit.times, "of": habit.of, "is_habit": habit.is_habit, "bar": last.bar,
        "usual": f"In recorded solos about 1 of {usual}." if usual > 1 and habit.is_habit else "",
        "accident": f"So many by accident: 1 in {accident:,}, corrected for all that was tried.".replace(",", " ") if habit.is_habit and accident > 1 else "",
        "few": not habit.is_habit,
    }  # fmt: skip

