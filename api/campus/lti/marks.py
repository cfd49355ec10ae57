"""Marks on their way to a course: only what is reviewed and released, kept until the platform has taken it.

The rule, told on the course's page: a mark goes when every step of the assignment that is marked or handed in has been
reviewed for this player and its answers are released to them. It is the mean of the marked steps in percent, of each the
newest reviewed go that counts; an assignment without marked steps gives 100 when all that was handed in is accepted.
Excused steps are left out, and closed ones that the player never began. When that holds no longer (a review is taken back,
answers are withheld), the platform is told so.

The worker compares what holds with what was sent, so whatever changes a mark (an override, marking again) is seen.
"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable
from typing import Any

from django.db.models import Q, QuerySet
from django.urls import reverse
from django.utils import timezone

from api.campus import outward
from api.campus.lti.services import LINES, SCORES, Caller, Declined, find_line, send_score
from api.models import CampusPerson, CourseLink, CourseMark
from assessments.kinds import HAND_IN, QUIZ
from assessments.models import Assignment, Attempt, Leeway
from assessments.selectors.desk import is_out
from assessments.selectors.ledger import standing_rows
from studio.models import User
from studio.notices import notify_once

AFTER_TERM = dt.timedelta(days=60)  # marks still change after the last day
LEASE, FIRST, LONGEST = dt.timedelta(minutes=10), dt.timedelta(minutes=1), dt.timedelta(hours=6)
MOST_TRIES = 12  # the last about two days after the first
AT_ONCE = 200
AGAIN = frozenset({401, 408, 409, 425, 429})  # and every 5xx: worth another try
State = CourseMark.State


def standing_marks(assignment: Assignment, now: dt.datetime) -> dict[int, int]:
    """Player's id → percent, for whoever's mark may go back now. Four queries."""
    steps = [step for step in assignment.steps.all() if step.about.how in (QUIZ, HAND_IN)]
    for step in steps:
        step.assignment = assignment
    marked = [step for step in steps if step.about.how == QUIZ]
    goes: dict[tuple[int, int], list[Attempt]] = defaultdict(list)
    for row in Attempt.objects.filter(step__in=steps).order_by("number"):
        goes[row.player_id, row.step_id].append(row)
    excused = set(Leeway.objects.filter(step__in=steps, excused=True).values_list("player", "step"))
    counts: set[int | None] = set(standing_rows(attempt__step__in=steps).values_list("attempt", flat=True))
    found = {}
    for player in {player for player, _ in goes}:
        results: dict[int, int | None] = {}
        for step in steps:
            own = goes.get((player, step.pk), [])
            if (player, step.pk) not in excused and (own or not step.is_closed):
                results[step.pk] = _result(step, own, counts, now)
        if results and None not in results.values():
            percents = [results[step.pk] or 0 for step in marked if step.pk in results]
            found[player] = round(sum(percents) / len(percents)) if percents else 100
    return found


def _result(step: Any, own: list[Attempt], counts: set[int | None], now: dt.datetime) -> int | None:
    """The percentage of one step; None while there is none that may be told."""
    for attempt in reversed(own):
        if attempt.status == Attempt.Status.RETURNED:
            return None
        if attempt.status != Attempt.Status.REVIEWED or (attempt.after_answers and attempt.pk not in counts):
            continue
        if not is_out(step, attempt, own, now):
            return None
        return attempt.percent if step.about.how == QUIZ else 100
    return None


def live_links() -> QuerySet[CourseLink]:
    """Links whose marks have somewhere to go."""
    since = timezone.localdate() - AFTER_TERM
    rows = CourseLink.objects.filter(
        assignment__ensemble__term__ends__gte=since, course__platform__ended=None
    ).select_related("course__platform", "assignment__ensemble__term")
    return rows.filter(~Q(line="") | ~Q(course__lines_url="")).prefetch_related("assignment__steps")


def takes_marks(link: CourseLink) -> bool:
    """Whether the platform lets us write marks there."""
    scopes = link.course.scopes
    return SCORES in scopes and bool(link.line or (link.course.lines_url and LINES in scopes))


def refresh(now: dt.datetime) -> int:
    """Queue every mark that differs from what the course has; returns how many. A fixed number of queries for each link."""
    return sum(_refresh(link, now) for link in live_links() if takes_marks(link))


def _refresh(link: CourseLink, now: dt.datetime) -> int:
    assert link.assignment is not None
    wanted = standing_marks(link.assignment, now)
    newest: dict[int, CourseMark] = {}
    for row in link.marks.order_by("id"):
        newest[row.player_id] = row
    known = set(
        CampusPerson.objects.filter(platform=link.course.platform_id, user__is_active=True).values_list(
            "user", flat=True
        )
    )
    new = []
    for player in sorted(known & (set(wanted) | set(newest))):
        last, score = newest.get(player), wanted.get(player)
        if (last is None and score is None) or (last and last.score == score):
            continue
        if last and last.state == State.WAITING:
            CourseMark.objects.filter(pk=last.pk, state=State.WAITING).update(state=State.REPLACED)
        new.append(CourseMark(link=link, player_id=player, score=score, next_try=now))
    CourseMark.objects.bulk_create(new)
    return len(new)


def send_waiting(now: dt.datetime) -> int:
    """Send what waits and is due; returns how many the platforms took. Two workers send nothing twice: each row is leased."""
    due = CourseMark.objects.filter(state=State.WAITING, next_try__lte=now, link__course__platform__ended=None)
    rows = due.select_related("link__course__platform", "link__assignment").order_by("next_try", "id")[:AT_ONCE]
    callers: dict[int, Caller] = {}
    silent: set[int] = set()  # platforms that did not answer: left alone for the rest of the round
    standing: dict[int, dict[int, int]] = {}
    taken = 0
    for row in rows:
        if row.link.course.platform_id in silent:
            continue
        lease = CourseMark.objects.filter(pk=row.pk, state=State.WAITING, next_try=row.next_try)
        if not lease.update(next_try=now + LEASE):
            continue
        link = row.link
        if link.pk not in standing and link.assignment:
            standing[link.pk] = standing_marks(link.assignment, timezone.now())
        if standing.get(link.pk, {}).get(row.player_id) != row.score:
            CourseMark.objects.filter(pk=row.pk).update(
                state=State.REPLACED
            )  # looked at once more, right before it goes
            continue
        caller = callers.setdefault(link.course.platform_id, Caller(link.course.platform))
        sent = _send(row, caller, now)
        taken += sent
        if not sent:
            silent.add(link.course.platform_id)
    return taken


def _send(row: CourseMark, caller: Caller, now: dt.datetime) -> bool:
    link = row.link
    subject = CampusPerson.objects.filter(platform=link.course.platform_id, user=row.player_id).first()
    if subject is None:
        _failed(row, None, "Nobody of the course platform is matched with this player any more.", now, again=False)
        return False
    try:
        line = find_line(caller, link)
        if line != link.line:
            link.line = line
            CourseLink.objects.filter(pk=link.pk).update(line=line)
        found = send_score(caller, link.course, line, subject.subject, row.score)
    except outward.Unreachable as error:
        _failed(row, None, str(error), now, again=True)
    except Declined as error:
        caller.tokens.clear()
        if error.status == 404:  # somebody deleted the column: the next try looks for one again
            CourseLink.objects.filter(pk=link.pk, course__lines_url__gt="").update(line="")
        _failed(row, error.status, str(error), now, again=error.status in AGAIN or error.status >= 500)
    else:
        CourseMark.objects.filter(pk=row.pk).update(
            state=State.SENT, tries=row.tries + 1, status=found.status, answer=found.text, sent=timezone.now()
        )
        return True
    return False


def _failed(row: CourseMark, status: int | None, text: str, now: dt.datetime, *, again: bool) -> None:
    tries = row.tries + 1
    waits = again and tries < MOST_TRIES
    CourseMark.objects.filter(pk=row.pk).update(
        tries=tries,
        status=status,
        answer=text[:300],
        state=State.WAITING if waits else State.FAILED,
        next_try=now + min(FIRST * 3 ** min(row.tries, 8), LONGEST),
    )
    if not waits:
        url = reverse("api:lti-course", args=[row.link.course_id])
        for director in User.objects.filter(is_director=True, is_active=True):
            notify_once(director, "house", f"The course “{row.link.course}” did not take a mark."[:300], url)


def again(rows: Iterable[int]) -> int:
    """Put marks that were not taken back in the queue."""
    return CourseMark.objects.filter(pk__in=list(rows), state=State.FAILED).update(
        state=State.WAITING, tries=0, next_try=timezone.now()
    )
