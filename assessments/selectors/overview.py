"""What needs doing in the programme: for the director, and for whoever leads an ensemble."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from django.db.models import Count, Exists, OuterRef, Q, QuerySet, Subquery, Value
from django.db.models.functions import Coalesce
from django.urls import reverse
from django.utils import timezone

from studio.access import ensembles_led, is_director
from studio.models import Ensemble, Membership
from studio.selectors import waiting_people
from tunes.models import ChartRevision, ChartVersion, Tune

from ..access import attempts_led, objections_led
from ..models import Assignment, Step
from .done import running
from .review import missing, waiting


@dataclass(frozen=True)
class Task:
    """One thing that waits: how many, in words, and where it is done."""

    count: int
    words: str
    url: str


@dataclass(frozen=True)
class FirstStep:
    """One of the things that a new programme needs before anything can be asked of anybody."""

    words: str
    url: str
    done: bool


def first_steps(user: Any, shown: Sequence[Any]) -> list[FirstStep]:
    """What a director does first, in order, until something is assigned; then nothing. `shown` are ensembles of
    `ensembles_now`: where one has an assignment, that is known without a query. Else one, on a new site five."""
    if not is_director(user) or any(ensemble.asked for ensemble in shown) or Assignment.objects.exists():
        return []
    charts = ChartRevision.objects.all()
    players = Membership.objects.filter(role=Membership.Role.PLAYER)
    tunes = reverse("tunes:index")
    return [
        FirstStep("Make a term and its ensembles", reverse("studio:terms"), Ensemble.objects.exists()),
        FirstStep("Bring in the people: one by one, or a whole roster", reverse("studio:people"), players.exists()),
        FirstStep("Enter a tune and its chart, as text or from a MusicXML file", tunes, charts.exists()),
        FirstStep(
            "Check the chart against the recording", f"{tunes}?state=unchecked", charts.filter(checked=True).exists()
        ),
        FirstStep("Assign it: from the page of the tune", tunes, False),
    ]


def tasks(user: Any) -> list[Task]:
    """What waits, the most pressing first; nothing that counts zero. Five queries."""
    found = [*_of_work(user), *_of_tunes()]
    if is_director(user):
        found = [*found, *_of_people()]
    return [task for task in found if task.count]


def _of_work(user: Any) -> list[Task]:
    review, asked = _counted_at_once(waiting(attempts_led(user)), objections_led(user).filter(answered=None))
    late = (
        missing(user).order_by().aggregate(players=Count("user", distinct=True), steps=Count("step_id", distinct=True))
    )
    players, steps = late["players"], late["steps"]
    queue = reverse("work:queue")
    return [
        Task(review, _words(review, "sheet to review", "sheets to review"), queue),
        Task(asked, _words(asked, "question to answer", "questions to answer"), f"{queue}?state=questions"),
        Task(
            players,
            f"{_words(players, 'player has', 'players have')} not done all that was due ("
            f"{steps} {_words(steps, 'step', 'steps')})",
            f"{queue}?state=missing",
        ),
    ]


def _counted_at_once(*found: QuerySet[Any]) -> list[int]:
    """How many rows each of these has, in one query."""
    counts = {
        f"n{at}": Coalesce(
            Subquery(rows.order_by().annotate(one=Value(1)).values("one").annotate(n=Count("pk")).values("n")), 0
        )
        for at, rows in enumerate(found)
    }
    row = Ensemble.objects.order_by().annotate(**counts).values(*counts).first()
    return list(row.values()) if row else [0] * len(found)


def _of_tunes() -> list[Task]:
    """Tunes that cannot be assigned yet, and those of which no chart has been checked: as the list of tunes counts them."""
    rows = Tune.objects.annotate(
        charted=Exists(ChartVersion.objects.filter(tune=OuterRef("pk"))),
        checked=Exists(ChartRevision.objects.filter(version__tune=OuterRef("pk"), checked=True)),
    ).aggregate(
        empty=Count("pk", filter=Q(charted=False)), unchecked=Count("pk", filter=Q(charted=True, checked=False))
    )
    index = reverse("tunes:index")
    return [
        Task(
            rows["empty"],
            _words(rows["empty"], "tune has no chart yet", "tunes have no chart yet"),
            f"{index}?state=no-chart",
        ),
        Task(
            rows["unchecked"],
            _words(rows["unchecked"], "tune has no checked chart", "tunes have no checked chart"),
            f"{index}?state=unchecked",
        ),
    ]


def _of_people() -> list[Task]:
    """People without a password, and ensembles that nobody leads or nobody plays in."""
    without = waiting_people().count()
    chairs = Membership.objects.filter(ensemble=OuterRef("pk"))
    rows = (
        Ensemble.objects.filter(**running(""))
        .annotate(
            led=Exists(chairs.leading()),
            played=Exists(chairs.filter(role=Membership.Role.PLAYER)),
        )
        .aggregate(leaderless=Count("pk", filter=Q(led=False)), empty=Count("pk", filter=Q(played=False)))
    )
    ensembles = reverse("studio:ensembles")
    return [
        Task(
            without,
            _words(without, "person has no password yet", "people have no password yet"),
            f"{reverse('studio:people')}?show=waiting",
        ),
        Task(
            rows["leaderless"],
            _words(rows["leaderless"], "ensemble has no instructor", "ensembles have no instructor"),
            ensembles,
        ),
        Task(rows["empty"], _words(rows["empty"], "ensemble has no players", "ensembles have no players"), ensembles),
    ]


def _words(count: int, one: str, many: str) -> str:
    return one if count == 1 else many


def ensembles_now(user: Any) -> QuerySet[Ensemble]:
    """Ensembles of running terms with `players`, `asked` (assignments) and `next_due`. One query, each number counted by
    itself: joined, every chair would be read once for every step."""
    players = Membership.objects.filter(role=Membership.Role.PLAYER)
    due = Step.objects.filter(assignment__ensemble=OuterRef("pk"), due__gte=timezone.now())
    return (
        ensembles_led(user)
        .filter(**running(""), term__starts__lte=timezone.localdate())
        .annotate(
            players=_count(players),
            asked=_count(Assignment.objects.all()),
            next_due=Subquery(due.order_by("due").values("due")[:1]),
        )
    )


MOST_TO_COME = 20


def ensembles_to_come(user: Any) -> list[Ensemble]:
    """Ensembles of terms that have not begun, the nearest first, with their `players`. One query."""
    players = Membership.objects.filter(role=Membership.Role.PLAYER)
    later = ensembles_led(user).filter(term__starts__gt=timezone.localdate()).select_related("term")
    return list(later.annotate(players=_count(players)).order_by("term__starts", "name")[:MOST_TO_COME])


def _count(rows: QuerySet[Any]) -> Coalesce:
    """How many of the rows belong to the ensemble of the outer query."""
    found = rows.filter(ensemble=OuterRef("pk")).order_by().values("ensemble").annotate(n=Count("pk"))
    return Coalesce(Subquery(found.values("n")), 0)


def leaders_of(ensembles: Sequence[Ensemble]) -> dict[int, str]:
    """The instructors of each ensemble by name, in words. One query."""
    rows = Membership.objects.leading().filter(ensemble__in=[e.pk for e in ensembles])
    found: dict[int, list[str]] = {}
    for ensemble, name in rows.order_by("user__name").values_list("ensemble", "user__name"):
        found.setdefault(ensemble, []).append(name)
    return {pk: ", ".join(names) for pk, names in found.items()}
