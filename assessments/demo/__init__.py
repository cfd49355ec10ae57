"""The demo's assignments at every stage, made by the same services that the pages use, then put in the past."""

from __future__ import annotations

import datetime as dt
import io
import math
import random
import struct
import uuid
import wave
from typing import Any

from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import transaction
from django.utils import timezone

from drills.takes import demo as takes
from studio.models import Membership, Notice, User
from studio.services.messages import send_message
from tunes.models import ChartRevision, Recording, Tune

from ..kinds import BY_EAR, HAND_IN, LOG, QUIZ
from ..models import Assignment, Attempt, Comment, Evidence, Listening, Mark, SignOff, Step
from ..services import review
from ..services.answer import Save, save_answers
from ..services.assign import StepPlan, assign
from ..services.cues import cue_released
from ..services.hand_in import hand_in, log_hearing, send, start_attempt
from ..services.plan import plan_tune
from ..services.set_lists import add_tune, change_tune, make_set_list
from ..services.sign_off import sign_off
from .answers import answers_for
from .own import load_own
from .plan import (
    BAR_COMMENTS,
    HEARD,
    LETTERS,
    NOTES,
    OVERRIDE_REASON,
    PLANS,
    SET,
    SIGNED_FOR,
    SOUND_COMMENTS,
    WHOLE_COMMENTS,
    YEAR,
    Plan,
)
from .solos import load_solo_steps


@transaction.atomic
def load_demo(world: Any) -> list[Assignment]:
    """Make every assignment of the plan whose tune exists; nothing if there are assignments already."""
    if Assignment.objects.exists():
        return []
    takes.set_words()
    made = []
    for plan in PLANS:
        revision = _revision(plan.tune)
        if revision is not None:
            made.append(_Stage(world, plan, revision).play())
    if (about := load_solo_steps(world)) is not None:
        made.append(about)
    _plan_year(world)
    _letters(world)
    load_own(world)
    _set_lists(world)
    return made


def _set_lists(world: Any) -> None:
    """What an ensemble plays in three weeks."""
    key, days, where, tunes = SET
    made = make_set_list(
        ensemble=world.ensembles[key], on=world.today + dt.timedelta(days=days), where=where, by=world.leader(key)
    )
    for title, own_key, tempo, note in tunes:
        revision = _revision(title)
        if revision is not None:
            row = add_tune(set_list=made, revision=revision)
            change_tune(row=row, key=own_key, tempo=tempo, note=note)


def _letters(world: Any) -> None:
    """What an instructor wrote, and a colleague who leads an ensemble for a week."""
    for key, text, some in LETTERS:
        ensemble, players = world.ensembles[key], world.players(key)
        told = players[:some] if some else players
        send_message(
            ensemble=ensemble,
            by=world.leader(key),
            text=text,
            players=told,
            everyone=not some,
            token=uuid.uuid5(uuid.NAMESPACE_URL, text),
        )
    week = {"begins": world.today + dt.timedelta(days=6), "ends": world.today + dt.timedelta(days=13)}
    Membership.objects.get_or_create(
        user=world.leader("second"),
        ensemble=world.ensembles["combo"],
        defaults={"role": Membership.Role.INSTRUCTOR, **week},
    )


def _plan_year(world: Any) -> None:
    """The repertoire of every ensemble, this term and next."""
    tunes = {tune.title: tune for tune in Tune.objects.all()}
    for key, terms in YEAR.items():
        for ensembles, wanted in zip((world.ensembles, world.next_ensembles), terms, strict=True):
            for title, day in wanted:
                if title in tunes:
                    plan_tune(
                        ensemble=ensembles[key],
                        tune=tunes[title],
                        by=world.leader(key),
                        known_by=None if day is None else world.today + dt.timedelta(days=day),
                    )


def _revision(title: str) -> ChartRevision | None:
    return (
        ChartRevision.objects.filter(version__tune__title=title)
        .select_related("version__tune")
        .order_by("-version__is_agreed", "version_id", "-number")
        .first()
    )


class _Stage:
    """One assignment and what its players have done of it."""

    def __init__(self, world: Any, plan: Plan, revision: ChartRevision) -> None:
        self.world, self.plan, self.revision = world, plan, revision
        self.rng = random.Random(f"{world.seed} {plan.ensemble} {plan.tune}")
        self.leader: User = world.leader(plan.ensemble)
        self.players: list[User] = [p for p in world.players(plan.ensemble) if p != self.leader]
        self.now = timezone.now()

    def play(self) -> Assignment:
        self.assignment = self._assign()
        through = round(self.plan.done * len(self.players))
        for number, player in enumerate(self.players):
            self._player(player, number, finished=number < through)
        self._sign(through)
        self._into_the_past()
        return self.assignment

    def _assign(self) -> Assignment:
        ensembles = self.world.last_ensembles if self.plan.last_term else self.world.ensembles
        due = self._due()
        # A date that has passed would show the answers, and no second go would count: it is set afterwards.
        steps = [
            StepPlan(
                kind,
                due=due if self.plan.due >= 0 else None,
                times=3 if kind == "listening" else 1,
                title="The melody by ear" if kind == "hand-in" else "",
            )
            for kind in self.plan.kinds
        ]
        return assign(
            by=self.leader,
            ensemble=ensembles[self.plan.ensemble],
            revision=self.revision,
            title=self.plan.tune,
            instructions=self.plan.instructions,
            steps=steps,
            tell=self.plan.assigned > -4,
            **self.plan.fields,  # type: ignore[arg-type]
        )

    def _due(self) -> dt.datetime:
        return timezone.make_aware(
            dt.datetime.combine(self.world.today + dt.timedelta(days=self.plan.due), dt.time(23, 59))
        )

    def _player(self, player: User, number: int, *, finished: bool) -> None:
        skill = 0.68 + 0.28 * self.rng.random()
        for step in self.assignment.steps.all():
            step.assignment = self.assignment
            if step.about.how == LOG:
                self._listen(step, player, 3 if finished else number % 3 if self.plan.begun else 0)
            elif step.about.how == QUIZ:
                self._quiz(step, player, skill, number, finished=finished)
            elif step.about.how == HAND_IN and (finished or (self.plan.begun and number % 3 == 1)):
                self._sound(step, player, number, finished=finished)

    def _listen(self, step: Step, player: User, times: int) -> None:
        recordings = list(Recording.objects.filter(tune=step.assignment.tune_id))
        for n in range(times):
            recording = recordings[n % len(recordings)] if recordings else None
            on = self.world.today + dt.timedelta(days=self.plan.assigned + 1 + n)
            log_hearing(
                step=step,
                player=player,
                token=_uuid(self.rng),
                on=min(on, self.world.today),
                heard=str(recording or self.plan.tune),
                noticed=self.rng.choice(HEARD),
                recording=recording,
            )

    def _quiz(self, step: Step, player: User, skill: float, number: int, *, finished: bool) -> None:
        if not finished and not (self.plan.begun and (number + step.position) % 3 == 0):
            return
        if not finished and step.kind != BY_EAR and BY_EAR in self.plan.kinds:
            return  # the chart is still closed to them
        skill -= 0.2 if step.kind == BY_EAR else 0.0
        attempt = self._write(step, player, skill, share=1.0 if finished else 0.5)
        if not finished:
            return
        attempt = hand_in(attempt_id=attempt.pk, player_id=player.pk)
        old = self.plan.assigned < -20
        if old and (attempt.percent or 0) < 80 and self.assignment.attempts_allowed > 1:
            attempt = self._write(step, player, 0.97, share=1.0)
            attempt = hand_in(attempt_id=attempt.pk, player_id=player.pk)
        if step.kind in ("function", BY_EAR) and (old or number % 2 == 0):
            self._review(attempt, number)
        elif old:
            review.accept(attempt_id=attempt.pk, by=self.leader, version=attempt.version)

    def _write(self, step: Step, player: User, skill: float, share: float) -> Attempt:
        attempt = start_attempt(step=step, player=player)
        questions = step.quiz.questions
        found = answers_for(
            questions[: max(1, round(share * len(questions)))],
            skill,
            self.rng,
            name_keys=self.assignment.key_prefix,
            written=attempt.written,
        )
        saves = [Save(question, text, n) for n, (question, text) in enumerate(found.items(), 1)]
        if saves:
            save_answers(attempt_id=attempt.pk, player_id=player.pk, client=_uuid(self.rng), saves=saves)
        return attempt

    def _review(self, attempt: Attempt, number: int) -> None:
        missed = list(Mark.objects.filter(attempt=attempt, points__lt=1)[:2])
        bars = {q["id"]: q.get("bar") for q in attempt.step.quiz.questions}
        for n, mark in enumerate(missed):
            review.comment(
                attempt=attempt,
                by=self.leader,
                text=BAR_COMMENTS[(number + n) % len(BAR_COMMENTS)],
                token=_uuid(self.rng),
                bar=bars.get(mark.question),
            )
        review.comment(
            attempt=attempt, by=self.leader, text=WHOLE_COMMENTS[number % len(WHOLE_COMMENTS)], token=_uuid(self.rng)
        )
        if missed and number == 1:
            review.override(
                attempt_id=attempt.pk,
                by=self.leader,
                version=attempt.version,
                points=1.0,
                question=missed[0].question,
                reason=OVERRIDE_REASON,
            )
            attempt.refresh_from_db()
        back = number == 4 and self.plan.assigned > -20
        act = review.return_for_another_go if back else review.accept
        act(attempt_id=attempt.pk, by=self.leader, version=attempt.version)

    def _take(self, step: Step, player: User, number: int, *, finished: bool) -> None:
        """A take in the place of a file: played twice, a month apart; some of them heard already."""
        query = "kind=arpeggios&value=crotchets&first_bar=1&last_bar=8"
        if number % 2 == 0:
            takes.demo_take(player=player, revision=self.revision, query=query, tempo=104, days=29, rng=self.rng)
        take = takes.demo_take(player=player, revision=self.revision, query=query, tempo=112, days=1.2, rng=self.rng)
        attempt = send(step=step, player=player, token=_uuid(self.rng), note=NOTES[number % len(NOTES)], take=take)
        if finished and number % 2 == 0:
            takes.say(take, self.leader, self.rng, answered=True)
            review.accept(attempt_id=attempt.pk, by=self.leader, version=attempt.version)

    def _sound(self, step: Step, player: User, number: int, *, finished: bool) -> None:
        if not self.plan.last_term and self.plan.assigned > -30 and takes.any_of(self.world):
            self._take(step, player, number, finished=finished)
            return
        name = f"{self.plan.tune} {player.name.split()[0]}.wav"
        file = SimpleUploadedFile(name, tone(196.0 * 2 ** (number / 12)), "audio/wav")
        attempt = send(
            step=step,
            player=player,
            token=_uuid(self.rng),
            file=file,
            media_type="audio/wav",
            seconds=2.0,
            note=NOTES[number % len(NOTES)],
        )
        if finished and (self.plan.assigned < -20 or number % 2):
            seconds, text = SOUND_COMMENTS[number % len(SOUND_COMMENTS)]
            review.comment(attempt=attempt, by=self.leader, text=text, seconds=seconds, token=_uuid(self.rng))
            review.accept(attempt_id=attempt.pk, by=self.leader, version=attempt.version)

    def _sign(self, through: int) -> None:
        step = self.assignment.steps.filter(kind="sign-off").first()
        signed = self.players[: round(self.plan.signed * through)]
        if step and signed:
            sign_off(step=step, players=signed, by=self.leader, evidence=SIGNED_FOR)

    def _into_the_past(self) -> None:
        """The services wrote "now"; the demo happened over weeks."""
        back = self.now + dt.timedelta(days=self.plan.assigned)
        Assignment.objects.filter(pk=self.assignment.pk).update(created=back)
        Step.objects.filter(assignment=self.assignment).update(due=self._due())
        attempts = list(Attempt.objects.filter(step__assignment=self.assignment).select_related("step"))
        for attempt in attempts:
            self._date(attempt, back)
        Attempt.objects.bulk_update(attempts, ["started", "handed_in", "late", "reviewed_at"])
        when = {a.pk: a.reviewed_at or a.handed_in for a in attempts}
        rows = list(Evidence.objects.filter(step__assignment=self.assignment))
        last = min(self.now, self.now + dt.timedelta(days=self.plan.due + 2))
        for row in rows:
            row.on = when.get(row.attempt_id or 0) or (last if row.kind == "sign-off" else back + dt.timedelta(days=3))
        Evidence.objects.bulk_update(rows, ["on"])
        SignOff.objects.filter(step__assignment=self.assignment).update(created=last)
        Listening.objects.filter(step__assignment=self.assignment).update(created=back + dt.timedelta(days=3))
        Comment.objects.filter(attempt__step__assignment=self.assignment).update(created=last)
        if self.plan.due < 0:
            cue_released(self.assignment)
        if self.plan.assigned < -20:
            Notice.objects.filter(
                user__in=self.players, kind__in=["reviewed", "signed-off"], created__gte=self.now
            ).update(created=last, seen=last, mailed=last)

    def _date(self, attempt: Attempt, back: dt.datetime) -> None:
        span = max(1.0, min(self.plan.due, 0) - self.plan.assigned - 1)
        attempt.started = back + dt.timedelta(days=span * (0.2 + 0.4 * self.rng.random()))
        if attempt.handed_in:
            slow = attempt.player_id % 5 == 0
            days = span * (0.7 + 0.25 * self.rng.random()) + (2.5 if slow and self.plan.due < -1 else 0)
            attempt.handed_in = min(self.now, back + dt.timedelta(days=days, minutes=self.rng.randrange(600)))
            attempt.late = bool(attempt.step.due and attempt.handed_in > attempt.step.due)
        if attempt.reviewed_at and attempt.handed_in:
            attempt.reviewed_at = min(self.now, attempt.handed_in + dt.timedelta(days=1, hours=3))


def _uuid(rng: random.Random) -> uuid.UUID:
    return uuid.UUID(int=rng.getrandbits(128), version=4)


def tone(hertz: float, seconds: float = 2.0, rate: int = 8000) -> bytes:
    """A short quiet tone as a WAV file: a stand-in for a student's recording."""
    out = io.BytesIO()
    frames = int(seconds * rate)
    with wave.open(out, "wb") as sound:
        sound.setparams((1, 2, rate, frames, "NONE", ""))
        sound.writeframes(
            b"".join(
                struct.pack("<h", int(6000 * math.sin(2 * math.pi * hertz * n / rate) * min(1.0, (frames - n) / 2000)))
                for n in range(frames)
            )
        )
    return out.getvalue()
