"""Advice in words: what the page of a take shows of it."""

from __future__ import annotations

import uuid
from typing import Any

from drills.advice.models import TakeAdvice
from drills.hearing.extra import available
from drills.hearing.result import ON_THE_TOP, Advice, BarAdvice, NoteAdvice
from drills.takes.models import Take
from drills.takes.played import Spot, bars_of, spot_in_words

CENTS = 20
"""Cents from which a long note is called flat or sharp."""
NOT_INSTALLED = "This site does not hear takes: whoever runs it can add that. Everything else works."
SIGNS = (
    ("another", "another note"), ("not-heard", "not heard"), ("early", "early"), ("late", "late"),
    ("flat", "flat, in cents"), ("sharp", "sharp, in cents"),
)  # fmt: skip
_SHIFTS = {
    1: "a half step", 2: "a whole step", 3: "a minor third", 4: "a major third", 5: "a fourth", 6: "a tritone", 7: "a fifth",
    8: "a minor sixth", 9: "a major sixth", 10: "a minor seventh", 11: "a major seventh", 12: "an octave",
}  # fmt: skip


def advice_of(take: Take, *, fetched: bool = False) -> dict[str, Any]:
    """Everything that `_advice.html` needs. One query; none when the take was `fetched` with its advice."""
    found = getattr(take, "advice", None) if fetched else TakeAdvice.objects.filter(take=take).first()
    base: dict[str, Any] = {"signs": SIGNS, "able": available(), "row": found, "state": "none", "marks": []}
    if found is None:
        return base | {"reason": "" if base["able"] else NOT_INSTALLED}
    base |= {"state": found.state, "reason": found.reason}
    if found.state != TakeAdvice.State.HEARD:
        return base
    if "solo" in found.data:
        return base | _solo(take, found.data["solo"])
    try:
        advice = Advice.of_json(found.data)
    except (ValueError, KeyError, TypeError):
        return base | {
            "state": "old",
            "reason": "What was heard was kept by another version of the site. Have it heard again.",
        }
    contested = set(found.contested)
    marks = [mark for note in advice.notes for mark in _marks(take, note, contested)]
    counted = [mark for mark in marks if not mark["contested"]]
    return base | {
        "marks": marks,
        "counted": len(counted),
        "whole": _whole(take, advice),
        "bars": _bars(take, advice),
        "choruses": _choruses(advice) if len(advice.choruses) > 1 else [],
        "advice_data": [
            {key: mark[key] for key in ("key", "chorus", "bar", "index", "kind", "short", "words", "second", "contested")}
            for mark in marks
        ],
    }  # fmt: skip


def _marks(take: Take, note: NoteAdvice, contested: set[str]) -> list[dict[str, Any]]:
    """What stands under a note: nothing for one as written and in time; one mark, or two."""
    found = []
    if note.verdict == "another":
        found.append(("another", f"heard {note.heard}", f"the machine heard {note.heard}{_apart(take, note)}"))
    elif note.verdict == "not-heard":
        found.append(("not-heard", "not heard", "the machine heard no such note"))
    elif note.timing:
        far = f"{abs(note.off_ms or 0)} ms"
        found.append((note.timing, note.timing, f"{note.timing}, {far} off the rest of the take"))
    if note.cents is not None and abs(note.cents) >= CENTS:
        way = "flat" if note.cents < 0 else "sharp"
        found.append((way, f"{abs(note.cents)} {way}", f"{abs(note.cents)} cents {way} of the take's own tuning"))
    if not found:
        return []
    start = float(take.played["notes"][note.index][0])
    spot = Spot(note.chorus, note.bar, round(start - float(bars_of(take)[note.bar][1]), 3))
    return [
        {
            "key": f"{note.chorus}:{note.index}", "chorus": note.chorus, "bar": note.bar, "beat": spot.beat,
            "index": note.index, "kind": kind, "short": short, "words": words, "where": spot_in_words(take, spot),
            "second": note.second, "contested": f"{note.chorus}:{note.index}" in contested,
            "token": uuid.uuid5(uuid.NAMESPACE_URL, f"advice:{take.pk}:{note.chorus}:{note.index}:{kind}"),
        }
        for kind, short, words in found
    ]  # fmt: skip


def _apart(take: Take, note: NoteAdvice) -> str:
    """ ", a half step low"; nothing where the name says it (an octave)."""
    apart = (note.midi or 0) - int(take.played["notes"][note.index][2])
    if note.midi is None or apart % 12 == 0 or abs(apart) not in _SHIFTS:
        return ""
    return f", {_SHIFTS[abs(apart)]} {'low' if apart < 0 else 'high'}"


def _whole(take: Take, advice: Advice) -> list[str]:
    """What belongs to the take as a whole, in sentences; what is as usual is left out."""
    said = []
    if advice.shift:
        way = "above" if advice.shift > 0 else "below"
        far = _SHIFTS.get(abs(advice.shift), f"{abs(advice.shift)} half steps")
        more = "" if advice.shift % 12 == 0 else " Is it the right instrument, the right key?"
        said.append(f"Everything sounds {far} {way} what is written; the notes are read from there.{more}")
    if abs(advice.tempo - take.tempo) >= 0.02 * take.tempo:
        said.append(f"Played at about {advice.tempo:.0f}; asked at {take.tempo}.")
    if abs(advice.tuning) >= 15:
        said.append(
            f"The whole take lies {abs(advice.tuning):.0f} cents {'sharp' if advice.tuning > 0 else 'flat'} of A 440."
        )
    if advice.swing is not None and advice.swing >= 1.15:
        said.append(f"Quavers swing about {advice.swing:.1f} to 1.")
    return said


def _bars(take: Take, advice: Advice) -> list[str]:
    """Where the time drifted and where the form was lost: one sentence for each run of bars."""
    found: list[str] = []
    run: list[BarAdvice] = []
    for bar in (*advice.bars, None):
        goes_on = bar and run and (bar.chorus, bar.bar, bar.lost) == (run[-1].chorus, run[-1].bar + 1, run[-1].lost)
        if run and not (goes_on and bar and (bar.lost or bar.drifted)):
            found.append(_run_in_words(take, run))
            run = []
        if bar and (bar.lost or bar.drifted):
            run.append(bar)
    return found


def _run_in_words(take: Take, run: list[BarAdvice]) -> str:
    numbers = [int(bars_of(take)[bar.bar][0]) for bar in (run[0], run[-1])]
    where = f"Bar {numbers[0]}" if len(run) == 1 else f"Bars {numbers[0]} to {numbers[1]}"
    where = f"Chorus {run[0].chorus}, {where.lower()}" if take.choruses > 1 else where
    moved = [bar.ahead for bar in run if bar.ahead is not None]
    far = max(moved, key=abs) if moved else 0.0
    way = "ahead" if far > 0 else "behind"
    beats = f"{abs(far):.1f} beats {way}"
    if run[0].lost:
        return f"{where}: the form was lost{f', about {beats}' if abs(far) >= 0.8 else ''}."
    return f"{where}: the time drifted, {beats}."


def _choruses(advice: Advice) -> list[str]:
    """Each chorus: its tempo and the notes heard as written."""
    return [
        f"Chorus {one.chorus}: {one.right} of {one.written} notes as written{f', at {one.tempo:.0f}' if one.tempo else ''}"
        for one in advice.choruses
    ]


def _solo(take: Take, rows: list[list[Any]]) -> dict[str, Any]:
    """A solo: how much was heard, and where it begins."""
    beats = (float(rows[0][0]) - take.starts_at) * take.tempo / 60
    sure = sum(bool(row[5]) for row in rows)
    begins = (
        "It begins on the top of the form."
        if abs(beats) <= ON_THE_TOP
        else f"Its first note comes {abs(beats):.1f} beats {'after' if beats > 0 else 'before'} the top of the form."
    )
    return {"solo": {"notes": len(rows), "sure": sure, "begins": begins}}
