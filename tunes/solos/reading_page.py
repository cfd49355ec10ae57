"""The page on which a solo is read: the notes, what was found in them, what is asked first."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.http import HttpRequest

from studio.instruments import CONCERT
from tunes.models import Solo, SoloTaken
from tunes.solos import selectors, taken
from tunes.solos.access import may_ask, may_say, teaches
from tunes.solos.asking import answered_words, asked_of, hidden_bars, told_words
from tunes.solos.bars import SoloBar, SoloForm, solo_form
from tunes.solos.forms import ShareForm
from tunes.solos.frame import frame
from tunes.solos.notes import Bars, moved, write_notes
from tunes.solos.page import form_data, ticks
from tunes.solos.reading import SAID, SoloReading, read_solo, without
from tunes.solos.reading_data import fits_of, habits_of, passages_of, reading_data
from tunes.study import StudyChart

SIGNS = (
    ("passing", "passing"), ("neighbour", "neighbour"), ("approach", "approach"), ("enclosure", "enclosure"),
    ("tension", "tension"), ("early", "early: of the next chord"), ("late", "late: still of the one before"), ("other", "open"),
)  # fmt: skip
ROLES = tuple((role, name) for role, name in SAID.items() if role != "rest")


def concert_reading(user: Any, solo: Solo) -> tuple[SoloForm, SoloReading]:
    """The bars of a solo in concert pitch and what this person may read of its newest notes."""
    study, covers = selectors.study_of(solo), selectors.covers(solo)
    concert = solo_form(study, covers, CONCERT)
    kept = selectors.newest(solo)
    bars = selectors.read_stored(kept.notes if kept else {}, len(concert.bars))
    hidden = hidden_bars(selectors.asks_of(solo, user), sees_all=_sees_all(user, solo))
    return concert, without(read_solo(bars, concert, covers, concert.shift), hidden)


def take_read(user: Any, solo: Solo, *, what: str = "", first: int = 0, last: int = 0) -> SoloTaken:
    """Into practice: the habit of that name, or else the notes `first` to `last` (from 0), out of what this person may read.
    Raises `tunes.solos.taken.NothingToTake`."""
    concert, reading = concert_reading(user, solo)
    if what:
        habit = taken.habit_named(reading, what)
        notes, words = taken.notes_of_habit(habit, reading, concert), taken.words_of_habit(habit)
    else:
        notes = taken.notes_of_passage(first, last, reading, concert)
        what, words = f"notes {first}-{last}", taken.words_of_passage(notes)
    return taken.take(user=user, solo=solo, what=what, words=words, notes=notes)


def _sees_all(user: Any, solo: Solo) -> bool:
    return teaches(user, solo) and solo.written_by_id != user.pk


def reading_context(request: HttpRequest, solo: Solo) -> dict[str, Any]:
    """Everything the page shows; of a bar that is asked and not answered, nothing but its notes."""
    study = selectors.study_of(solo)
    covers = selectors.covers(solo)
    form = solo_form(study, covers, selectors.reader_of(request.user, request.GET.get("for", "")))
    concert = solo_form(study, covers, CONCERT)
    kept = selectors.newest(solo)
    bars = selectors.read_stored(kept.notes if kept else {}, len(form.bars))
    asks = selectors.asks_of(solo, request.user)
    closed = bool(solo.reading_held)  # type: ignore[attr-defined]
    hidden = frozenset(range(len(bars))) if closed else hidden_bars(asks, sees_all=_sees_all(request.user, solo))
    reading = without(read_solo(bars, concert, covers, form.shift), hidden)
    said = selectors.said_of(solo, request.user)
    found = reading_data(reading, form, {row.first: row.text for row in said if row.kind == "name"})
    found["passages"] = passages_of(reading, form, [row for row in said if row.kind == "name"], found["lines"])
    _add_words(found, said)
    found["fits"] = fits_of(reading, form.shift)
    own = solo.written_by_id == request.user.pk
    hearing = selectors.hearing(solo, study)
    data = form_data(form, concert) | {
        "solo": solo.pk, "notes": write_notes(bars), "times": hearing.times, "reading": found,
        "landing": [] if closed else _landing(form.study, form),
        "tempo": (solo.recording.tempo if solo.recording else None) or 120,
    }  # fmt: skip
    had = [] if closed else [row for row in said if row.kind == "taken"]
    choruses = list(dict.fromkeys(bar.chorus for bar in form.bars))
    return frame(solo, study, form) | {
        "data": data, "kept": kept, "own": own, "heard": hearing.known, "reading": found, "habits": _dotted(habits_of(reading), had), "taken": [row for row in had if row.first.startswith("notes ")],
        "words": _in_words(bars, reading, form), "shape_words": _shape_words(bars, form), "signs": SIGNS, "roles": ROLES,
        "many_choruses": choruses if len(choruses) > 1 else [], "may_say": may_say(request.user, solo),
        "may_ask": may_ask(request.user, solo), "asked_bars": ", ".join(str(ask.bar + 1) for ask in asks),
        "asks": [] if closed else [_ask_shown(ask, reading, form, bars) for ask in asks if ask.bar < len(bars)],
        "share": ShareForm(user=request.user, solo=solo) if own else None, "closed": solo.reading_held,  # type: ignore[attr-defined]
    }  # fmt: skip


def _ask_shown(ask: Any, reading: SoloReading, form: SoloForm, bars: Bars) -> dict[str, Any]:
    shown = asked_of(ask, form, moved(bars, form.shift))
    if ask.mine is not None:
        shown |= {"answer": answered_words(ask.mine.said), "told": told_words(ask.bar, reading)}
    return shown


def _dotted(habits: list[dict[str, Any]], had: list[selectors.Said]) -> list[dict[str, Any]]:
    """Each with its dots, and what of it this person has in practice."""
    in_practice = {row.first: row for row in had}
    return [
        habit
        | {
            "dots": [True] * habit["times"] + [False] * (habit["of"] - habit["times"]),
            "taken": in_practice.get(habit["what"]),
        }
        for habit in habits
    ]


def _add_words(found: dict[str, Any], said: Any) -> None:
    """What people say of a note, beside what was read."""
    by_onset = {row.first: row for row in said if row.kind == "role"}
    for note in found["notes"]:
        row = by_onset.get(note.get("onset", ""))
        if row is not None:
            who = row.by or "Somebody who has left"
            note["word"] = (
                f"{who} hears it as {SAID.get(row.role, row.text)}{f': {row.text}' if row.role and row.text else ''}."
            )


def _landing(study: StudyChart, form: SoloForm) -> list[list[Any]]:
    """[bar of the form, tick, height, chord] of every chord of one chorus, for the line where it lands."""
    rows: list[list[Any]] = []
    seen: set[int] = set()
    heights = study.analysis.landing
    for bar in form.bars:
        for chord in bar.chords:
            if chord.event in seen or chord.event >= len(heights):
                continue
            seen.add(chord.event)
            height = heights[chord.event]
            rows.append(
                [
                    bar.number,
                    ticks(chord.at),
                    height if height is not None else 0,
                    chord.symbol.display if chord.symbol else "N.C.",
                ]
            )
    return sorted(rows, key=lambda row: (row[0], row[1]))


def _in_words(bars: Bars, reading: SoloReading, form: SoloForm) -> list[dict[str, str]]:
    """Bar by bar for a screen reader: the chords and each note with its degree."""
    rows = []
    written = moved(bars, form.shift)
    for bar in form.bars:
        by_place = {one.note.place: one for one in reading.of_bar(bar.index)}
        said = []
        for place, entry in enumerate(written[bar.index]):
            if entry.pitch is None:
                continue
            one = by_place.get(place)
            told = f", {one.shown}" if one and one.shown and bar.index not in reading.hidden else ""
            said.append(f"{entry.pitch.display}{told}")
        chords = " ".join(chord.symbol.display if chord.symbol else "N.C." for chord in bar.chords)
        number = f"{bar.number}, chorus {bar.chorus}" if form.bars[-1].chorus > 1 else str(bar.number)
        rows.append({"number": number, "chords": chords, "notes": "; ".join(said) or "rest"})
    return rows


def _struck(written: Bars, here: Sequence[SoloBar]) -> int:
    """Notes that are struck in these bars: one that is held over by a tie is the same note."""
    places = {bar.index for bar in here}
    entries = [(at, entry) for at, bar in enumerate(written) for entry in bar]
    before = [False, *(entry.tie for _, entry in entries)]
    return sum(
        at in places and bool(entry.pitch) and not held for (at, entry), held in zip(entries, before, strict=False)
    )


def _shape_words(bars: Bars, form: SoloForm) -> list[str]:
    """One sentence a chorus: how many notes, from where to where, which bars rest."""
    lines = []
    written = moved(bars, form.shift)
    for chorus in dict.fromkeys(bar.chorus for bar in form.bars):
        here = [bar for bar in form.bars if bar.chorus == chorus]
        pitches = [entry.pitch for bar in here for entry in written[bar.index] if entry.pitch]
        rests = [
            str(bar.number) for bar in here
            if written[bar.index] and not any(entry.pitch for entry in written[bar.index])
        ]  # fmt: skip
        if not pitches:
            lines.append(f"Chorus {chorus}: rest.")
            continue
        low, high = min(pitches, key=lambda one: one.midi), max(pitches, key=lambda one: one.midi)
        rest = f" Rest in bar{'s' if len(rests) > 1 else ''} {', '.join(rests)}." if rests else ""
        lines.append(f"Chorus {chorus}: {_struck(written, here)} notes, from {low.display} to {high.display}.{rest}")
    return lines
