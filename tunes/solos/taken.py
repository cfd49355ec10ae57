"""What a person takes from a solo into practice: a habit, or the notes of a passage that lie outside their chords.

It is kept as degrees over the chords of one chorus, so that drills of the tune, in any key and for any instrument, can carry
them at their places and name the bar of the recording (`by_event`).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from django.db import transaction

from studio.models import User
from tunes.melody import Habit, degree_words
from tunes.models import Solo, SoloTaken
from tunes.solos.access import visible
from tunes.solos.bars import SoloForm
from tunes.solos.reading import ReadNote, SoloReading, signed
from tunes.solos.reading_data import name_of_habit
from tunes.study import StudyChart

MOST_NOTES = 40
OUTSIDE = {
    "tension",
    "approach",
    "double approach",
    "enclosure",
    "neighbour",
    "passing",
    "delay",
    "anticipation",
    "other",
}


class NothingToTake(ValueError):
    """What was chosen holds nothing that practice could carry; the message says why."""


@dataclass(frozen=True, slots=True)
class Told:
    """A degree that a recording plays over a chord, and where in words: "the recording plays the sharp 11th here (chorus 4)"."""

    degree: str
    choruses: tuple[int, ...]
    player: str = ""

    @property
    def words(self) -> str:
        several = len(self.choruses) > 1
        where = f"chorus{'es' if several else ''} {_listed(self.choruses)}"
        return f"the recording plays the {degree_words(self.degree)} here ({self.player + ', ' if self.player else ''}{where})"


def _listed(numbers: Sequence[int]) -> str:
    words = [str(number) for number in numbers]
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"


def habit_named(reading: SoloReading, what: str) -> Habit:
    """The habit of that name. Raises `NothingToTake`."""
    found = next((habit for habit in reading.habits if name_of_habit(habit) == what), None)
    if found is None:
        raise NothingToTake("That is no longer read from these notes: reload the page")
    return found


def notes_of_habit(habit: Habit, reading: SoloReading, form: SoloForm) -> list[dict[str, Any]]:
    return _rows([reading.notes[place] for place in habit.places], form)


def notes_of_passage(first: int, last: int, reading: SoloReading, form: SoloForm) -> list[dict[str, Any]]:
    """The notes `first` to `last` (from 0) that lie outside their chord. Raises `NothingToTake`."""
    if not 0 <= first <= last < len(reading.notes):
        raise NothingToTake(f"Choose from notes 1 to {len(reading.notes)}")
    if last - first >= MOST_NOTES:
        raise NothingToTake(f"Choose a shorter passage: {MOST_NOTES} notes at most")
    chosen = reading.notes[first : last + 1]
    if any(one.note.bar in reading.hidden for one in chosen):
        raise NothingToTake("Say first what you hear in the bars that are asked")
    rows = _rows([one for one in chosen if one.reading.role in OUTSIDE and not one.note.ghost], form)
    if not rows:
        raise NothingToTake("These notes all belong to their chords: scales and arpeggios play them already")
    return rows


def words_of_habit(habit: Habit) -> str:
    return f"Over {habit.function} the {signed(habit.degree)}"[:200]


def words_of_passage(rows: Sequence[Mapping[str, Any]]) -> str:
    """ "♯11, ♭9 in bars 2 to 4 of chorus 2"."""
    degrees = ", ".join(dict.fromkeys(signed(row["degree"]) for row in rows))
    first, last = (how((row["chorus"], row["bar"]) for row in rows) for how in (min, max))
    if first == last:
        where = f"bar {first[1]} of chorus {first[0]}"
    elif first[0] == last[0]:
        where = f"bars {first[1]} to {last[1]} of chorus {first[0]}"
    else:
        where = f"bar {first[1]} of chorus {first[0]} to bar {last[1]} of chorus {last[0]}"
    return f"{degrees} in {where}"[:200]


def _rows(notes: Iterable[ReadNote], form: SoloForm) -> list[dict[str, Any]]:
    """Each note by the chord of the chorus that it is read against; `form` in concert pitch."""
    rows: list[dict[str, Any]] = []
    for one in notes:
        found = _chord_of(one, form)
        if found is None or one.reading.degree is None:
            continue
        bar, chord = found
        number = form.study.chart.bars[form.study.events[chord.event].bar].number
        row = {"bar": bar.number, "printed": number, "at": str(chord.at), "root": chord.symbol.root.text,
               "degree": _tension(one.reading.degree), "chorus": bar.chorus}  # fmt: skip
        if row not in rows:
            rows.append(row)
    return rows


def _chord_of(one: ReadNote, form: SoloForm) -> Any:
    """Bar and chord that sound at a note; a note played ahead of a change belongs to the chord that comes."""
    bar = form.bars[one.note.bar]
    ahead = one.reading.border in ("early", "ahead") and one.reading.change is not None
    at = one.note.at
    here: Any = next((c for c in reversed(bar.chords) if c.at <= at and c.symbol), None)
    following: Any = next((c for c in bar.chords if c.at > at and c.symbol), None)
    if ahead and one.reading.semitones is not None:
        after = form.bars[one.note.bar + 1] if one.note.bar + 1 < len(form.bars) else None
        pc = (one.note.pitch.name.pc - one.reading.semitones) % 12
        if here is None or here.symbol.root.pc != pc:
            if following is not None and following.symbol.root.pc == pc:
                return bar, following
            if after and after.chords and after.chords[0].symbol and after.chords[0].symbol.root.pc == pc:
                return after, after.chords[0]
    return (bar, here) if here is not None else None


def _tension(degree: str) -> str:
    """A degree as tensions are called over a chord: 2 is 9, 4 is 11, 6 is 13.

    >>> _tension("b2"), _tension("#4"), _tension("7")
    ('b9', '#11', '7')
    """
    sign, number = degree.rstrip("0123456789"), degree.lstrip("b#")
    return sign + {"2": "9", "4": "11", "6": "13"}.get(number, number)


# --- kept


@transaction.atomic
def take(*, user: User, solo: Solo, what: str, words: str, notes: list[dict[str, Any]]) -> SoloTaken:
    """Into practice from now on; taken twice, it is the same."""
    row, _made = SoloTaken.objects.get_or_create(
        user=user, solo=solo, what=what[:120], defaults={"words": words[:200], "notes": notes}
    )
    return row


def take_back(*, row: SoloTaken) -> None:
    row.delete()


def taken_from(user: Any, tune: int | None = None) -> list[SoloTaken]:
    """What a person has in practice from solos that they may still see, on one tune or on all. Two queries."""
    rows = SoloTaken.objects.filter(user=user, solo__in=visible(user).order_by().values("pk"))
    if tune is not None:
        rows = rows.filter(solo__revision__version__tune=tune)
    return list(rows.select_related("solo__revision__version__tune"))


def by_event(rows: Iterable[SoloTaken], study: StudyChart) -> dict[int, tuple[Told, ...]]:
    """What is taken, by the event of a concert study over which it stands. A place whose chord has another root now is left out."""
    places = _places(study)
    found: dict[int, dict[str, tuple[str, set[int]]]] = {}
    for row in rows:
        for note in row.notes:
            event = places.get((note["bar"], Fraction(note["at"]), note["root"]))
            if event is not None:
                here = found.setdefault(event, {}).setdefault(note["degree"], (row.solo.player, set()))
                here[1].add(note["chorus"])
    return {
        event: tuple(Told(degree, tuple(sorted(choruses)), player) for degree, (player, choruses) in degrees.items())
        for event, degrees in found.items()
    }


def _places(study: StudyChart) -> dict[tuple[int, Fraction, str], int]:
    """(bar as played, quarter of it, root) of every event."""
    chart = study.chart
    pickup = {place.index for place in chart.unfold() if chart.bars[place.bar].is_pickup}
    numbers, count = {}, 0
    for place in chart.unfold():
        count += place.index not in pickup
        numbers[place.index] = count
    return {
        (numbers[event.chorus_bar], event.onset * Fraction(4, event.metre.unit), event.symbol.root.text): event.index
        for event in study.events if event.symbol and event.chorus_bar not in pickup
    }  # fmt: skip
