"""What a player has to do next, how far each step is, and what may be seen of it."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import Any

from django.db.models import Case, Count, F, Q, QuerySet, When
from django.utils import timezone

from studio.access import may_be_asked
from studio.models import User
from tunes.models import Listening as LogEntry

from ..access import steps_played
from ..kinds import HAND_IN, IN_PERSON, LOG, closing_kinds
from ..models import Assignment, Attempt, Leeway, Listening, SignOff, Step
from ..release import HAND_IN as HAND_IN_RELEASE
from ..release import LAST, answers_out, when_out
from .by_ear import open_by_ear, waits_for_chart
from .done import ASKED, latest_status, running, signed_off, times_heard

TO_DO, WRITING, SENT, BACK, DONE = "to-do", "writing", "sent", "back", "done"
WORDS = {TO_DO: "To do", WRITING: "Begun", SENT: "Handed in", BACK: "For another go", DONE: "Done"}


@dataclass(frozen=True)
class StepState:
    """One step as one player sees it. `latest` and `best` are None until marks may be seen."""

    step: Step
    state: str
    attempts: tuple[Attempt, ...] = ()
    heard: int = 0
    heard_today: bool = False  # where the desk asks (`today`)
    signed: SignOff | None = None
    goes_left: int = 0
    out: bool = False
    overdue: bool = False
    excused: bool = False
    closed: bool = False  # its page shows chords that the player is still to take down by ear

    @property
    def shows(self) -> str:
        """The state that signs and words tell: a first go without an answer is still to do."""
        opened = self.state == WRITING and len(self.attempts) == 1 and not getattr(self.attempts[0], "filled", 1)
        return TO_DO if opened else self.state

    @property
    def word(self) -> str:
        return WORDS[self.shows]

    @property
    def last(self) -> Attempt | None:
        return self.attempts[-1] if self.attempts else None

    @property
    def shown(self) -> list[Attempt]:
        """Marked attempts whose marks may be seen."""
        return [a for a in self.attempts if a.points is not None] if self.out else []

    @property
    def best(self) -> int | None:
        return max((a.percent or 0 for a in self.shown), default=None)

    @property
    def latest(self) -> int | None:
        return self.shown[-1].percent if self.shown else None

    @property
    def answers_come(self) -> str:
        return when_out(release=release_of(self.step), due=self.step.due)


def goes_left(assignment: Assignment, attempts: Sequence[Attempt]) -> int:
    """How many more times the player may start: each attempt returned for another go gives one back."""
    returned = sum(a.status == Attempt.Status.RETURNED for a in attempts)
    return max(0, assignment.attempts_allowed + returned - len(attempts))


def release_of(step: Step) -> str:
    """When the answers of a step come. Handing in changes by ear opens the charts, so that no further go counts by
    itself: the first one is the last that answers could wait for."""
    release: str = step.assignment.release
    return HAND_IN_RELEASE if step.kind in closing_kinds() and release == LAST else release


def is_out(step: Step, attempt: Attempt, attempts: Sequence[Attempt], now: datetime) -> bool:
    """May the player see marks and answers of this attempt?"""
    at = step.assignment
    open_ones = sum(a.is_open for a in attempts)
    return answers_out(
        release=release_of(step),
        released_at=at.released_at,
        due=step.due,
        now=now,
        handed_in=not attempt.is_open,
        goes_left=_left(step, attempts) + open_ones,
    )


def _left(step: Step, attempts: Sequence[Attempt]) -> int:
    return 0 if step.is_closed else goes_left(step.assignment, attempts)


def states_of(player: User, steps: Iterable[Step]) -> list[StepState]:
    """The state of each step for one player: five queries, however many steps. A player who has a later date than the
    others has it as the date of the step here; whoever is excused is told so."""
    steps = list(steps)
    own = {row.step_id: row for row in Leeway.objects.filter(player=player, step__in=[step.pk for step in steps])}
    for step in steps:
        if (row := own.get(step.pk)) is not None:
            step.due = None if row.excused else row.due or step.due
            step.excused = row.excused  # type: ignore[attr-defined]
    ids = [step.pk for step in steps]
    attempts: dict[int, list[Attempt]] = defaultdict(list)
    rows = (
        Attempt.objects.filter(player=player, step__in=ids)
        .annotate(filled=Count("answers", filter=~Q(answers__text="")))
        .order_by("number")
    )
    for made in rows:
        attempts[made.step_id].append(made)
    heard = heard_by_step(player, steps)
    signed = {
        (s.tune_id, s.ensemble_id): s
        for s in SignOff.objects.filter(
            player=player, taken_back__isnull=True, tune__in={step.assignment.tune_id for step in steps}
        ).select_related("by")
    }
    now = timezone.now()
    states = [
        state_of(
            step,
            tuple(attempts[step.pk]),
            heard.get(step.pk, 0),
            signed.get((step.assignment.tune_id, step.assignment.ensemble_id)),
            now,
        )
        for step in steps
    ]
    return _with_closed(player, states)


def _with_closed(player: User, states: list[StepState]) -> list[StepState]:
    """What waits for the player's changes by ear is marked as closed."""
    held = [s for s in states if waits_for_chart(s.step.kind, out=s.out, over=s.state in (DONE, SENT))]
    if not held or not may_be_asked(player):
        return states
    shut = open_by_ear(player, {s.step.assignment.tune_id for s in held})
    waiting = {s.step.pk for s in held if s.step.assignment.tune_id in shut}
    return [replace(s, closed=s.step.pk in waiting) for s in states]


def quiz_state(step: Step, attempts: Sequence[Attempt]) -> StepState:
    """The state of one quiz step from the player's attempts, already read. No query."""
    return state_of(step, tuple(attempts), 0, None, timezone.now())


@dataclass(frozen=True)
class Hearing:
    """One entry of a player's listening log for one tune."""

    on: date
    heard: str
    noticed: str


def hearings(player: User, step: Step, most: int = 40) -> list[Hearing]:
    """What the player has heard of the step's tune, the newest first: two queries."""
    logged = LogEntry.objects.filter(player=player, recording__tune=step.assignment.tune_id).select_related("recording")
    others = Listening.objects.filter(player=player, step__assignment__tune=step.assignment.tune_id, recording=None)
    rows = [Hearing(timezone.localdate(row.heard_on), str(row.recording), row.noticed) for row in logged[:most]]
    rows += [Hearing(row.on, row.heard, row.noticed) for row in others[:most]]
    return sorted(rows, key=lambda row: row.on, reverse=True)[:most]


def heard_by_step(player: User, steps: Sequence[Step]) -> dict[int, int]:
    """How often the player has heard the tune of each listening step: two queries, none without such a step."""
    tunes = {step.assignment.tune_id for step in steps if step.about.how == LOG}
    if not tunes:
        return {}
    times = Counter(
        LogEntry.objects.filter(player=player, recording__tune__in=tunes).values_list("recording__tune", flat=True)
    )
    times.update(
        Listening.objects.filter(player=player, step__assignment__tune__in=tunes, recording=None).values_list(
            "step__assignment__tune", flat=True
        )
    )
    return {step.pk: times[step.assignment.tune_id] for step in steps if step.about.how == LOG}


def state_of(step: Step, attempts: tuple[Attempt, ...], heard: int, signed: SignOff | None, now: datetime) -> StepState:
    """The state of one step from rows already read. No query."""
    for attempt in attempts:
        attempt.step = step
    word = _word(step, attempts, heard, signed)
    return StepState(
        step=step,
        state=word,
        attempts=attempts,
        heard=heard,
        signed=signed if step.about.how == IN_PERSON else None,
        goes_left=_left(step, attempts),
        out=bool(attempts) and any(is_out(step, a, attempts, now) for a in attempts),
        excused=getattr(step, "excused", False),
        overdue=bool(step.due and step.due < now and not step.is_closed and word in (TO_DO, WRITING, BACK)),
    )


def _word(step: Step, attempts: tuple[Attempt, ...], heard: int, signed: SignOff | None) -> str:
    how = step.about.how
    if how == IN_PERSON:
        return DONE if signed else TO_DO
    if how == LOG:
        return DONE if heard >= step.times else WRITING if heard else TO_DO
    if not attempts:
        return TO_DO
    status = attempts[-1].status
    if status == Attempt.Status.OPEN:
        return WRITING
    if status == Attempt.Status.RETURNED:
        return BACK
    return SENT if how == HAND_IN and status == Attempt.Status.HANDED_IN else DONE


def undone_steps(user: Any) -> QuerySet[Step]:
    """Steps of the player's ensembles, in terms that have not ended, that are not done: the nearest due first.

    An overdue sign-off comes after everything that the player can still do alone: for it they can only ask.
    """
    to_send = Q(latest__isnull=True) | Q(latest__in=[Attempt.Status.OPEN, Attempt.Status.RETURNED])
    asked_for = Case(When(kind="sign-off", due__lt=timezone.now(), then=1), default=0)
    return (
        steps_played(user)
        .filter(**ASKED, **running("assignment__ensemble__"))
        .exclude(pk__in=Leeway.objects.filter(player=user, excused=True).values("step"))
        .annotate(
            latest=latest_status("pk", user),
            heard=times_heard("assignment__tune", user),
            signed=signed_off("assignment__tune", "assignment__ensemble", user),
        )
        .filter(to_send)
        .exclude(kind="listening", heard__gte=F("times"))
        .exclude(kind="sign-off", signed=True)
        .order_by(asked_for, F("due").asc(nulls_last=True), "assignment__created", "position")
    )


def desk_states(
    user: User, assignments: Sequence[Assignment], coming: Sequence[Step] = ()
) -> tuple[list[StepState], list[tuple[Assignment, list[StepState]]]]:
    """The states of the steps that are `coming`, and assignments (steps prefetched) with theirs: three queries."""
    steps = list(coming)
    for assignment in assignments:
        for step in assignment.steps.all():
            step.assignment = assignment
            steps.append(step)
    found: dict[int, list[StepState]] = defaultdict(list)
    states = states_of(user, steps)
    for state in states[len(coming) :]:
        found[state.step.assignment_id].append(state)
    return states[: len(coming)], [(assignment, found[assignment.pk]) for assignment in assignments]


def leeways_of(assignment: Assignment) -> list[Leeway]:
    """Later dates and excuses of single players, by name. One query."""
    rows = Leeway.objects.filter(step__assignment=assignment).select_related("player", "step__assignment", "by")
    return list(rows.order_by("player__name", "player", "step__position"))
