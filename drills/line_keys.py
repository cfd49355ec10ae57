"""A line's twelve keys for a page: how far a player is in each, which comes next, who else plays it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from django.db.models import CharField, Count, Max, Q, QuerySet, Value
from django.db.models.functions import Coalesce, Greatest

from drills import planning
from drills.models import KeptLine, LineKey, Practice
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
from studio.models import Membership, User
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


def players_of(row: KeptLine) -> QuerySet[User]:
    """The players of the ensemble that a line's solo is shared with, by name."""
    chairs = Membership.objects.filter(ensemble=row.solo.shared_with_id, role=Membership.Role.PLAYER)
    return User.objects.filter(pk__in=chairs.values("user")).order_by("name")


@dataclass(frozen=True)
class PlayedBy:
    """One player of a line: keys as they read them, those that an instructor heard first."""

    user: Any
    keys: tuple[tuple[str, str, int | None], ...]  # name, state, tempo
    own: bool


def keys_of(row: KeptLine) -> list[LineKey]:
    """Everybody's keys of a line that were practised or heard. One query."""
    rows = LineKey.objects.filter(line=row).filter(Q(times__gt=0) | Q(heard_on__isnull=False))
    return list(rows.select_related("user", "heard_by").order_by("user__name", "tonic"))


def played_by(rows: Sequence[LineKey], row: KeptLine, line: CutLine, asker: Any) -> list[PlayedBy]:
    """Who plays a line in which keys: everybody for who leads its ensemble, else those who let it be seen, and oneself."""
    ensemble = row.solo.shared_with_id
    seen = (
        rows if ensemble and leads(asker, ensemble) else [one for one in rows if one.shown or one.user_id == asker.pk]
    )
    people: dict[int, list[LineKey]] = {}
    for one in seen:
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


def work_alone(users: Sequence[int], tunes: Sequence[int]) -> list[dict[str, Any]]:
    """Evidence for a ledger: drills of a tune and lines from solos on it. One query; rows have kind ("drills" or "line"), user, tune,
    name of the line, count (practices; for a line its keys that are done), heard (keys that an instructor heard), tempo (the
    fastest), last."""
    drills = Practice.objects.filter(user__in=users, revision__version__tune__in=tunes).order_by()
    drilled = drills.values("user", "revision__version__tune").annotate(
        kind=Value("drills"), line=Value(0), name=Value("", CharField()), count=Count("pk"), heard=Value(0), best=Max("tempo"), latest=Max("when"),
    )  # fmt: skip
    held = Q(last_went__in=(Practice.Went.STEADY, Practice.Went.WITH_EASE)) | Q(heard_on__isnull=False)
    lines = LineKey.objects.filter(Q(times__gt=0) | Q(heard_on__isnull=False), user__in=users).order_by()
    lines = lines.filter(line__solo__revision__version__tune__in=tunes)
    tempo = Greatest(Coalesce("tempo", 0), Coalesce("heard_tempo", 0))
    kept = lines.values("user", "line__solo__revision__version__tune", "line__name", "line").annotate(
        kind=Value("line"), count=Count("pk", filter=held), heard=Count("heard_on"), best=Max(tempo),
        latest=Max(Coalesce("last_practised", "heard_on")),
    )  # fmt: skip
    rows = drilled.values_list("kind", "user", "revision__version__tune", "line", "name", "count", "heard", "best", "latest").union(
        kept.values_list("kind", "user", "line__solo__revision__version__tune", "line", "line__name", "count", "heard", "best", "latest"),
        all=True,
    )  # fmt: skip
    names = ("kind", "user", "tune", "line", "name", "count", "heard", "tempo", "last")
    return [dict(zip(names, row, strict=True)) for row in sorted(rows, key=lambda row: row[:4])]
