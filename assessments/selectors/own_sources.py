"""Where the questions of an own quiz come from: one tune, a mix, what was missed, or a progression over the repertoire."""

from __future__ import annotations

import random
from collections.abc import Iterable, Mapping
from functools import partial
from typing import Any

from django.utils import timezone

from drills.chord_scales import heard
from drills.kinds import kinds_that
from drills.question_kind import Needs
from drills.questions import build
from drills.questions.solo_notes import MOST
from studio.models import User
from tunes import repertoire
from tunes.models import ChartRevision, Idiom
from tunes.selectors import agreed_stamps, revisions_for_study
from tunes.solos.selectors import newest, solos
from tunes.study import ChartUnreadable, StudyChart, study_chart

from ..holds import answers_to_come
from ..issue import melody_for
from ..own_quiz import (
    ANY,
    MISSED,
    MIX,
    MOST_PARTS,
    PROGRESSION,
    TUNE,
    Wish,
    at_a_chord,
    drawn,
    how_many,
    kind_and_options,
    mixed,
    shares,
    some,
)  # fmt: skip
from .ledger import player_tunes
from .own_quiz import missed
from .solo_notes import windows

PLACES = 6  # of a progression, on one sheet
MOST_SOLOS = 200
LAST_BAR = 9999
Made = tuple[ChartRevision, str, str, list[Mapping[str, Any]]]  # chart, kind, home key, questions


class NothingToAsk(ValueError):
    """No quiz can be made of what was chosen; the message says why and what to choose instead."""


def made_of(player: User, wish: Wish, seed: int) -> list[Made]:
    """The questions of each tune that the wish leads to. Raises `NothingToAsk`."""
    if wish.kind in kinds_that(lambda kind: kind.needs is Needs.SOLO) and wish.source in (TUNE, MIX):
        return _of_solo(player, wish, seed)
    make = {TUNE: _of_tune, MISSED: _of_missed, PROGRESSION: _of_progression}.get(wish.source, _of_mix)
    return make(player, wish, seed)


def _study(revision: ChartRevision) -> StudyChart | None:
    try:
        return study_chart(revision)
    except ChartUnreadable:
        return None


def _asked(study: StudyChart, revision: ChartRevision, kind: str, options: Mapping[str, Any], seed: int) -> list[Any]:
    melody = melody_for(revision, [kind])
    return [q.to_json() for q in build(kind, study, options, seed, partial(heard, study, melody))]


def _open(player: User, tunes: Iterable[int]) -> set[int]:
    wanted = set(tunes)
    return wanted - set(answers_to_come(player, wanted))


def _of_tune(player: User, wish: Wish, seed: int) -> list[Made]:
    revision = (
        revisions_for_study().filter(version__tune=wish.tune, version__is_agreed=True).order_by("-number").first()
    )
    study = _study(revision) if revision else None
    if revision is None or study is None:
        raise NothingToAsk("This tune has no chart yet. Choose another tune.")
    if closed := answers_to_come(player, {wish.tune}):
        raise NothingToAsk(f"{revision.version.tune.title} is not asked for now. {closed[wish.tune]}")
    bars = tuple(range(wish.first, (wish.last or wish.first) + 1)) if wish.first else ()
    kinds = mixed()[:2] if wish.kind == ANY else (wish.kind,)
    made: list[Made] = []
    for kind, share in zip(kinds, shares(how_many(wish.minutes, wish.kind), len(kinds)), strict=True):
        name, options = kind_and_options(kind, wish.section)
        questions = _asked(study, revision, name, {**options, "bars": bars}, seed)
        made.append((revision, name, study.key.text, some(questions, share, seed)))
    return made


def _of_mix(player: User, wish: Wish, seed: int) -> list[Made]:
    """Tunes that the player has had to do with, else those of the whole repertoire."""
    stamps, tunes = agreed_stamps()
    own = set(player_tunes(player).values_list("pk", flat=True))
    open_tunes = _open(player, tunes.values())
    candidates = [pk for pk in stamps if tunes[pk] in open_tunes & own] or [
        pk for pk in stamps if tunes[pk] in open_tunes
    ]
    if not candidates:
        raise NothingToAsk(
            "No tune is open to be asked: finish what is assigned first, its answers would be told otherwise."
        )
    count = how_many(wish.minutes, wish.kind)
    chosen = drawn(candidates, count, seed)
    rows = {row.pk: row for row in revisions_for_study().filter(pk__in=chosen)}
    drawn_from = mixed() if wish.kind == ANY else (wish.kind,)
    made: list[Made] = []
    for place, (pk, share) in enumerate(zip(chosen, shares(count, len(chosen)), strict=True)):
        study = _study(rows[pk])
        if study is None:
            continue
        kind, options = kind_and_options(drawn_from[(seed + place) % len(drawn_from)])
        questions = _asked(study, rows[pk], kind, options, seed + place)
        made.append((rows[pk], kind, study.key.text, some(questions, share, seed + place)))
    return made


def _of_solo(player: User, wish: Wish, seed: int) -> list[Made]:
    """Notes of one solo that the player may read, of the chosen tune or of any that is open: a stretch of four bars, and what
    follows it while there is time."""
    readable: Any = solos(player)
    rows = list(readable.filter(notes_kept__gt=0)[:MOST_SOLOS])
    of_tune = [row for row in rows if wish.tune in (0, row.revision.version.tune_id)]
    open_tunes = _open(player, {row.revision.version.tune_id for row in of_tune})
    candidates = [row for row in of_tune if row.revision.version.tune_id in open_tunes]
    if not candidates:
        raise NothingToAsk(
            "No solo that you may read is open to be asked: write one down, or choose another tune or another kind."
        )
    solo = random.Random(seed).choice(candidates)
    kept = newest(solo)
    first, last = wish.first or 1, wish.last or wish.first or LAST_BAR
    stretches = [row for row in (windows(solo, kept) if kept else ()) if row[0] <= last and row[1] >= first]
    if not stretches:
        raise NothingToAsk(f"The solo of {solo.player} holds no note over a chord there. Choose other bars.")
    count = min(MOST, how_many(wish.minutes, wish.kind))
    notes = some([note for _, _, stretch in stretches for note in stretch], count, seed)
    revision = revisions_for_study().get(pk=solo.revision_id)
    study = _study(revision)
    if study is None:
        raise NothingToAsk("The chart of this solo cannot be read. Choose another tune.")
    return [(revision, wish.kind, study.key.text, _asked(study, revision, wish.kind, {"notes": notes}, seed))]


def _of_missed(player: User, wish: Wish, seed: int) -> list[Made]:
    rows = missed(player, timezone.now())
    open_tunes = _open(player, {row.tune for row in rows})
    rows = [row for row in rows if row.tune in open_tunes and wish.kind in (ANY, row.question["kind"])]
    if not rows:
        raise NothingToAsk(
            "Nothing that you missed in the last month is open to be asked. Choose a mix of tunes instead."
        )
    groups: dict[tuple[int, str], list[Any]] = {}
    for row in rows[: how_many(wish.minutes, wish.kind)]:
        groups.setdefault((row.revision, row.question["kind"]), []).append(row)
    revisions = ChartRevision.objects.select_related("version__tune").in_bulk({pk for pk, _ in groups})
    return [
        (revisions[pk], kind, found[0].home, [dict(row.question) for row in found])
        for (pk, kind), found in sorted(groups.items())
        if pk in revisions and found[0].home
    ]


def _of_progression(player: User, wish: Wish, seed: int) -> list[Made]:
    """The places of one progression over the repertoire, each in another tune as far as there are any."""
    idiom = Idiom.objects.filter(pk=wish.progression).first()
    kind = wish.kind if wish.kind in at_a_chord() else at_a_chord()[0]
    if idiom is None:
        raise NothingToAsk("Choose a progression.")
    agreed = agreed_stamps()
    hidden = set(answers_to_come(player, set(agreed[1].values())))
    try:
        found = list(repertoire.places(idiom, hidden=hidden, agreed=agreed)[:200])
    except ValueError as problem:
        raise NothingToAsk(f"The pattern of “{idiom.name}” cannot be read: {problem}") from problem
    by_chart: dict[int, list[Any]] = {}
    for pk, place in found:
        by_chart.setdefault(pk, []).append(place)
    if not by_chart:
        raise NothingToAsk(f"“{idiom.name}” stands in no chart that is open to be asked.")
    chosen = drawn(list(by_chart), 3 * min(MOST_PARTS, len(by_chart)), seed)
    rows = {row.pk: row for row in revisions_for_study().filter(pk__in=chosen)}
    made: list[Made] = []
    for pk in chosen:
        if (study := _study(rows[pk])) is None:
            continue
        events = {e for place in by_chart[pk][: PLACES // len(chosen) + 1] for e in _events(place, len(study.events))}
        questions = [
            q for q in _asked(study, rows[pk], kind, {"every_section": True}, seed) if int(q["key"]["event"]) in events
        ]
        made.append((rows[pk], kind, study.key.text, questions))
    return made


def _events(place: Any, count: int) -> list[int]:
    last = place.last if place.last >= place.first else place.last + count
    return [event % count for event in range(place.first, last + 1)]
