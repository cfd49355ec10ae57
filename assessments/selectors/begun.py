"""How far each player of an ensemble is with an assignment: who has not begun, who has not finished, who was reminded."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.db.models import Count, F, OuterRef, Q, Subquery
from django.urls import reverse
from django.utils import timezone

from studio.models import Membership, Notice, User
from tunes.models import Listening as LogEntry

from ..kinds import IN_PERSON, LOG
from ..models import Assignment, Attempt, Listening, SignOff, Step
from .done import is_begun
from .review import StepCount

REMINDER = "reminder"  # the kind of notice
QUIET_FOR = timedelta(days=3)  # whoever was reminded so lately is not ticked again


@dataclass(frozen=True)
class Progress:
    """One player and one assignment: how many of its steps are `done`, how many `begun` (done ones among them)."""

    player: User
    begun: int
    done: int
    of: int
    reminded: datetime | None = None

    @property
    def finished(self) -> bool:
        return self.done >= self.of

    @property
    def lately(self) -> bool:
        """Reminded within the last days."""
        return self.reminded is not None and self.reminded > timezone.now() - QUIET_FOR


@dataclass(frozen=True)
class Waiting:
    """Whom an assignment waits for."""

    players: tuple[Progress, ...]
    counts: tuple[StepCount, ...]

    @property
    def not_begun(self) -> tuple[Progress, ...]:
        return tuple(row for row in self.players if not row.begun and row.of)

    @property
    def on_the_way(self) -> tuple[Progress, ...]:
        return tuple(row for row in self.players if row.begun and not row.finished)


def waiting_for(assignment: Assignment, steps: Sequence[Step]) -> Waiting:
    """Every player of the ensemble with how far they are, and how far every step is; four queries."""
    chairs = Membership.objects.filter(ensemble=assignment.ensemble_id, role=Membership.Role.PLAYER)
    told = Notice.objects.filter(kind=REMINDER, url=assignment_url(assignment), user=OuterRef("pk")).order_by(
        "-created"
    )
    players = list(
        User.objects.filter(pk__in=chairs.values("user"))
        .annotate(reminded=Subquery(told.values("created")[:1]))
        .order_by("name", "pk")
    )
    rows = list(
        Attempt.objects.filter(is_begun(), step__in=[step.pk for step in steps])
        .order_by("number")
        .values_list("step", "player", "status", "late")
    )
    heard, signed = heard_by_tune([assignment], steps), signed_for([assignment])
    asked = [step for step in steps if not step.is_closed]
    marks: Steps = defaultdict(lambda: (set(), set()))
    for step_id, player, status, _ in rows:
        if any(step.pk == step_id for step in asked):
            _mark(marks, player, step_id, done=status not in (Attempt.Status.OPEN, Attempt.Status.RETURNED))
    for step in asked:
        for player, done in logged_on(step, assignment, heard, signed):
            _mark(marks, player, step.pk, done=done)
    found = (
        Progress(player, len(marks[player.pk][0]), len(marks[player.pk][1]), len(asked), player.reminded)
        for player in players
    )
    return Waiting(tuple(found), tuple(_counted(s, rows, assignment, heard, signed, len(players)) for s in steps))


def _counted(
    step: Step,
    rows: Sequence[tuple[int, int, str, bool]],
    assignment: Assignment,
    heard: Heard,
    signed: Signed,
    of: int,
) -> StepCount:
    """One step over the ensemble."""
    if step.about.how in (LOG, IN_PERSON):
        done = sum(done for _, done in logged_on(step, assignment, heard, signed))
        return StepCount(step, of, done, 0, 0, done)
    mine = [row for row in rows if row[0] == step.pk]
    status = Attempt.Status
    return StepCount(
        step,
        of,
        len({row[1] for row in mine if row[2] != status.OPEN}),
        len({row[1] for row in mine if row[3]}),
        sum(row[2] == status.HANDED_IN for row in mine),
        len({row[1] for row in mine if row[2] == status.REVIEWED}),
    )


def begun_counts(
    assignments: Sequence[Assignment], steps: Sequence[Step]
) -> dict[int, tuple[set[int], dict[int, int]]]:
    """For each assignment, the players who have begun any of its steps, and by player how many of their sheets wait for
    review: three queries for all of them."""
    found: dict[int, tuple[set[int], dict[int, int]]] = {row.pk: (set(), {}) for row in assignments}
    sheets = Count("pk", filter=Q(status=Attempt.Status.HANDED_IN, superseded=False))
    asked = [step.pk for step in steps if not step.is_closed]
    pairs = Attempt.objects.filter(is_begun(), step__in=asked).order_by().values_list("step__assignment", "player")
    for pk, player, count in pairs.annotate(sheets=sheets):
        found[pk][0].add(player)
        found[pk][1][player] = count
    by_id = {row.pk: row for row in assignments}
    heard, signed = heard_by_tune(assignments, steps), signed_for(assignments)
    for step in steps:
        for player, _ in () if step.is_closed else logged_on(step, by_id[step.assignment_id], heard, signed):
            found[step.assignment_id][0].add(player)
    return found


Steps = dict[int, tuple[set[int], set[int]]]  # player → ids of the steps begun, and of those done
Heard = dict[int, dict[int, int]]  # tune → player → how often
Signed = dict[tuple[int, int], set[int]]  # tune and ensemble → players


def logged_on(step: Step, assignment: Assignment, heard: Heard, signed: Signed) -> list[tuple[int, bool]]:
    """Players who have something of a step that has no attempts, and whether it is all that is asked."""
    if step.about.how == LOG:
        return [(player, times >= step.times) for player, times in heard.get(assignment.tune_id, {}).items()]
    if step.about.how == IN_PERSON:
        return [(player, True) for player in signed.get((assignment.tune_id, assignment.ensemble_id), ())]
    return []


def _mark(found: Steps, player: int, step: int, *, done: bool) -> None:
    begun, finished = found[player]
    begun.add(step)
    (finished.add if done else finished.discard)(step)


def heard_by_tune(assignments: Iterable[Assignment], steps: Iterable[Step]) -> Heard:
    """How often each player has heard the tunes of listening steps: one query, none without such a step."""
    logs = {step.assignment_id for step in steps if step.about.how == LOG}
    tunes = {row.tune_id for row in assignments if row.pk in logs}
    found: Heard = defaultdict(lambda: defaultdict(int))
    if not tunes:
        return found
    logged = LogEntry.objects.filter(recording__tune__in=tunes).order_by()
    others = Listening.objects.filter(step__assignment__tune__in=tunes, recording=None).order_by()
    times = [
        rows.annotate(tune=F(name)).values_list("tune", "player").annotate(times=Count("id"))
        for rows, name in ((logged, "recording__tune"), (others, "step__assignment__tune"))
    ]
    for tune, player, count in times[0].union(times[1], all=True):
        found[tune][player] += count
    return found


def signed_for(assignments: Iterable[Assignment]) -> Signed:
    rows = SignOff.objects.filter(
        taken_back=None,
        tune__in={row.tune_id for row in assignments},
        ensemble__in={row.ensemble_id for row in assignments},
    )
    found: Signed = defaultdict(set)
    for tune, ensemble, player in rows.order_by().values_list("tune", "ensemble", "player"):
        found[tune, ensemble].add(player)
    return found


def assignment_url(assignment: Assignment) -> str:
    return reverse("work:assignment", args=[assignment.pk])


def next_due(steps: Iterable[Step]) -> datetime | None:
    """The nearest date to come among steps that are asked."""
    now = timezone.now()
    return min((step.due for step in steps if step.due and step.due > now and not step.is_closed), default=None)
