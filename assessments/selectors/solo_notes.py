"""The notes of a solo as a quiz asks them: each over its chord, with what it does, as plain facts."""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction
from typing import Any

from drills.questions.solo_notes import MOST, NoteFacts
from studio.instruments import CONCERT
from tunes.models import Solo, SoloRevision, SoloWord
from tunes.solos import selectors
from tunes.solos.bars import SoloForm
from tunes.solos.reading import ReadNote, SoloReading, read_solo

from ..kinds import KINDS, SOLO_NOTES

FOUR = 4  # bars to a system, and to a short sheet


class NoSuchPassage(ValueError):
    """The solo or its bars cannot be asked; the message says why and what to choose."""


def notes_asked(solo: Solo, kept: SoloRevision, form: SoloForm, first: int, last: int) -> list[dict[str, Any]]:
    """Every note of the passage over a chord, as the quiz asks it. Raises `NoSuchPassage`."""
    bars = selectors.read_stored(kept.notes, len(form.bars))
    reading = read_solo(bars, form, selectors.covers(solo), form.shift)
    words = _second_readings(solo)
    rows = [
        facts_of(index, reading, form, words) for index, one in enumerate(reading.notes)
        if first <= one.note.bar + 1 <= last and one.reading.change is not None and not one.note.ghost
    ]  # fmt: skip
    if not rows:
        raise NoSuchPassage(f"{KINDS[SOLO_NOTES].name}: bars {first} to {last} of the solo hold no note over a chord.")
    if len(rows) > MOST:
        raise NoSuchPassage(
            f"{KINDS[SOLO_NOTES].name}: bars {first} to {last} hold {len(rows)} notes; ask {MOST} at most."
        )
    return [row.to_json() for row in rows]


def _second_readings(solo: Solo) -> dict[str, set[str]]:
    """What people said that a note does, by its onset: as right as what was computed."""
    found: dict[str, set[str]] = {}
    for word in solo.words.filter(kind=SoloWord.Kind.ROLE).exclude(role=""):
        found.setdefault(word.first, set()).add(word.role)
    return found


def facts_of(index: int, reading: SoloReading, form: SoloForm, words: Mapping[str, set[str]]) -> NoteFacts:
    """One note of a reading as plain facts, in concert pitch."""
    one = reading.notes[index]
    bar = form.bars[one.note.bar]
    symbol = reading.changes[one.reading.change].symbol if one.reading.change is not None else None
    also = words.get(str(one.note.onset), set()) - {one.reading.role}
    return NoteFacts(
        place=place_of(one, form), bar=bar.number, note=one.note.pitch.name.text, chord=symbol.text if symbol else "",
        degree=one.reading.degree or "", semitones=one.reading.semitones or 0, role=one.reading.role, also=tuple(sorted(also)),
        leads=_leads(one, reading),
    )  # fmt: skip


def place_of(one: ReadNote, form: SoloForm) -> str:
    """ "chorus 2, bar 5, beat 3½": bars as played, beats of the metre."""
    bar = form.bars[one.note.bar]
    beat = one.note.at * bar.metre.unit / 4 + 1
    whole = int(beat)
    when = (
        f"beat {whole}"
        if beat == whole
        else f"beat {whole}½"
        if beat - whole == Fraction(1, 2)
        else f"after beat {whole}"
    )
    several = len({other.chorus for other in form.bars}) > 1
    return f"{f'chorus {bar.chorus}, ' if several else ''}bar {bar.number}, {when}"


def _leads(one: ReadNote, reading: SoloReading) -> tuple[int, str, str, str] | None:
    target = one.reading.target
    if target is None or target == one.reading.note:
        return None
    to = reading.notes[target]
    over = reading.changes[to.reading.change].symbol if to.reading.change is not None else None
    return (
        to.note.pitch.midi - one.note.pitch.midi,
        to.note.pitch.name.text,
        to.reading.degree or "",
        over.text if over else "",
    )


def windows(solo: Solo, kept: SoloRevision) -> list[tuple[int, int, list[dict[str, Any]]]]:
    """The notes of a solo four bars at a time, as a quiz asks them: (first bar of the form, last, notes). Bars without a note
    over a chord, and crowded ones, are left out."""
    form = selectors.form_of(solo, CONCERT)
    rows: list[tuple[int, int, list[dict[str, Any]]]] = []
    for first in range(1, len(form.bars) + 1, FOUR):
        last = min(first + FOUR - 1, len(form.bars))
        try:
            asked = notes_asked(solo, kept, form, first, last)
        except NoSuchPassage:
            continue
        rows.append((form.bars[first - 1].number, form.bars[last - 1].number, asked))
    return rows
