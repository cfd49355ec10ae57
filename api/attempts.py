"""One attempt as its reader may see it: the player before and after release, the instructor always."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from typing import Any

from django.db.models import Q
from django.shortcuts import get_object_or_404
from django.utils import timezone

from api.serializers.work import OneAttemptSerializer
from assessments.access import attempts_led, own_attempts
from assessments.bars import Bars
from assessments.kinds import QUIZ
from assessments.models import Answer, Attempt, Comment, Mark, MarkOverride, Quiz
from assessments.release import when_out
from assessments.selectors.by_ear import shows_chords
from assessments.selectors.desk import goes_left, is_out, release_of
from assessments.selectors.quiz import pitch_of
from drills.questions import prompt_for
from tunes.access import refuse_held_chords
from tunes.study import chart_of


def shown_ids(user: Any, attempts: Sequence[Attempt]) -> set[int]:
    """Of these attempts, the ids whose marks `user` may see: one query. All that are not their own are led by them."""
    own = {a.step_id for a in attempts if a.player_id == user.pk}
    groups: dict[int, list[Attempt]] = defaultdict(list)
    for attempt in own_attempts(user).filter(step__in=own):
        groups[attempt.step_id].append(attempt)
    now = timezone.now()
    out = {a.pk for group in groups.values() for a in group if is_out(a.step, a, group, now)}
    return out | {a.pk for a in attempts if a.player_id != user.pk and not a.is_open}


def attempt_body(user: Any, pk: int) -> dict[str, Any]:
    """`OneAttemptSerializer`'s shape; 404 for an attempt that is neither one's own nor to be reviewed."""
    mine = Q(player=user)
    led = Q(pk__in=attempts_led(user).exclude(status=Attempt.Status.OPEN).order_by().values("pk"))
    rows = Attempt.objects.filter(mine | led).select_related("step__assignment__revision", "player")
    attempt = get_object_or_404(rows.defer("step__assignment__revision__analysis"), pk=pk)
    bars = Bars(chart_of(attempt.step.assignment.revision.text))
    group = list(Attempt.objects.filter(step=attempt.step_id, player=attempt.player_id))
    shown = attempt.player_id != user.pk or is_out(attempt.step, attempt, group, timezone.now())
    keep_closed(user, attempt, out=shown)
    quiz = Quiz.objects.filter(step=attempt.step_id).defer("questions").first()
    whole = _Whole(
        attempt,
        [{**q, "prompt": prompt_for(q, attempt.written)} for q in bars.told(quiz.asked)] if quiz else [],
        mark_bodies([attempt])[attempt.pk] if shown else [],
        group,
    )
    return dict(OneAttemptSerializer(whole, context={"shown": {attempt.pk} if shown else set(), "bars": bars}).data)  # type: ignore[arg-type]


def keep_closed(user: Any, attempt: Attempt, *, out: bool = False) -> None:
    """403 where a player's own attempt would tell chords that they are still to take down by ear."""
    if attempt.player_id == user.pk and attempt.step.about.how == QUIZ and shows_chords(attempt.step.kind, out=out):
        refuse_held_chords(user, attempt.step.assignment.tune_id)


class _Whole:
    """An attempt with its parts under the names that the serializer reads."""

    def __init__(
        self, attempt: Attempt, questions: list[Any], marks: list[dict[str, Any]], group: Sequence[Attempt]
    ) -> None:
        at = attempt.step.assignment
        self._attempt, self.questions, self.marks = attempt, questions, marks
        self.pitch, self.goes_left = pitch_of(attempt), goes_left(at, group)
        self.answers_come = when_out(release=release_of(attempt.step), due=attempt.step.due)
        self.submissions = attempt.submissions.all()
        self.answers = Answer.objects.filter(attempt=attempt)
        self.comments = Comment.objects.filter(attempt=attempt).select_related("by")

    def __getattr__(self, name: str) -> Any:
        return getattr(self._attempt, name)


def mark_bodies(attempts: Sequence[Attempt]) -> dict[int, list[dict[str, Any]]]:
    """Attempt → its marks as they count: two queries."""
    ids = [attempt.pk for attempt in attempts]
    overrides = {
        (row.attempt_id, row.question): row for row in MarkOverride.objects.filter(attempt__in=ids).order_by("id")
    }
    found: dict[int, list[dict[str, Any]]] = defaultdict(list)
    for row in Mark.objects.filter(attempt__in=ids).order_by("attempt", "position"):
        found[row.attempt_id].append(_mark(row, overrides.get((row.attempt_id, row.question))))
    return found


def _mark(row: Mark, override: MarkOverride | None) -> dict[str, Any]:
    said = override if override and override.rule else row
    return {
        "question": row.question,
        "answer": row.answer,
        "understood": row.understood,
        "rule": said.rule,
        "feedback": said.feedback,
        "computed": row.points,
        "points": override.points if override else row.points,
        "override_reason": override.reason if override else None,
    }
