"""Writing the practice log: what was played, what comes back when, which bars are settled."""

from __future__ import annotations

import datetime as dt
import hashlib
import json
from collections.abc import Iterable
from typing import Any

from django.db import IntegrityError, transaction
from django.db.models import Q
from django.urls import reverse
from django.utils import timezone

from drills import line_keys, planning, selectors
from drills.lines.build import title_of
from drills.models import LineKey, Practice, PracticeCue, PracticeHabit, PracticeItem
from drills.wishes import Wish
from studio.access import instrument_of
from studio.instruments import INSTRUMENTS
from studio.models import User
from tunes.access import holds
from tunes.harmony.charts.bar_count import bar_count
from tunes.models import ChartRevision
from tunes.solos.access import visible
from tunes.solos.taken import taken_from
from tunes.study import chart_of

HELD = ("steady", "with ease")


def digest_of(revision: ChartRevision, wish: Wish) -> str:
    """Names a drill of a tune, whatever the tempo, the revision or the layout."""
    recipe = wish.recipe.to_json() | {"tempo": 0}
    text = json.dumps([revision.version.tune_id, recipe, wish.order], sort_keys=True)
    return hashlib.sha256(text.encode()).hexdigest()


def record(
    *,
    user: User,
    revision: ChartRevision,
    wish: Wish,
    tempo: int,
    went: str,
    token: str,
    note: str = "",
    now: dt.datetime | None = None,
) -> Practice:
    """Log one practice and settle when the drill comes back. The same token twice is one practice."""
    now = now or timezone.now()
    done = Practice.objects.filter(user=user, token=token).first()
    if done is not None:
        return done
    try:
        with transaction.atomic():
            return _record(user, revision, wish, tempo, went, token, note, now)
    except IntegrityError:  # the other click was faster
        return Practice.objects.get(user=user, token=token)


def _record(
    user: User, revision: ChartRevision, wish: Wish, tempo: int, went: str, token: str, note: str, now: dt.datetime
) -> Practice:
    digest = digest_of(revision, wish)
    defaults = {"revision": revision, "title": title_of(wish.recipe), "due": now}
    PracticeItem.objects.get_or_create(user=user, digest=digest, defaults=defaults)
    item = PracticeItem.objects.select_for_update().get(user=user, digest=digest)
    practice = Practice.objects.create(
        user=user, item=item, revision=revision, tempo=tempo, went=went, note=note[:300], token=token, when=now
    )
    item.card, item.due = planning.next_card(item.card, went, now)
    item.revision, item.wish, item.title = (
        revision,
        wish.recipe.to_json() | {"order": wish.order},
        _title(wish, revision),
    )
    item.tempo, item.last_went, item.last_practised, item.times = tempo, went, now, item.times + 1
    item.save()
    if went in HELD:
        _settle(user, revision, wish, now)
    return practice


def _title(wish: Wish, revision: ChartRevision) -> str:
    recipe, where = wish.recipe, ""
    if recipe.first_bar:
        count = bar_count(chart_of(revision.text))
        where = f", {count.written_stretch(recipe.first_bar, recipe.last_bar or recipe.first_bar)}"
    keys = ", all twelve keys" if wish.order != "one" else ""
    return f"{title_of(recipe)}{where}{keys}"[:200]


def _settle(user: User, revision: ChartRevision, wish: Wish, now: dt.datetime) -> None:
    """Bars that went well are no longer waiting: those that the drill covered."""
    recipe = wish.recipe
    cues = PracticeCue.objects.filter(user=user, revision=revision, settled=None)
    if recipe.events is not None:
        return
    if recipe.first_bar:
        cues = cues.filter(Q(bar__gte=recipe.first_bar) & Q(bar__lte=recipe.last_bar or recipe.first_bar))
    cues.update(settled=now)


def cue_bars(
    *,
    user: User | int,
    revision: ChartRevision | int,
    bars: Iterable[int],
    why: str,
    source: str,
    when: dt.datetime | None = None,
) -> int:
    """Ask a player to come back to some bars, once for each `source`; returns how many are new.

    Other parts of the site call this (a marked quiz, a review); drills never look at where a cue came from. With
    `when` the cue is silent until then: a plan must not tell what was missed before the answers are out.
    """
    wanted = sorted(set(bars))
    if not wanted:
        return 0
    key = {"user_id": _pk(user), "revision_id": _pk(revision), "source": source[:80]}
    known = set(PracticeCue.objects.filter(**key).values_list("bar", flat=True))
    rows = [
        PracticeCue(**key, bar=bar, why=why[:200], created=when or timezone.now()) for bar in wanted if bar not in known
    ]
    PracticeCue.objects.bulk_create(rows, ignore_conflicts=True)
    return len(rows)


def _pk(row: Any) -> int:
    return row if isinstance(row, int) else int(row.pk)


def plan_for(user: User, *, size: int, now: dt.datetime | None = None) -> list[planning.Planned]:
    """The next session of a player, without tunes whose charts are closed to them for now."""
    return plan_and_closed(user, size=size, now=now)[0]


def plan_and_closed(
    user: User, *, size: int, also: Iterable[int] = (), now: dt.datetime | None = None
) -> tuple[list[planning.Planned], set[int]]:
    """The same, and which tunes (those of `also` among them) are closed: what is held back is asked once."""
    now = now or timezone.now()
    missed = [
        planning.Missed(
            cue.revision_id,
            cue.revision.version.tune_id,
            cue.revision.version.tune.title,
            cue.bar,
            cue.why,
            bar_count(chart_of(cue.revision.text)),
        )
        for cue in selectors.open_cues(user, now)[:60]
    ]
    items = list(selectors.items(user)[:200])
    known = [_known(item) for item in items]
    known += _lines(user)
    taken = _taken(user, {item.digest for item in items})
    rows: list[Any] = [*missed, *known, *taken]
    tunes = {row.tune for row in rows} | set(also)
    found = holds(user, tunes)
    shut = {tune for tune, hold in found.items() if hold.chords}
    unread = {tune for tune, hold in found.items() if hold.chords or hold.analysis}
    made = planning.plan(
        [row for row in missed if row.tune not in shut],
        [row for row in known if row.tune not in shut],
        now,
        size,
        [row for row in taken if row.tune not in unread],
    )
    return made, shut


def _lines(user: User) -> list[planning.Known]:
    """The lines that a player practises, key by key, of solos that they may still see. Two queries."""
    rows = LineKey.objects.filter(user=user, times__gt=0, line__solo__in=visible(user).order_by().values("pk"))
    player = INSTRUMENTS.get(instrument_of(user))
    found = []
    for row in rows.select_related("line__solo__revision__version__tune")[:120]:
        revision = row.line.solo.revision
        key = line_keys.written_key(row.tonic, "1min" in row.line.pattern.split(), player)
        title = f"{row.line.name or 'A line'}, in {key.display}"
        url = f"{reverse('drills:line', args=[row.line_id])}?tonic={row.tonic}"
        found.append(
            planning.Known(revision.pk, revision.version.tune_id, revision.version.tune.title, title, "line", {}, row.due,
                           row.last_practised, row.last_went, row.last_tempo, url)
        )  # fmt: skip
    return found


def _taken(user: User, known: set[str]) -> list[planning.Taken]:
    """What was taken from solos and has no practice of its own yet. `known`: digests of what is practised. Two queries."""
    rows = []
    for row in taken_from(user):
        revision = row.solo.revision
        bars = tuple(note["printed"] for note in row.notes)
        if bars:
            why = f"Taken from {row.solo.player} on {_day(row.since)}: {row.words}."
            rows.append(
                (
                    revision,
                    planning.Taken(
                        revision.pk,
                        revision.version.tune_id,
                        revision.version.tune.title,
                        bars,
                        why,
                        bar_count(chart_of(revision.text)),
                    ),
                )
            )
    digests = {digest_of(revision, Wish.from_query(planning.from_taken(one).wish)): one for revision, one in rows}
    return [one for digest, one in digests.items() if digest not in known]


def _day(when: dt.datetime) -> str:
    day = timezone.localtime(when)
    return f"{day.day} {day:%B}"


def _known(item: PracticeItem) -> planning.Known:
    tune = item.revision.version.tune
    wish: dict[str, Any] = {key: value for key, value in item.wish.items() if value not in ("", None, 0, False)}
    if "events" in wish:
        wish["events"] = "-".join(str(part) for part in wish["events"])
    return planning.Known(
        item.revision_id, tune.pk, tune.title, item.title, str(wish.get("kind", "")), wish, item.due,
        item.last_practised, item.last_went, item.tempo,
    )  # fmt: skip


def set_habit(*, user: User, rest_every: int, session: int) -> PracticeHabit:
    """Keep a player's wishes about rests and sessions."""
    habit, _ = PracticeHabit.objects.update_or_create(
        user=user, defaults={"rest_every": rest_every, "session": session}
    )
    return habit
