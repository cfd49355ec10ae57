"""Steps about a solo: which solo and which bars, and for a quiz on its notes what every note is, fixed at issue."""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction
from typing import Any

from django.db import transaction

from drills.questions.solo_notes import MOST, NoteFacts
from studio.instruments import CONCERT
from tunes.models import Solo, SoloRevision, SoloWord
from tunes.solos import selectors
from tunes.solos.bars import SoloForm
from tunes.solos.reading import ReadNote, SoloReading, read_solo

from ..kinds import KINDS, SOLO_NOTES
from ..models import Assignment, Step


class NoSuchPassage(ValueError):
    """The solo or its bars cannot be asked; the message says why and what to choose."""


def solo_options(assignment: Assignment, kind: str, chosen: Mapping[str, Any]) -> dict[str, Any]:
    """What a step about a solo keeps: the solo, its kept notes, the bars (of the solo, from 1), and for a quiz every note.

    Raises `NoSuchPassage`.
    """
    if not chosen.get("solo"):
        if kind == SOLO_NOTES:
            raise NoSuchPassage(f"{KINDS[kind].name}: choose the solo whose notes are asked.")
        return {}
    solo = Solo.objects.filter(pk=chosen["solo"], revision__version__tune=assignment.tune_id).first()
    kept = selectors.newest(solo) if solo else None
    if solo is None or kept is None:
        raise NoSuchPassage(f"{KINDS[kind].name}: that solo is not of this tune, or none of it is kept yet.")
    form = selectors.form_of(solo, CONCERT)
    first = int(chosen.get("first") or 1)
    last = int(chosen.get("last") or len(form.bars))
    if not 1 <= first <= last <= len(form.bars):
        raise NoSuchPassage(
            f"{KINDS[kind].name}: the solo has bars 1 to {len(form.bars)}; bars {first} to {last} are not in it."
        )
    options: dict[str, Any] = {"solo": solo.pk, "kept": kept.pk, "first": first, "last": last}
    if kind == SOLO_NOTES:
        options |= {"part": chosen.get("part") or "", "notes": notes_asked(solo, kept, form, first, last)}
    return options


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


@transaction.atomic
def take_key(*, step: Step, kept: SoloRevision) -> bool:
    """A settled version becomes the key of a step that has none; False where it has one. Nothing that was marked changes."""
    row = Step.objects.select_for_update().get(pk=step.pk)
    if row.options.get("kept"):
        return False
    row.options = row.options | {"solo": kept.solo_id, "kept": kept.pk}
    row.save(update_fields=["options"])
    return True
