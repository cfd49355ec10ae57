"""What stands open on a ledger's page beside the evidence: handed in and waiting, being written, late. Two queries a page."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from django.db.models import F
from django.utils import timezone

from studio.models import Membership
from tunes.models import Tune

from ..learned import Standing
from ..models import Attempt
from .done import Among, is_begun, running
from .ledger import LedgerRow
from .review import not_done

Place = tuple[int, int, str]  # player, tune, kind of step


@dataclass(frozen=True)
class Now:
    """By place: whose newest go waits for review, whose is being written, and since when a step is late."""

    sent: frozenset[Place]
    begun: frozenset[Place]
    late: dict[Place, datetime]

    def on(self, player: int, tune: int, found: Standing) -> Standing:
        """A standing that knows it."""
        steps = (
            replace(
                step,
                sent=(player, tune, step.kind) in self.sent,
                begun=bool(step.facts) or (player, tune, step.kind) in self.begun,
                late=self.late.get((player, tune, step.kind)),
            )
            for step in found.steps
        )
        return replace(found, steps=tuple(steps))


def now_of(players: Collection[int], tunes: Collection[int]) -> Now:
    """What stands open for these players on these tunes, in terms that run."""
    rows = Attempt.objects.filter(is_begun(), player__in=players, step__assignment__tune__in=tunes, superseded=False)
    states = set(rows.order_by().values_list("player", "step__assignment__tune", "step__kind", "status"))
    waiting = frozenset(row[:3] for row in states if row[3] == Attempt.Status.HANDED_IN)
    written = frozenset(row[:3] for row in states if row[3] in (Attempt.Status.OPEN, Attempt.Status.RETURNED))
    return Now(waiting, written, _late(players, tunes))


def _late(players: Collection[int], tunes: Collection[int]) -> dict[Place, datetime]:
    """The earliest date that has passed with the step not done, a player's own later date reckoned in."""
    steps = "ensemble__assignments__steps"
    chairs = Membership.objects.filter(
        role=Membership.Role.PLAYER,
        user__in=players,
        ensemble__assignments__tune__in=tunes,
        ensemble__assignments__closed=None,
        **{f"{steps}__due__lt": timezone.now(), f"{steps}__closed": None},
        **running("ensemble__"),
    ).annotate(
        step_id=F(f"{steps}__id"),
        step_kind=F(f"{steps}__kind"),
        due=F(f"{steps}__due"),
        times=F(f"{steps}__times"),
        tune_id=F("ensemble__assignments__tune"),
    )
    late: Any = not_done(chairs, Among(tunes=tuple(tunes)))
    found: dict[Place, datetime] = {}
    for player, tune, kind, due in late.order_by().values_list("user", "tune_id", "step_kind", "due"):
        place = (player, tune, kind)
        found[place] = min(due, found.get(place, due))
    return found


def with_now(rows: Sequence[LedgerRow], tunes: Iterable[Tune]) -> list[LedgerRow]:
    """The rows of a ledger, each standing with what stands open."""
    now = now_of([row.player.pk for row in rows], [tune.pk for tune in tunes])
    return [
        replace(row, cells=tuple((tune, now.on(row.player.pk, tune.pk, found)) for tune, found in row.cells))
        for row in rows
    ]
