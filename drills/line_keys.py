"""A line's twelve keys for a page: how far a player is in each, which comes next, who else plays it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from django.db.models import Count, Max, Q

from drills import planning
from drills.models import KeptLine, LineKey
from drills.vocabulary import (
    Carried,
    CutLine,
    NothingToCut,
    approached_from_the_other_side,
    from_another_beat,
    in_other_time,
    inverted,
)
from drills.vocabulary.carry import chords_in
from studio.access import leads
from studio.instruments import INSTRUMENTS, Instrument
from tunes.harmony.pitch.spelling import Key, NoteName, sensible

FIRST_TEMPO = 80

VARIANTS: dict[str, tuple[str, Callable[[CutLine], CutLine]]] = {
    "later": ("a beat later", lambda line: from_another_beat(line, 1)),
    "earlier": ("a beat earlier", lambda line: from_another_beat(line, -1)),
    "inverted": ("inverted", inverted),
    "other-side": ("its target from the other side", approached_from_the_other_side),
    "half": ("in half the time", lambda line: in_other_time(line, Fraction(1, 2))),
    "twice": ("in twice the time", lambda line: in_other_time(line, Fraction(2))),
}


@dataclass(frozen=True)
class Variant:
    """One variant of a line on its page; `why_not` where it cannot be made."""

    name: str
    words: str
    why_not: str = ""


def variants_of(line: CutLine, asked: str) -> tuple[CutLine, list[Variant]]:
    """The line as asked for (itself when that cannot be made), and every variant."""
    found, rows = line, []
    for name, (words, make) in VARIANTS.items():
        try:
            made = make(line)
        except NothingToCut as problem:
            rows.append(Variant(name, words, str(problem)))
            continue
        rows.append(Variant(name, words))
        if name == asked:
            found = made
    return found, rows


@dataclass(frozen=True)
class KeyShown:
    """One of the twelve keys on the page: `name` is the chord it lands on as the player reads it; `tonic` in concert pitch."""

    at: int
    key: str
    name: str
    tonic: int
    fits: bool
    state: str
    tempo: int | None
    current: bool
    due: bool


def tonic_of(key: Key, player: Instrument) -> int:
    """Pitch class in concert pitch of a key as printed."""
    return (key.tonic.pc - player.interval.semitones) % 12


def lands_on(line: CutLine, key: Key) -> str:
    """The last chord that the line is played over, in a key."""
    symbols = chords_in(line, key)
    last = max((n for n, chord in enumerate(line.chords) if chord.played), default=len(symbols) - 1)
    return symbols[last].display


def keys_shown(
    line: CutLine,
    keys: Sequence[tuple[Key, Carried]],
    had: Iterable[LineKey],
    player: Instrument,
    at: int | None,
    now: dt.datetime,
) -> list[KeyShown]:
    """The twelve keys; the one to practise next is current where none is asked for."""
    by_tonic = {row.tonic: row for row in had}
    tonics = [tonic_of(key, player) for key, _ in keys]
    current = at if at is not None else _next(tonics, keys, by_tonic, now)
    rows = []
    for n, (key, carried) in enumerate(keys):
        row = by_tonic.get(tonics[n])
        tempo = (row.heard_tempo if row.state == "heard" else row.tempo or row.last_tempo) if row else None
        rows.append(
            KeyShown(n, key.display, lands_on(line, key), tonics[n], carried.line is not None,
                     row.state if row else "to do", tempo, n == current, bool(row and row.times and row.due <= now))
        )  # fmt: skip
    return rows


def _next(tonics: Sequence[int], keys: Sequence[tuple[Key, Carried]], had: dict[int, LineKey], now: dt.datetime) -> int:
    """What is due first; else the first key that is still to do and fits; else what is due next."""
    begun = sorted((had[tonic].due, n) for n, tonic in enumerate(tonics) if tonic in had and had[tonic].times)
    if begun and begun[0][0] <= now:
        return begun[0][1]
    new = (n for n, tonic in enumerate(tonics) if not (tonic in had and had[tonic].times) and keys[n][1].line)
    return next(new, begun[0][1] if begun else 0)


def next_tempo(row: LineKey | None) -> int:
    """The tempo to try next in a key."""
    return planning.next_tempo(row.last_tempo, row.last_went) if row and row.last_tempo else FIRST_TEMPO


# --- who plays it


@dataclass(frozen=True)
class PlayedBy:
    """One player of a line: keys as they read them, those that an instructor heard first."""

    user: Any
    keys: tuple[tuple[str, str, int | None], ...]  # name, state, tempo
    own: bool


def played_by(row: KeptLine, line: CutLine, asker: Any) -> list[PlayedBy]:
    """Who plays a line in which keys: everybody for who leads its ensemble, else those who let it be seen, and oneself. One query."""
    ensemble = row.solo.shared_with_id
    rows = LineKey.objects.filter(line=row).filter(Q(times__gt=0) | Q(heard_on__isnull=False)).select_related("user")
    if not (ensemble and leads(asker, ensemble)):
        rows = rows.filter(Q(user=asker) | Q(shown=True))
    people: dict[int, list[LineKey]] = {}
    for one in rows.order_by("user__name", "tonic"):
        people.setdefault(one.user_id, []).append(one)
    return [PlayedBy(had[0].user, _keys_of(had, line), had[0].user_id == asker.pk) for had in people.values()]


ORDER = {"heard": 0, "done": 1, "begun": 2, "to do": 3}


def _keys_of(had: Sequence[LineKey], line: CutLine) -> tuple[tuple[str, str, int | None], ...]:
    player = INSTRUMENTS.get(had[0].user.instrument)
    rows = sorted(had, key=lambda one: (ORDER[one.state], one.tonic))
    minor = any(chord.degree == "1" and chord.quality_class == "min" for chord in line.chords)
    return tuple(
        (lands_on(line, written_key(one.tonic, minor, player)), one.state, one.heard_tempo or one.tempo) for one in rows
    )


def written_key(tonic: int, minor: bool, player: Instrument | None) -> Key:
    """A key by its concert pitch class, as an instrument reads it."""
    names = (NoteName.from_fifths(fifths) for fifths in range(-6, 7))
    pc = (tonic + (player.interval.semitones if player else 0)) % 12
    name = next(name for name in names if name.pc == pc)
    return sensible(Key(name, "minor" if minor else "major"))


def practised(users: Sequence[int], tunes: Sequence[int]) -> list[dict[str, Any]]:
    """Evidence for a ledger: per player, tune and line how many keys are done and heard, the fastest tempo, the last time. One query;
    rows have user, tune, name, keys, heard, tempo, last."""
    held = Q(last_went__in=("steady", "with ease")) | Q(heard_on__isnull=False)
    rows = LineKey.objects.filter(user__in=users, line__solo__revision__version__tune__in=tunes).filter(
        Q(times__gt=0) | Q(heard_on__isnull=False)
    )
    grouped = rows.order_by().values("user", "line", "line__name", "line__solo__revision__version__tune").annotate(
        keys=Count("pk", filter=held), heard=Count("pk", filter=Q(heard_on__isnull=False)), best=Max("tempo"),
        heard_best=Max("heard_tempo"), last=Max("last_practised"), last_heard=Max("heard_on"),
    )  # fmt: skip
    return [
        {"user": row["user"], "tune": row["line__solo__revision__version__tune"], "name": row["line__name"],
         "keys": row["keys"], "heard": row["heard"], "tempo": max(row["best"] or 0, row["heard_best"] or 0) or None,
         "last": row["last"] or row["last_heard"]}
        for row in grouped.order_by("user", "line")
    ]  # fmt: skip
