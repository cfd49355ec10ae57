"""Starting an attempt, handing it in, sending something to be heard, logging what was heard."""

from __future__ import annotations

import uuid
from datetime import date, datetime, time
from typing import Any

from django.core.files.uploadedfile import UploadedFile
from django.db import IntegrityError, transaction
from django.utils import timezone

from drills.kinds import question_kind
from drills.models import Take
from drills.takes.services import give
from studio.happenings import Kind, happened
from studio.instruments import INSTRUMENTS
from studio.models import Membership, User
from tunes.harmony.charts import parse_chart
from tunes.harmony.pitch.spelling import UNISON, Key, sensible, transposition
from tunes.models import Listening as LogEntry
from tunes.models import Recording, SoloRevision
from tunes.recordings.services import log_listening

from ..bars import Bars
from ..kinds import BY_HEART
from ..marks import Marked, mark_answers
from ..models import Answer, Assignment, Attempt, Listening, Mark, Quiz, Step, Submission
from ..selectors.desk import goes_left
from ..strictness import strictness_of
from .accepted import accept_known
from .cues import cue_missed
from .evidence import add_evidence
from .happenings import ids_of
from .leeway import is_late
from .recall import call_for, recalled_step
from .shown import came_after, keep_shown


class NoMoreGoes(Exception):
    """All attempts are used up, or the step is no longer asked; the message says which."""


def start_attempt(*, step: Step, player: User) -> Attempt:
    """The attempt being written, or a new one. Two windows at once get the same. Raises `NoMoreGoes`."""
    for _ in range(2):
        attempts = list(Attempt.objects.filter(step=step, player=player).order_by("number"))
        if attempts and attempts[-1].is_open:
            return attempts[-1]
        if step.is_closed:
            raise NoMoreGoes("This is no longer asked.")
        if not goes_left(step.assignment, attempts):
            raise NoMoreGoes("All attempts at this step are used up.")
        try:
            with transaction.atomic():
                instrument = _instrument(step.assignment, player)
                return Attempt.objects.create(
                    step=step,
                    player=player,
                    number=len(attempts) + 1,
                    instrument=instrument,
                    written=_written(step, instrument, player, len(attempts)),
                )
        except IntegrityError:
            continue  # the other window made it first: look again
    raise NoMoreGoes("All attempts at this step are used up.")


def _instrument(assignment: Assignment, player: User) -> str:
    if assignment.pitch_in == Assignment.PitchIn.CONCERT:
        return ""
    chair = Membership.objects.filter(user=player, ensemble=assignment.ensemble_id).first()
    return (chair.instrument if chair else "") or player.instrument


def _written(step: Step, instrument: str, player: User, before: int) -> str:
    """Name of the interval from the concert chart to the page the player reads; "P1" for concert pitch. By heart it leads
    to the key that is called."""
    row = INSTRUMENTS.get(instrument)
    home = Quiz.objects.filter(step=step).values_list("home", flat=True).first()
    if step.kind == BY_HEART and home:
        return call_for(step, player, Key.parse(home), row.interval.simple if row else UNISON, before)
    if row is None or row.is_concert or not home:
        return "P1"
    key = Key.parse(home)
    return transposition(key, sensible(key.transposed(row.interval.simple))).name


@transaction.atomic
def hand_in(*, attempt_id: int, player_id: int) -> Attempt:
    """Mark from the stored key and close the attempt. A second call changes nothing.

    It is evidence at once, unless the answers to an earlier go were open to the player (`services.shown`).
    Raises Attempt.DoesNotExist for someone else's attempt.
    """
    attempt = (
        Attempt.objects.select_for_update(of=("self",))
        .select_related("step__assignment__revision")
        .defer("step__assignment__revision__analysis")
        .get(pk=attempt_id, player_id=player_id)
    )
    if not attempt.is_open:
        return attempt
    quiz = attempt.step.quiz  # read after the lock: the key may have been brought up to the chart meanwhile
    answers = dict(Answer.objects.filter(attempt=attempt).values_list("question", "text"))
    marked = mark_answers(
        _questions(attempt.step),
        answers,
        strictness_of(attempt.step.assignment),
        home=quiz.home,
        written=attempt.written,
    )
    Mark.objects.bulk_create([_row(attempt, m) for m in marked])
    attempt.points = accept_known(attempt, marked)
    attempt.out_of = len(marked)
    now = timezone.now()
    attempt.after_answers = came_after(attempt, now)
    _close(attempt, now)
    keep_shown(attempt, now)
    if not attempt.after_answers:
        add_evidence(
            step=attempt.step,
            player_id=player_id,
            attempt=attempt,
            percent=attempt.percent or 0,
            what=f"{attempt.step.name}: {attempt.percent}% (attempt {attempt.number})",
            on=attempt.handed_in,
        )
    cue_missed(attempt)
    if attempt.step.kind == BY_HEART:
        recalled_step(attempt, now)
    return attempt


def _questions(step: Step) -> list[dict[str, Any]]:
    """The stored questions. Old keys, which know only written bars, get the bars as played too, worked out from the chart of
    the quiz."""
    stored: list[dict[str, Any]] = step.quiz.questions
    chart = parse_chart(step.assignment.revision.text).chart
    if chart is None:
        return stored
    upgrade = question_kind(step.kind).upgrade
    if upgrade is None:
        return Bars(chart).told(stored)
    return [question | {"key": upgrade(question["key"], chart)} for question in stored]


def _row(attempt: Attempt, m: Marked) -> Mark:
    return Mark(
        attempt=attempt,
        question=m.question,
        position=m.position,
        answer=m.answer,
        understood=m.understood[:200],
        points=m.points,
        rule=m.rule,
        feedback=m.feedback,
    )


def _close(attempt: Attempt, now: datetime) -> None:
    attempt.status = Attempt.Status.HANDED_IN
    attempt.handed_in = now
    attempt.late = is_late(attempt, now)
    attempt.version += 1
    attempt.save()
    Attempt.objects.filter(
        step=attempt.step_id, player=attempt.player_id, number__lt=attempt.number, superseded=False
    ).update(superseded=True)
    happened(Kind.HANDED_IN, **ids_of(attempt))


def send(
    *,
    step: Step,
    player: User,
    token: uuid.UUID,
    file: UploadedFile | None = None,
    media_type: str = "",
    seconds: float | None = None,
    link: str = "",
    note: str = "",
    solo: SoloRevision | None = None,
    take: Take | None = None,
) -> Attempt:
    """Hand in a file, a link, a note, a solo as it is kept or a take. The same form twice sends once. Raises `NoMoreGoes`.

    From then on who leads the ensemble hears the take.
    """
    sent = Submission.objects.filter(token=token, attempt__player=player, attempt__step=step).first()
    if sent:
        return sent.attempt
    attempt = start_attempt(step=step, player=player)
    try:
        with transaction.atomic():
            attempt = (
                Attempt.objects.select_for_update(of=("self",)).select_related("step__assignment").get(pk=attempt.pk)
            )
            row = Submission(
                attempt=attempt,
                token=token,
                link=link,
                note=note,
                media_type=media_type,
                seconds=seconds,
                solo=solo,
                take=take,
            )
            if take is not None:
                give(take=take, ensemble=attempt.step.assignment.ensemble_id)
            if file:
                row.name, row.size, row.file = (file.name or "")[:160], file.size or 0, file
            row.save()
            if attempt.is_open:
                _close(attempt, timezone.now())
    except IntegrityError:
        return Attempt.objects.get(pk=attempt.pk)  # the double click was faster
    return attempt


@transaction.atomic
def log_hearing(
    *,
    step: Step,
    player: User,
    token: uuid.UUID,
    heard: str,
    on: date,
    noticed: str = "",
    recording: Recording | None = None,
) -> Listening:
    """Log one hearing; it counts at once. The same form twice logs once.

    A recording of the repertoire goes into the player's listening log, which the ledger reads; another one
    becomes evidence here.
    """
    row, new = Listening.objects.get_or_create(
        player=player, token=token, defaults=_heard(step, heard, on, noticed, recording)
    )
    if new and recording:
        moment = timezone.make_aware(datetime.combine(on, time(12)))
        log_listening(
            entry=LogEntry(heard_on=min(moment, timezone.now()), noticed=noticed), player=player, recording=recording
        )
    elif new:
        add_evidence(step=step, player_id=player.pk, what=f"Heard: {heard}")
    return row


def _heard(step: Step, heard: str, on: date, noticed: str, recording: Recording | None) -> dict[str, Any]:
    return {"step": step, "heard": heard[:200], "on": on, "noticed": noticed, "recording": recording}
