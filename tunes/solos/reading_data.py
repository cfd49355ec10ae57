"""A reading as the page needs it: plain data, nothing in it of a bar that is still asked. Pure."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from fractions import Fraction
from typing import Any

from tunes.harmony.chords import parse_symbol
from tunes.harmony.pitch.spelling import Interval
from tunes.melody import BarFit, Habit
from tunes.solos.bars import SoloForm
from tunes.solos.page import ticks
from tunes.solos.reading import FEWEST_OCCASIONS, SAID, BarOver, SoloReading, signed
from tunes.solos.selectors import Said

MOST_LINES = 8
NEAR = 2  # notes
FEWEST_FOR_FIT = 4  # notes of a bar before its chord can be weighed against others
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
    rows: list[dict[str, Any]] = []
    told: list[set[int]] = []
    for line in sorted(reading.lines, key=lambda one: (-one.length * len(one.places), one.starts)):
        near = {start + by for start in line.starts for by in range(-NEAR, NEAR + 1)}
        if len(rows) >= MOST_LINES or any(2 * len(near & starts) >= len(starts) for starts in told):
            continue  # the same line, told from a note before or after
        told.append(set(line.starts))
        places = []
        for place in line.places:
            first, last = (
                reading.notes[place.start].note,
                reading.notes[min(place.start + line.length, len(reading.notes) - 1)].note,
            )
            places.append({
                "first": place.start, "last": place.start + line.length, "bar": first.bar, "at": ticks(first.at),
                "end_bar": last.bar, "end_at": ticks(last.at), "changed": place.changed is not None,
                "onset": str(first.onset), "end": str(last.onset),
            })  # fmt: skip
        name = next((text for onset, text in names.items() if any(_at(onset, place) for place in places)), "")
        rows.append({"name": name, "notes": line.length + 1, "places": places, "where": _where(places, form)})
    return rows


def passages_of(
    reading: SoloReading, form: SoloForm, said: Sequence[Said], lines: Sequence[Mapping[str, Any]]
) -> list[dict[str, Any]]:
    """Passages that people have named and that are no line that comes back: name, who, place; none with a note in a bar that is
    still asked."""
    by_onset = {str(one.note.onset): index for index, one in enumerate(reading.notes)}
    rows = []
    for word in said:
        first, last = by_onset.get(word.first), by_onset.get(word.last)
        if first is None or last is None or last < first:
            continue
        if any(one.note.bar in reading.hidden for one in reading.notes[first : last + 1]):
            continue
        if any(_at(word.first, place) for line in lines for place in line["places"]):
            continue
        from_, to = reading.notes[first].note, reading.notes[last].note
        place = {
            "first": first, "last": last, "bar": from_.bar, "at": ticks(from_.at), "end_bar": to.bar, "end_at": ticks(to.at),
            "onset": word.first, "end": word.last,
        }  # fmt: skip
        rows.append(
            {
                "name": word.text,
                "by": word.by,
                "places": [place],
                "where": _stretch(from_.bar, to.bar, form),
                "mine": word.mine,
            }
        )
    return rows


def _stretch(first: int, last: int, form: SoloForm) -> str:
    """ "chorus 2, bars 3 to 4"; the chorus where there are several."""
    one, two = form.bars[first], form.bars[last]
    many = len({bar.chorus for bar in form.bars}) > 1
    chorus = f"chorus {one.chorus}, " if many else ""
    if one.chorus != two.chorus:
        return f"{chorus}bar {one.number} to chorus {two.chorus}, bar {two.number}"
    return chorus + (f"bar {one.number}" if first == last else f"bars {one.number} to {two.number}")


def _at(onset: str, place: Mapping[str, Any]) -> bool:
    """Whether a passage that begins there is this place: people name a line from its first note, or the one before."""
    return abs(Fraction(onset) - Fraction(place["onset"])) <= 1


def _where(places: Sequence[Mapping[str, Any]], form: SoloForm) -> str:
    many = len({bar.chorus for bar in form.bars}) > 1
    said = []
    alike = all(place["changed"] for place in places)
    for place in places:
        bar = form.bars[place["bar"]]
        changed = " with one note changed" if place["changed"] and not alike else ""
        said.append((f"chorus {bar.chorus}, " if many else "") + f"bar {bar.number}{changed}")
    return "; ".join(said) + ("; one note differs from place to place" if alike else "")


KINDS = ("tritone substitute", "related 2", "chord to come", "chord before")


def fits_of(reading: SoloReading, shift: Interval) -> list[dict[str, Any]]:
    """Bars that are narrow or open, in words; a bar that is clear stays bare. `shift` carries names to written pitch."""
    rows: dict[int, dict[str, Any]] = {}
    for one in reading.fits:
        row = _fit(one, shift)
        if row is not None and one.bar not in rows:
            rows[one.bar] = row
    return list(rows.values())


def _fit(one: BarOver, shift: Interval) -> dict[str, Any] | None:
    fit, count = one.fit, one.fit.last - one.fit.first + 1
    chord = one.change.symbol.display if one.change.symbol else ""
    if fit.verdict == "written":
        return None
    if fit.verdict == "open":
        if count < FEWEST_FOR_FIT:
            return {"bar": one.bar, "open": True, "words": f"open: {count} note{'s' if count > 1 else ''} over {chord}"}
        return {"bar": one.bar, "open": True, "words": f"open: {chord} or {_rival(fit, shift)}"}
    mine = next(candidate for candidate in fit.candidates if candidate.kind == "written")
    other = next(candidate for candidate in fit.candidates if candidate.kind in KINDS)
    return {
        "bar": one.bar, "open": False, "best": round(mine.inside, 3), "next": round(other.inside, 3),
        "words": f"nearer to {_rival(fit, shift)}",
    }  # fmt: skip


def _rival(fit: BarFit, shift: Interval) -> str:
    """The best other chord: its tritone substitute, the related 2, the chord before or to come."""
    other = next((candidate for candidate in fit.candidates if candidate.kind in KINDS), None)
    if other is None:
        return "another"
    symbol = parse_symbol(other.name).symbol
    return symbol.transposed(shift).display if symbol else other.name


def habits_of(reading: SoloReading) -> list[dict[str, Any]]:
    """What is done again and again, in sentences: habits from five occasions on, a plain count below."""
    told = [habit for habit in reading.habits if habit.times >= 2 and (habit.is_habit or habit.of < FEWEST_OCCASIONS)]
    told.sort(key=lambda habit: (not habit.is_habit, habit.p, -habit.times))
    return [_habit(habit, reading) for habit in told[:MOST_HABITS] if habit.is_habit or _outside(habit, reading)]


def name_of_habit(habit: Habit) -> str:
    """What names a habit among those of its solo: "over 5 of 2 6" (function, semitones above the root)."""
    return f"over {habit.function} {habit.semitones}"[:120]


def _outside(habit: Habit, reading: SoloReading) -> bool:
    """A count is worth telling only of notes outside the chord."""
    return any(reading.notes[place].reading.role != "chord tone" for place in habit.places)


def _chance(once_in: int) -> str:
    """How rarely notes at random would come to so many, in two figures: it is an estimate, corrected for all that was looked at."""
    step = 10 ** max(0, len(str(once_in)) - 2)
    return f"By chance alone so many would come in about one solo of {round(once_in / step) * step:,}.".replace(
        ",", " "
    )


def _habit(habit: Habit, reading: SoloReading) -> dict[str, Any]:
    last = reading.notes[habit.places[-1]].note
    usual = max(1, round(1 / habit.usual)) if habit.usual > 0 else 0
    accident = round(1 / habit.p) if 0 < habit.p < 1 else 0
    return {
        "sentence": f"Over {habit.function} the {signed(habit.degree)}: {habit.times} of {habit.of}.",
        "times": habit.times, "of": habit.of, "is_habit": habit.is_habit, "bar": last.bar,
        "usual": f"In recorded solos about 1 of {usual}." if usual > 1 and habit.is_habit else "",
        "accident": _chance(accident) if habit.is_habit and accident > 1 else "",
        "few": not habit.is_habit, "what": name_of_habit(habit),
    }  # fmt: skip
