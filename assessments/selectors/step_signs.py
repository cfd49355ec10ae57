"""How far an ensemble is with a step, a sign for each player and the same in words: for the heads of the queue."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable
from dataclasses import dataclass

from studio.models import Membership

from ..models import Attempt, Step
from .done import is_begun

MOST_DRAWN = 24  # players; more are said in words alone
_SIGN = {
    Attempt.Status.REVIEWED: "done",
    Attempt.Status.HANDED_IN: "sent",
    Attempt.Status.OPEN: "begun",
    Attempt.Status.RETURNED: "begun",
}
_ORDER = ("done", "sent", "begun", "to-do")
_WORDS = {"done": "reviewed", "sent": "to review", "begun": "being written", "to-do": "not begun"}


@dataclass(frozen=True)
class StepSigns:
    """The players of one step by sign, the furthest first. Nobody is named: the signs stand for a number, not for a place."""

    counts: tuple[tuple[str, int], ...]

    @property
    def signs(self) -> tuple[str, ...]:
        """A sign for each player; none where there are too many to draw."""
        drawn = tuple(sign for sign, count in self.counts for _ in range(count))
        return drawn if len(drawn) <= MOST_DRAWN else ()

    @property
    def words(self) -> str:
        """ "8 reviewed, 4 to review, 3 not begun"."""
        return ", ".join(f"{count} {_WORDS[sign]}" for sign, count in self.counts)


def step_signs(steps: Iterable[Step]) -> dict[int, StepSigns]:
    """For each step by id: two queries, however many."""
    asked = {step.pk: step.assignment.ensemble_id for step in steps}
    chairs = Membership.objects.filter(ensemble__in=set(asked.values()), role=Membership.Role.PLAYER)
    players: dict[int, set[int]] = defaultdict(set)
    for ensemble, user in chairs.order_by().values_list("ensemble", "user"):
        players[ensemble].add(user)
    newest: dict[int, dict[int, str]] = defaultdict(dict)
    rows = Attempt.objects.filter(is_begun(), step__in=asked, superseded=False).order_by("number")
    for step, player, status in rows.values_list("step", "player", "status"):
        newest[step][player] = _SIGN[Attempt.Status(status)]
    found = {}
    for step, ensemble in asked.items():
        counts = Counter(newest[step].get(player, "to-do") for player in players[ensemble])
        found[step] = StepSigns(tuple((sign, counts[sign]) for sign in _ORDER if counts[sign]))
    return found
