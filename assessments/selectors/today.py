"""What a player's desk is made from: every step asked of them, and everything that could be done today."""

from __future__ import annotations

import datetime as dt
from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any
from urllib.parse import urlencode

from django.db.models import Count, Exists, OuterRef, Prefetch, Q, Subquery
from django.urls import reverse
from django.utils import timezone

from drills.kinds import question_kind, question_kinds
from drills.models import PracticeCue, PracticeItem
from drills.other_band.record import SOURCE as OTHER_BAND
from drills.planning import Missed, next_tempo, planned_from_missed
from drills.question_kind import AnsweredBy
from studio.models import User
from tunes.harmony.charts.bar_count import bar_count
from tunes.models import Listening as LogEntry
from tunes.models import Phrase
from tunes.study import chart_of

from ..access import assignments_played, steps_shown
from ..kinds import BY_HEART, HAND_IN, IN_PERSON, LOG, closing_kinds
from ..models import Assignment, Attempt, DeskHabit, Leeway, Listening, Recall, SignOff
from ..today import ANSWER, BRING_BACK, FADES, HEAR, PLAY, SING, Work, whole_phrases
from .by_ear import waits_for_chart
from .desk import BACK, DONE, SENT, StepState, state_of

MOST = 40  # assignments of the running terms
MOST_CUES, MOST_ITEMS = 60, 60
# Minutes that a step takes which is not asked as questions: common practice, no source.
HEAR_MINUTES, SING_MINUTES, PLAY_MINUTES, HAND_IN_MINUTES, RECALL_MINUTES = 4, 3, 4, 8, 3
BAND_MINUTES, VARIANT_MINUTES = 5, 2


@dataclass(frozen=True)
class Desk:
    """Everything the desk shows: assignments with the state of each step, and what could be done."""

    assignments: tuple[tuple[Assignment, tuple[StepState, ...]], ...]
    works: tuple[Work, ...]
    falls: tuple[tuple[dt.date, str, str], ...]
    habit: DeskHabit


def desk_of(user: User, now: dt.datetime | None = None) -> Desk:
    """The desk of a player: eleven queries, however much is asked of them."""
    now = now or timezone.now()
    today = timezone.localdate(now)
    rows = assignments_played(user).filter(closed=None, ensemble__term__ends__gte=today)
    assignments = list(rows.prefetch_related(_steps(user))[:MOST])
    signed = list(SignOff.objects.filter(player=user, taken_back=None).select_related("by", "tune"))
    states = _states(user, assignments, signed, now)
    recalls = list(Recall.objects.filter(player=user).select_related("tune"))
    shut = {s.step.assignment.tune_id for s in states if _answers_to_come(s)}
    by_ear = {
        s.step.assignment.tune_id for s in states if s.step.kind in closing_kinds() and s.state not in (DONE, SENT)
    }
    states = [_with_closed(s, by_ear) for s in states]
    works = [
        *(work for state in states for work in _of_step(state)),
        *_of_practice(user, by_ear, shut, now),
        *_of_recalls(recalls, shut | by_ear, now),
        *_fading(signed, recalls, shut | by_ear, today),
    ]
    grouped: dict[int, list[StepState]] = defaultdict(list)
    for state in states:
        grouped[state.step.assignment_id].append(state)
    return Desk(
        tuple((assignment, tuple(grouped[assignment.pk])) for assignment in assignments),
        tuple(works),
        tuple(_falls(states, recalls, shut | by_ear, today)),
        DeskHabit.objects.filter(player=user).first() or DeskHabit(player=user),
    )


def _steps(user: User) -> Prefetch[Any]:
    """The steps as `user` sees them, with what was allowed to them alone beside the date of everybody."""
    own = Leeway.objects.filter(step=OuterRef("pk"), player=user)
    shown: Any = steps_shown(user).queryset
    return Prefetch(
        "steps", shown.annotate(own_due=Subquery(own.values("due")[:1]), own_excused=Exists(own.filter(excused=True)))
    )


def _states(
    user: User, assignments: Sequence[Assignment], signed: Sequence[SignOff], now: dt.datetime
) -> list[StepState]:
    """The state of every step: three queries."""
    steps = []
    for assignment in assignments:
        step: Any  # annotated by `_steps`
        for step in assignment.steps.all():
            step.assignment = assignment
            step.due = None if step.own_excused else step.own_due or step.due
            step.excused = step.own_excused
            steps.append(step)
    attempts: dict[int, list[Attempt]] = defaultdict(list)
    rows = Attempt.objects.filter(player=user, step__in=[step.pk for step in steps])
    for row in rows.annotate(filled=Count("answers", filter=~Q(answers__text=""))).order_by("number"):
        attempts[row.step_id].append(row)
    tunes = {step.assignment.tune_id for step in steps if step.about.how == LOG}
    heard, today = _heard(user, tunes, timezone.localdate(now))
    by_place = {(row.tune_id, row.ensemble_id): row for row in signed}
    return [
        replace(
            state_of(
                step,
                tuple(attempts[step.pk]),
                heard[step.assignment.tune_id] if step.about.how == LOG else 0,
                by_place.get((step.assignment.tune_id, step.assignment.ensemble_id)),
                now,
            ),
            heard_today=step.about.how == LOG and step.assignment.tune_id in today,
        )
        for step in steps
    ]


def _heard(user: User, tunes: set[int], today: dt.date) -> tuple[Counter[int], set[int]]:
    """How often the player has logged each tune, in either log, and which of them today: one query."""
    logged = LogEntry.objects.filter(player=user, recording__tune__in=tunes).order_by()
    others = Listening.objects.filter(player=user, step__assignment__tune__in=tunes, recording=None).order_by()
    both = logged.values_list("recording__tune", "heard_on").union(
        others.values_list("step__assignment__tune", "on"), all=True
    )
    rows = list(both) if tunes else []
    return Counter(tune for tune, _ in rows), {tune for tune, on in rows if on == today}


def _answers_to_come(state: StepState) -> bool:
    """Whether a quiz of the step would be told by testing oneself: `holds.answers_to_come`, from what is read already."""
    asked = question_kinds().get(state.step.kind)
    secret = asked is not None and asked.answered_by is not AnsweredBy.CHART and not state.step.is_closed
    return secret and (state.state != DONE or not state.out)


def _with_closed(state: StepState, by_ear: set[int]) -> StepState:
    waits = waits_for_chart(state.step.kind, out=state.out, over=state.state in (DONE, SENT))
    return replace(state, closed=waits and state.step.assignment.tune_id in by_ear)


def _of_step(s: StepState) -> Iterator[Work]:
    """What a step that is not done asks for; a recording that was heard today, tomorrow again."""
    if s.heard_today or s.state in (DONE, SENT) or s.closed or s.excused or s.step.is_closed:
        return
    step, at, how = s.step, s.step.assignment, s.step.about.how
    page = reverse("work:step", args=[step.pk])
    due = timezone.localdate(step.due) if step.due else None
    verb, what, why, minutes, url, posts = ANSWER, step.name, "", 0, page, False
    if how == LOG:
        verb, what, minutes = HEAR, "a recording, once through", HEAR_MINUTES
        why = f"Heard {s.heard} of {step.times}."
    elif how == HAND_IN:
        verb, what, minutes = PLAY, f"{step.name[0].lower()}{step.name[1:]}", HAND_IN_MINUTES
        why = "Returned for another go." if s.state == BACK else ""
    elif how == IN_PERSON:
        verb, what, minutes = SING, "the roots of one chorus, nothing sounding", SING_MINUTES
        why = "The sign-off asks for it without paper."
    else:
        verb = BRING_BACK if step.kind == BY_HEART else ANSWER
        minutes = question_kind(step.kind).minutes
        open_one = s.last if s.last and s.last.is_open else None
        url = reverse("work:attempt", args=[open_one.pk]) if open_one else reverse("work:start", args=[step.pk])
        posts = open_one is None
        filled = getattr(open_one, "filled", 0)
        why = f"{filled} answered." if filled else ""
    yield Work(f"step-{step.pk}", verb, at.tune_id, at.tune.title, what, why, minutes, url, due=due, posts=posts)


def _of_practice(user: User, by_ear: set[int], shut: set[int], now: dt.datetime) -> Iterator[Work]:
    """Missed bars and drills that are due: the tempo goes on from the last note, phrases stay whole. Three queries."""
    cues = PracticeCue.objects.filter(user=user, settled=None, created__lte=now)
    cues = cues.select_related("revision__version__tune").defer("revision__analysis")
    items = PracticeItem.objects.filter(user=user, due__lte=now)
    items = items.select_related("revision__version__tune").defer("revision__analysis", "revision__text")
    rows = [cue for cue in cues[:MOST_CUES] if cue.revision.version.tune_id not in by_ear]
    phrases = _phrases({cue.revision.version.tune_id for cue in rows})
    heard = [cue for cue in rows if cue.source.startswith(OTHER_BAND)]
    yield from _of_other_band(heard, shut)
    yield from _of_missed([cue for cue in rows if cue not in heard], phrases, shut)
    for item in items[:MOST_ITEMS]:
        tune = item.revision.version.tune
        if tune.pk in by_ear:
            continue
        tempo = next_tempo(item.tempo, item.last_went)
        went = f"Last time {item.last_went}" if item.last_went else "New"
        day = f", {timezone.localtime(item.last_practised):%a %-d %b}" if item.last_practised else ""
        wish = {name: value for name, value in item.wish.items() if value not in ("", None, 0, False)}
        if "events" in wish:
            wish["events"] = "-".join(str(part) for part in wish["events"])
        url = f"{reverse('drills:drill', args=[item.revision_id])}?{urlencode(wish | {'tempo': tempo})}"
        what = f"{item.title[:1].lower()}{item.title[1:]}, ♩ = {tempo}"
        rest = (now - (item.last_practised or now)).days
        yield Work(f"drill-{item.pk}", PLAY, tune.pk, tune.title, what, f"{went}{day}.", PLAY_MINUTES, url, rest=rest)


def _of_missed(
    cues: Sequence[PracticeCue], phrases: Mapping[int, Sequence[tuple[int, int]]], shut: set[int]
) -> Iterator[Work]:
    missed = [
        Missed(
            cue.revision_id,
            cue.revision.version.tune_id,
            cue.revision.version.tune.title,
            cue.bar,
            cue.why,
            bar_count(chart_of(cue.revision.text)),
        )
        for cue in cues
    ]
    for drill in planned_from_missed(missed):
        first, last = whole_phrases(drill.wish["first_bar"], drill.wish["last_bar"], phrases.get(drill.tune, ()))
        wish = drill.wish | {"first_bar": first, "last_bar": last, "tempo": drill.tempo}
        url = f"{reverse('drills:drill', args=[drill.revision])}?{urlencode(wish)}"
        named = next(cue.named(first, last) for cue in missed if cue.revision == drill.revision)
        what = f"guide tones, {named}, ♩ = {drill.tempo}"
        name = f"missed-{drill.revision}-{drill.wish['first_bar']}"
        yield Work(name, PLAY, drill.tune, drill.tune_title, what, drill.why, PLAY_MINUTES, url, weak=True)
        if drill.tune not in shut:
            fields = {"source": "tune", "tune": drill.tune, "first": first, "last": last, "kind": "any", "minutes": 2}
            yield Work(
                f"ask-{name}", ANSWER, drill.tune, drill.tune_title, f"{named} again, as a short quiz",
                drill.why, 2, reverse("work:test-me"), weak=True, posts=True, fields=_fields(fields),
            )  # fmt: skip


def _fields(values: Mapping[str, object]) -> tuple[tuple[str, str], ...]:
    return tuple((name, str(value)) for name, value in values.items())


def _phrases(tunes: set[int]) -> dict[int, list[tuple[int, int]]]:
    """The phrases of these tunes as they are mapped: one query, none without a tune."""
    found: dict[int, list[tuple[int, int]]] = defaultdict(list)
    for tune, first, last in (
        Phrase.objects.filter(tune__in=tunes).values_list("tune", "first", "last") if tunes else ()
    ):
        found[tune].append((first, last))
    return found


RECALLED = {
    "changes": "the changes, from memory",
    "numbers": "the numbers alone, from memory",
    "melody": "the melody, from memory",
}
KINDS_OF = {"changes": "by-heart", "numbers": "by-heart-numbers"}


def _of_recalls(recalls: Iterable[Recall], shut: set[int], now: dt.datetime) -> Iterator[Work]:
    for row in recalls:
        if row.due > now or row.tune_id in shut:
            continue
        why = f"Last time {row.percent}% on {timezone.localtime(row.last):%-d %b}; {len(row.keys)} of twelve keys done."
        what = RECALLED[row.what] + ("" if row.what == "melody" else ", in another key")
        yield _bring_back(f"recall-{row.pk}", row.tune, row.what, what, why, (now - row.last).days)


def _bring_back(name: str, tune: Any, kind: str, what: str, why: str, rest: int) -> Work:
    if kind == "melody":
        fields: tuple[tuple[str, str], ...] = ()
        url, posts = reverse("work:melody", args=[tune.pk]), False
    else:
        values = {"source": "tune", "tune": tune.pk, "kind": KINDS_OF[kind], "minutes": 5}
        url, posts, fields = reverse("work:test-me"), True, _fields(values)
    return Work(
        name, BRING_BACK, tune.pk, tune.title, what, why, RECALL_MINUTES, url, rest=rest, posts=posts, fields=fields
    )


def _of_other_band(cues: Sequence[PracticeCue], shut: set[int]) -> Iterator[Work]:
    """Tunes on which another band was missed: another round, and the quiz that asks for those bars first."""
    by_revision: dict[int, list[PracticeCue]] = defaultdict(list)
    for cue in cues:
        if cue.revision.version.tune_id not in shut:
            by_revision[cue.revision_id].append(cue)
    for revision, rows in by_revision.items():
        tune, why = rows[0].revision.version.tune, rows[0].why
        rounds = reverse("drills:other_band", args=[revision])
        quiz = reverse("tunes:variants-quiz", args=[tune.pk])
        what = "what else may be called, with the bars you missed"
        yield Work(
            f"band-{tune.pk}",
            HEAR,
            tune.pk,
            tune.title,
            "the other band, another round",
            why,
            BAND_MINUTES,
            rounds,
            weak=True,
        )
        yield Work(f"variants-{tune.pk}", ANSWER, tune.pk, tune.title, what, why, VARIANT_MINUTES, quiz, weak=True)


def _fading(signed: Iterable[SignOff], recalls: Iterable[Recall], shut: set[int], today: dt.date) -> Iterator[Work]:
    """Tunes that were signed off a while ago and have not been brought back since."""
    touched = {row.tune_id for row in recalls}
    seen: set[int] = set()
    for row in signed:
        rest = (today - timezone.localdate(row.created)).days
        if row.tune_id in touched | shut | seen or rest < FADES:
            continue
        seen.add(row.tune_id)
        why = f"Signed off {timezone.localtime(row.created):%-d %b}, and not brought back since."
        yield _bring_back(f"fade-{row.tune_id}", row.tune, "changes", RECALLED["changes"], why, rest)


def _falls(
    states: Iterable[StepState], recalls: Iterable[Recall], shut: set[int], today: dt.date
) -> Iterator[tuple[dt.date, str, str]]:
    """What falls on a day from today on: what is due, and what comes back."""
    due: dict[tuple[dt.date, str], int] = defaultdict(int)
    for s in states:
        if s.step.due and s.state not in (DONE, SENT) and not s.step.is_closed:
            day = timezone.localdate(s.step.due)
            if day >= today:
                due[day, s.step.assignment.title] += 1
    for (day, title), count in due.items():
        yield day, f"{title} due", f"{count} step{'' if count == 1 else 's'} open"
    for row in recalls:
        day = timezone.localdate(row.due)
        if day > today and row.tune_id not in shut:
            yield day, f"bring back {row.tune.title}", ""
