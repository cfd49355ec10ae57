"""What waits to be reviewed, one player's sheet, and one sheet for the whole ensemble."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from django.db.models import BooleanField, Case, Count, F, OuterRef, Q, QuerySet, Subquery, When
from django.utils import timezone

from drills.questions import prompt_for
from studio.access import ensembles_led
from studio.models import Membership
from tunes.harmony.chords import ChordSymbol

from ..access import attempts_led, objections_led, reading_questions_led
from ..bars import Bars
from ..kinds import HAND_IN, KINDS, QUIZ
from ..models import AnswerHistory, Attempt, Comment, Leeway, Mark, MarkOverride, Objection, ReadingQuestion, Step
from .accepted import with_counting_points
from .done import Among, pair, running, times_heard

STATES = (
    ("waiting", "To review"),
    ("late", "Late, to review"),
    ("missing", "Not in yet"),
    ("reviewed", "Reviewed"),
    ("questions", "Questions"),
    ("returned", "For another go"),
    ("open", "Being written"),
)
SENDABLE = [kind.id for kind in KINDS.values() if kind.how in (QUIZ, HAND_IN)]


def queue(
    user: Any,
    *,
    state: str = "waiting",
    ensemble: int | None = None,
    assignment: int | None = None,
    kind: str = "",
    player: str = "",
    older: bool = True,
) -> QuerySet[Attempt]:
    """Attempts of the ensembles that `user` leads, the oldest first (newest first once reviewed). Without `older`, what waits
    for nobody is left out when its term has ended, unless its ensemble or assignment is asked for."""
    rows: QuerySet[Attempt] = _narrow(attempts_led(user), ensemble, assignment, kind, prefix="step__")
    if state in ("reviewed", "returned", "open") and not (older or ensemble or assignment):
        rows = rows.filter(step__in=Among().steps().values("pk"))
    if player:
        rows = rows.filter(player__name__icontains=player)
    status = Attempt.Status
    if state == "reviewed":
        return rows.filter(status=status.REVIEWED).order_by("-reviewed_at", "-id")
    if state == "returned":
        return rows.filter(status=status.RETURNED).order_by("-reviewed_at", "-id")
    if state == "open":
        return (
            rows.filter(status=status.OPEN, player__erased=None)
            .annotate(filled=Count("answers", filter=~Q(answers__text="")))
            .order_by("step__due", "id")
        )
    until = Leeway.objects.filter(step=OuterRef("step"), player=OuterRef("player"))
    rows = waiting(rows).annotate(until=Subquery(until.values("due")[:1])).order_by("handed_in", "id")
    return rows.filter(late=True) if state == "late" else rows


def waiting(rows: QuerySet[Attempt]) -> QuerySet[Attempt]:
    """Those to review: handed in, no later go of the same player has come in since, and there is still a player: of an erased
    one nothing is left to read."""
    return rows.filter(status=Attempt.Status.HANDED_IN, superseded=False, player__erased=None)


def missing(
    user: Any, *, ensemble: int | None = None, assignment: int | None = None, kind: str = "", player: str = ""
) -> QuerySet[Membership]:
    """Chairs whose due date has passed with the step not done: one row for each player and step.

    Handed in, heard as often as asked, or signed off. An ended term is left out unless that ensemble or assignment
    is asked for. Each row carries `step_id`, `step_kind`, `step_title`, `due`, `assignment_id`, `assignment_title`,
    `begun`.
    """
    steps = "ensemble__assignments__steps"
    rows: QuerySet[Any] = Membership.objects.filter(
        role=Membership.Role.PLAYER,
        ensemble__in=ensembles_led(user).order_by().values("pk"),
        **{f"{steps}__due__lt": timezone.now(), f"{steps}__closed": None, "ensemble__assignments__closed": None},
    ).annotate(
        step_id=F(f"{steps}__id"),
        step_kind=F(f"{steps}__kind"),
        due=F(f"{steps}__due"),
        step_title=F(f"{steps}__title"),
        times=F(f"{steps}__times"),
        assignment_id=F("ensemble__assignments__id"),
        assignment_title=F("ensemble__assignments__title"),
        tune_id=F("ensemble__assignments__tune"),
    )
    if ensemble:
        rows = rows.filter(ensemble_id=ensemble)
    if assignment:
        rows = rows.filter(assignment_id=assignment)
    if not ensemble and not assignment:
        rows = rows.filter(**running("ensemble__"))
    if kind:
        rows = rows.filter(step_kind=kind)
    if player:
        rows = rows.filter(user__name__icontains=player)
    among = Among(ensemble, assignment)
    return not_done(rows, among).select_related("user", "ensemble__term").order_by("-due", "user__name", "step_id")


def questioned(
    user: Any, *, ensemble: int | None = None, assignment: int | None = None, kind: str = "", player: str = ""
) -> QuerySet[Objection]:
    """Questions on marks that nobody has answered yet, the oldest first."""
    rows = _narrow(objections_led(user).filter(answered=None), ensemble, assignment, kind, prefix="attempt__step__")
    return rows.filter(attempt__player__name__icontains=player) if player else rows


def readings_questioned(user: Any, *, ensemble: int | None = None, player: str = "") -> QuerySet[ReadingQuestion]:
    """Questions on readings of charts that nobody has answered yet, the oldest first."""
    rows = reading_questions_led(user).filter(answered=None)
    if ensemble:
        chairs = Membership.objects.filter(ensemble=ensemble, role=Membership.Role.PLAYER)
        rows = rows.filter(player__in=chairs.values("user"))
    return rows.filter(player__name__icontains=player) if player else rows


def objections_of(attempt: Attempt) -> dict[str, list[Objection]]:
    """What was questioned on one sheet, answered or not, by question. One query."""
    found: dict[str, list[Objection]] = defaultdict(list)
    for row in Objection.objects.filter(attempt=attempt).select_related("answered_by"):
        found[row.question].append(row)
    return dict(found)


def not_done(rows: QuerySet[Any], among: Among) -> QuerySet[Any]:
    """Of chairs with a step each, those whose player has not done it; `begun` says whether they have started.
    `among` holds the steps of all of them.

    What is done is one list of pairs for each kind, none of them read again for every chair: a database that knows
    nothing yet of the sizes of its tables cannot make a quadratic search of it.
    """
    asked = among.steps().values("pk")
    theirs = Attempt.objects.order_by().filter(step__in=asked)
    handed_in = theirs.exclude(status=Attempt.Status.OPEN)
    spared = Leeway.objects.order_by().filter(Q(excused=True) | Q(due__gt=timezone.now()), step__in=asked)
    undone = (
        (Q(step_kind__in=SENDABLE) & ~Q(pair__in=_pairs(handed_in, "step_id", "player_id")))
        | (Q(step_kind="listening") & ~Q(pair__in=among.heard_enough()))
        | (Q(step_kind="sign-off") & ~Q(pair__in=_signed(among)))
    )
    begun = Q(pair__in=_pairs(theirs, "step_id", "player_id")) | Q(pair__in=among.heard_at_all())
    rows = rows.annotate(pair=pair("step_id", "user_id")).filter(undone)
    rows = rows.exclude(pair__in=_pairs(spared, "step_id", "player_id"))
    found: QuerySet[Any] = rows.annotate(
        heard=times_heard("tune_id", OuterRef("user_id")),
        begun=Case(  # of the rows of a page alone
            When(begun, then=True), default=False, output_field=BooleanField()
        ),
    )
    return found


def _pairs(rows: QuerySet[Any], step: str, player: str) -> QuerySet[Any]:
    found: QuerySet[Any] = rows.annotate(pair=pair(step, player)).values("pair")
    return found


def _signed(among: Among) -> QuerySet[Any]:
    """Pairs of the steps that ask for a sign-off and the players who have one for that tune in that ensemble."""
    signs = "assignment__ensemble__sign_offs"
    rows = among.steps(kind="sign-off").filter(
        **{f"{signs}__taken_back__isnull": True, f"{signs}__tune": F("assignment__tune")}
    )
    return _pairs(rows, "pk", f"{signs}__player_id")


def step_label(kind: str, title: str) -> str:
    """The name of a step known by its values only."""
    return title or KINDS[kind].name


def _narrow(rows: QuerySet[Any], ensemble: int | None, assignment: int | None, kind: str, prefix: str) -> QuerySet[Any]:
    if ensemble:
        rows = rows.filter(**{f"{prefix}assignment__ensemble_id": ensemble})
    if assignment:
        rows = rows.filter(**{f"{prefix}assignment_id": assignment})
    if kind:
        rows = rows.filter(**{f"{prefix}kind": kind})
    return rows


def counts(user: Any) -> Mapping[str, int]:
    """How many attempts stand in each state (of running terms where nothing waits), and how many steps are missing, how many marks are questioned, for the tabs: four queries."""
    status = Attempt.Status
    return (
        {
            "missing": missing(user).order_by().count(),
            "questions": objections_led(user)
            .filter(answered=None)
            .order_by()
            .values("pk")
            .union(reading_questions_led(user).filter(answered=None).order_by().values("pk"), all=True)
            .count(),
        }
        | waiting(attempts_led(user)).order_by().aggregate(waiting=Count("id"), late=Count("id", filter=Q(late=True)))
        | attempts_led(user)
        .filter(step__in=Among().steps().values("pk"))
        .order_by()
        .aggregate(
            reviewed=Count("id", filter=Q(status=status.REVIEWED)),
            returned=Count("id", filter=Q(status=status.RETURNED)),
            open=Count("id", filter=Q(status=status.OPEN)),
        )
    )


@dataclass(frozen=True)
class SheetRow:
    """One question of one attempt: what was written, the computed mark and the instructor's beside it."""

    mark: Mark
    question: Mapping[str, Any]
    override: MarkOverride | None = None
    former: tuple[MarkOverride, ...] = ()
    too_late: tuple[AnswerHistory, ...] = ()
    symbols: tuple[ChordSymbol | None, ...] = ()  # in the pitch of the reader; empty where no chord is asked

    @property
    def events(self) -> tuple[int, ...]:
        """The chords that the question stands under, or those of the bar it asks about: indices of events."""
        event = self.question.get("event")
        return (event,) if event is not None else tuple((self.question.get("key") or {}).get("events") or ())

    @property
    def points(self) -> float:
        return self.override.points if self.override else self.mark.points

    @property
    def rule(self) -> str:
        """The rule of the mark: that of the key as it stands now where the sheet was marked again."""
        return (self.override.rule if self.override else "") or self.mark.rule

    @property
    def feedback(self) -> str:
        """What the player is told, by the key as it stands now where the sheet was marked again."""
        return (self.override.feedback if self.override else "") or self.mark.feedback

    @property
    def bar(self) -> int | None:
        """The bar as stored, under which the sheet keeps its comments."""
        return self.question.get("bar")

    @property
    def times(self) -> int:
        """Which pass through a repeat the question asks about, from 1."""
        return times_of(self.question)

    @property
    def shape(self) -> str:
        """How the answer is drawn: "right", "part", "missed" or "blank"."""
        if self.points >= 1:
            return "right"
        if self.points > 0:
            return "part"
        return "missed" if self.mark.answer.strip() else "blank"

    @property
    def shape_words(self) -> str:
        return {"right": "right", "part": "in part", "missed": "missed", "blank": "left blank"}[self.shape]


def times_of(question: Mapping[str, Any]) -> int:
    """Which pass through a repeat a stored question asks about, from 1."""
    return int((question.get("context") or {}).get("pass") or 1)


@dataclass(frozen=True)
class Sheet:
    """Everything on one attempt, grouped by bar. `bars` holds (bar number, rows, comments)."""

    rows: tuple[SheetRow, ...]
    bars: tuple[tuple[int | None, tuple[SheetRow, ...], tuple[Comment, ...]], ...]
    comments: tuple[Comment, ...] = field(default_factory=tuple)

    @property
    def general(self) -> list[Comment]:
        """Comments that belong to no bar of the rows."""
        shown = {c.pk for _, _, comments in self.bars for c in comments}
        return [c for c in self.comments if c.pk not in shown]


def sheet_of(
    attempt: Attempt,
    questions: Sequence[Mapping[str, Any]],
    symbols: Mapping[int, ChordSymbol | None] | None = None,
    bars: Bars | None = None,
) -> Sheet:
    """The sheet of one attempt: four queries. `questions` are the stored ones, keys included; `symbols` are
    the chords by event, in the pitch that the reader sees; `bars` names the bars."""
    told = bars.told(questions) if bars else questions
    by_id = {q["id"]: {**q, "prompt": prompt_for(q, attempt.written)} for q in told}
    overrides: dict[str, list[MarkOverride]] = defaultdict(list)
    for row in MarkOverride.objects.filter(attempt=attempt).select_related("by").order_by("id"):
        overrides[row.question].append(row)
    unused: dict[str, list[AnswerHistory]] = defaultdict(list)
    for kept in AnswerHistory.objects.filter(attempt=attempt).exclude(outcome="saved"):
        unused[kept.question].append(kept)
    comments = tuple(Comment.objects.filter(attempt=attempt).select_related("by"))
    rows = tuple(
        _with_symbols(
            SheetRow(
                mark, by_id.get(mark.question, {}), *_newest(overrides[mark.question]), tuple(unused[mark.question])
            ),
            symbols or {},
        )
        for mark in Mark.objects.filter(attempt=attempt)
    )
    return Sheet(rows, _by_bar(rows, comments), comments)


def _with_symbols(row: SheetRow, symbols: Mapping[int, ChordSymbol | None]) -> SheetRow:
    return replace(row, symbols=tuple(symbols[event] for event in row.events if event in symbols))


def _newest(rows: list[MarkOverride]) -> tuple[MarkOverride | None, tuple[MarkOverride, ...]]:
    return (rows[-1], tuple(rows[:-1])) if rows else (None, ())


def _by_bar(rows: Sequence[SheetRow], comments: Sequence[Comment]) -> tuple[Any, ...]:
    grouped: dict[int | None, list[SheetRow]] = {}
    for row in rows:
        grouped.setdefault(row.bar, []).append(row)
    return tuple(
        (bar, tuple(found), tuple(c for c in comments if bar is not None and c.bar == bar))
        for bar, found in grouped.items()
    )


def neighbours(user: Any, attempt: Attempt) -> tuple[int | None, int | None]:
    """The waiting attempts before and after this one in the queue, by when they were handed in."""
    others = waiting(attempts_led(user)).exclude(pk=attempt.pk).order_by()
    at = attempt.handed_in
    before = others.filter(Q(handed_in__lt=at) | Q(handed_in=at, pk__lt=attempt.pk))
    after = others.filter(Q(handed_in__gt=at) | Q(handed_in=at, pk__gt=attempt.pk))
    found = Attempt.objects.filter(pk=attempt.pk).values_list(
        Subquery(before.order_by("-handed_in", "-pk").values("pk")[:1]),
        Subquery(after.order_by("handed_in", "pk").values("pk")[:1]),
    )
    return found[0] if found else (None, None)


def takes_waiting(user: Any, ensemble: int) -> list[int]:
    """The waiting attempts of an ensemble that hand in a take, in the order of the queue. One query."""
    rows = waiting(attempts_led(user)).filter(step__assignment__ensemble=ensemble, submissions__take__isnull=False)
    return list(dict.fromkeys(rows.order_by("handed_in", "pk").values_list("pk", flat=True)))


def beside(pks: Sequence[int], attempt: Attempt) -> tuple[int | None, int | None]:
    """The one before and the one after an attempt in such a list; of one that waits no more, the first that still waits."""
    if attempt.pk not in pks:
        return None, pks[0] if pks else None
    at = list(pks).index(attempt.pk)
    return (pks[at - 1] if at else None), (pks[at + 1] if at + 1 < len(pks) else None)


@dataclass(frozen=True)
class MissedQuestion:
    """One question over the whole ensemble: how many missed it (`part` of them not wholly), and what they wrote,
    commonest first."""

    question: Mapping[str, Any]
    missed: int
    part: int
    sheets: int
    answers: tuple[tuple[str, int, str], ...]  # text, how many, rule

    @property
    def times(self) -> int:
        return times_of(self.question)

    @property
    def wholly(self) -> int:
        """How many earned nothing; what was right in part is told apart."""
        return self.missed - self.part

    @property
    def height(self) -> int:
        """Of the block under the chord, in pixels: three a player up to twelve players, to scale for more."""
        return 3 * self.wholly if self.sheets <= 12 else round(36 * self.wholly / self.sheets)

    @property
    def share(self) -> int:
        return round(100 * self.missed / self.sheets) if self.sheets else 0


def latest_sheets(step: Step) -> QuerySet[Attempt]:
    """The last handed-in attempt of each player."""
    return Attempt.objects.filter(step=step, superseded=False).exclude(status=Attempt.Status.OPEN)


def ensemble_sheet(step: Step, questions: Sequence[Mapping[str, Any]], bars: Bars) -> list[MissedQuestion]:
    """Which questions were missed by how many and with which answers: two queries, grouped in the database.

    Marks count as they stand, those that a person gave in the place of the computed ones.
    """
    sheets = list(latest_sheets(step).order_by().values_list("pk", flat=True))
    total = len(sheets)
    found: dict[str, list[tuple[str, int, str]]] = defaultdict(list)
    part: dict[str, int] = defaultdict(int)
    counting = with_counting_points(Mark.objects.filter(attempt__in=sheets)).filter(counts__lt=1)
    rows = (
        counting.order_by()
        .values_list("question", "answer", "rule")
        .annotate(n=Count("id"), some=Count("id", filter=Q(counts__gt=0)))
    )
    for question, answer, rule, n, some in rows:
        found[question].append((answer, n, rule))
        part[question] += some
    return [
        MissedQuestion(
            {**q, "prompt": prompt_for(q)},
            sum(n for _, n, _ in found[q["id"]]),
            part[q["id"]],
            total,
            tuple(sorted(found[q["id"]], key=lambda a: (-a[1], a[0]))),
        )
        for q in bars.told(questions)
    ]


MOST_NAMES = 24  # players named at one place


def most_missed(rows: Sequence[MissedQuestion], count: int = 5) -> list[MissedQuestion]:
    """The questions that most players missed wholly, the most missed first; none that nobody did."""
    found = sorted(enumerate(rows), key=lambda row: (-row[1].wholly, row[0]))
    return [row for _, row in found[:count] if row.wholly]


def who_missed(step: Step, questions: Sequence[str]) -> dict[str, list[Attempt]]:
    """Whose last sheet earned nothing at each of these questions, by name. One query."""
    rows = with_counting_points(
        Mark.objects.filter(attempt__in=latest_sheets(step).order_by(), question__in=questions)
    ).filter(counts__lte=0)
    found: dict[str, list[Attempt]] = defaultdict(list)
    for mark in rows.select_related("attempt__player").order_by("attempt__player__name", "attempt"):
        found[mark.question].append(mark.attempt)
    return dict(found)


@dataclass(frozen=True)
class StepCount:
    """One step over the ensemble."""

    step: Step
    players: int
    sent: int
    late: int
    waiting: int
    done: int


def step_counts(steps: Sequence[Step], players: int) -> list[StepCount]:
    """How many players have handed in each step: one query for all of them, plus sign-offs and logs."""
    ids = [s.pk for s in steps]
    status = Attempt.Status
    rows = {
        r["step"]: r
        for r in Attempt.objects.filter(step__in=ids)
        .order_by()
        .values("step")
        .annotate(
            sent=Count("player", distinct=True, filter=~Q(status=status.OPEN)),
            late=Count("player", distinct=True, filter=Q(late=True)),
            waiting=Count("id", filter=Q(status=status.HANDED_IN)),
            done=Count("player", distinct=True, filter=Q(status=status.REVIEWED)),
        )
    }
    signed = dict(
        Step.objects.filter(pk__in=ids, kind="sign-off")
        .order_by()
        .values_list("pk")
        .annotate(
            n=Count(
                "assignment__tune__sign_offs__player",
                distinct=True,
                filter=Q(
                    assignment__tune__sign_offs__taken_back__isnull=True,
                    assignment__tune__sign_offs__ensemble=F("assignment__ensemble"),
                ),
            )
        )
    )
    logged = dict(
        Step.objects.filter(pk__in=ids, kind="listening")
        .order_by()
        .values_list("pk")
        .annotate(n=Count("listenings__player", distinct=True))
    )
    extra: dict[int, int] = {**signed, **logged}
    return [StepCount(s, players, *(_counted(rows.get(s.pk), extra.get(s.pk, 0)))) for s in steps]


def _counted(row: Mapping[str, Any] | None, other: int) -> tuple[int, int, int, int]:
    if row is None:
        return other, 0, 0, other
    return row["sent"], row["late"], row["waiting"], row["done"]
