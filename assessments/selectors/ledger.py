"""The ledger: players by tunes, derived from the evidence that stands."""

from __future__ import annotations

import csv
from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db.models import Count, Exists, F, OuterRef, Q, QuerySet, Subquery
from django.db.models.functions import Coalesce
from django.utils import timezone
from django.utils.dateformat import format as date_format

from drills.line_keys import work_alone
from studio.models import Ensemble, Membership, User
from tunes.models import Listening as LogEntry
from tunes.models import Tune
from tunes.recordings.selectors import ear_evidence

from ..kinds import KINDS, QUIZ
from ..learned import Fact, Requirement, Standing, StepStanding, standing, with_sign_off
from ..models import Assignment, Attempt, Evidence, Leeway, ProgrammeRequirement, Step
from .desk import is_out

DEFAULT = (
    Requirement("listening", 0, 3),
    Requirement("form", 80),
    Requirement("function", 80),
    Requirement("key-areas", 80),
    Requirement("sign-off"),
)


def requirements() -> tuple[Requirement, ...]:
    """What the programme asks for, sign-off always among it; a sound start until the director decides."""
    rows = tuple(Requirement(r.kind, r.pass_mark, r.times) for r in ProgrammeRequirement.objects.all())
    return with_sign_off(rows or DEFAULT)


def standing_rows(**filters: Any) -> QuerySet[Evidence]:
    """Evidence that holds: neither withdrawn nor itself a withdrawal.

    The withdrawn ones are one list, read once: a join of the record with itself is a quadratic search for a database
    that has counted its rows while there were none. "Not a withdrawal" is asked as a negation, because SQLite would answer
    `IS NULL` from the unique index of withdrawals, where nearly every row is: the whole history instead of some players'.
    """
    withdrawn = Evidence.objects.filter(withdraws__isnull=False).order_by().values("withdraws")
    return Evidence.objects.filter(~Q(pk__in=withdrawn), ~Q(withdraws__isnull=False), **filters)


def facts_of(rows: Iterable[Evidence]) -> dict[tuple[int, int], list[Fact]]:
    """Evidence rows by (player id, tune id)."""
    found: dict[tuple[int, int], list[Fact]] = defaultdict(list)
    for row in rows:
        found[row.player_id, row.tune_id].append(
            Fact(row.kind, row.percent, row.on, row.what, row.by.name if row.by else "")
        )
    return found


@dataclass(frozen=True)
class LedgerRow:
    """One player with one standing per tune of the page, in the order of the tunes."""

    player: User
    cells: tuple[tuple[Tune, Standing], ...]


def add_heard(facts: dict[tuple[int, int], list[Fact]], players: Iterable[int], tunes: Iterable[int]) -> None:
    """Add what the listening log of the repertoire says, one fact for each hearing: one query."""
    rows = LogEntry.objects.filter(player__in=list(players), recording__tune__in=list(tunes)).select_related(
        "recording"
    )
    for row in rows:
        facts[row.player_id, row.recording.tune_id].append(
            Fact("listening", 100, row.heard_on, f"Heard: {row.recording}")
        )


def given_kinds(players: Iterable[int], tunes: Iterable[int]) -> dict[tuple[int, int], set[str]]:
    """By (player id, tune id), the kinds of step that assignments have asked the player for, closed ones too, without
    those that they are excused from: one query."""
    who = "assignment__ensemble__memberships__user"
    excused = Leeway.objects.filter(step=OuterRef("pk"), player=OuterRef(who), excused=True)
    rows = Step.objects.filter(
        ~Exists(excused),
        assignment__tune__in=list(tunes),
        assignment__ensemble__memberships__user__in=list(players),
        assignment__ensemble__memberships__role=Membership.Role.PLAYER,
    )
    found: dict[tuple[int, int], set[str]] = defaultdict(set)
    for player, tune, kind in rows.order_by().values_list(who, "assignment__tune", "kind").distinct():
        found[player, tune].add(kind)
    return found


def excuses(players: Iterable[int], tunes: Iterable[int]) -> QuerySet[Leeway]:
    """Steps on these tunes that these players need not do."""
    rows = Leeway.objects.filter(excused=True, player__in=list(players), step__assignment__tune__in=list(tunes))
    return rows.select_related("step__assignment", "by")


def players_of(ensemble: Ensemble) -> QuerySet[User]:
    chairs = Membership.objects.filter(ensemble=ensemble, role=Membership.Role.PLAYER)
    return User.objects.filter(pk__in=chairs.values("user_id")).order_by("name", "pk")


def tunes_of(ensemble: Ensemble) -> QuerySet[Tune]:
    """Tunes assigned to the ensemble or known of by any evidence of its players, by title."""
    assigned = Assignment.objects.filter(ensemble=ensemble).values("tune_id")
    chairs = Membership.objects.filter(ensemble=ensemble, role=Membership.Role.PLAYER)
    known = Evidence.objects.filter(player__in=chairs.values("user_id")).values("tune_id")
    return Tune.objects.filter(Q(pk__in=assigned) | Q(pk__in=known))


def grid(players: Sequence[User], tunes: Sequence[Tune], asked: Sequence[Requirement] = ()) -> list[LedgerRow]:
    """The standing of these players on these tunes: three queries, one more without `asked`, what the programme asks for."""
    asked = asked or requirements()
    facts = facts_of(
        standing_rows(player__in=[p.pk for p in players], tune__in=[t.pk for t in tunes]).select_related("by")
    )
    add_heard(facts, [p.pk for p in players], [t.pk for t in tunes])
    given = given_kinds([p.pk for p in players], [t.pk for t in tunes])
    return [
        LedgerRow(
            player,
            tuple(
                (tune, standing(facts.get((player.pk, tune.pk), ()), asked, given[player.pk, tune.pk]))
                for tune in tunes
            ),
        )
        for player in players
    ]


def learned_pairs(players: Any, asked: Sequence[Requirement] = (), **filters: Any) -> QuerySet[Any]:
    """(player, tune) pairs that count as learned, worked out in the database. `asked`: what the programme asks for, when it
    has been read before."""
    rows = standing_rows(player__in=players, **filters).order_by().values("player", "tune")
    heard = (
        LogEntry.objects.filter(player=OuterRef("player"), recording__tune=OuterRef("tune"))
        .order_by()
        .values("player")
        .annotate(n=Count("id"))
        .values("n")
    )
    rows = rows.annotate(heard=Coalesce(Subquery(heard), 0))
    tests = {}
    for i, wanted in enumerate(asked or requirements()):
        name = f"met_{i}"
        rows = rows.annotate(**{name: Count("id", filter=Q(kind=wanted.kind, percent__gte=wanted.pass_mark))})
        tests[f"{name}__gte"] = wanted.times - F("heard") if wanted.kind == "listening" else wanted.times
    return rows.filter(**tests)


@dataclass(frozen=True)
class KnownTune:
    """One tune over an ensemble: how many of its players have learned it."""

    tune: Tune
    known: int
    players: int
    missing: tuple[User, ...] = ()

    @property
    def everyone(self) -> bool:
        return self.players > 0 and self.known == self.players


def known_by(ensemble: Ensemble) -> dict[int, set[int]]:
    """For each tune, the ids of the ensemble's players who have learned it: two queries."""
    found: dict[int, set[int]] = defaultdict(set)
    for row in learned_pairs(list(players_of(ensemble).order_by().values_list("pk", flat=True))):
        found[row["tune"]].add(row["player"])
    return found


def known_tunes(ensemble: Ensemble, tunes: Sequence[Tune], known: dict[int, set[int]]) -> list[KnownTune]:
    """The page's tunes with who still misses each (named when three or fewer)."""
    players = list(players_of(ensemble))
    return [
        KnownTune(
            tune,
            len(known.get(tune.pk, ())),
            len(players),
            tuple(p for p in players if p.pk not in known.get(tune.pk, ())),
        )
        for tune in tunes
    ]


def player_tunes(player: User) -> QuerySet[Tune]:
    """Tunes that the player was assigned or has evidence of, by title."""
    chairs = Membership.objects.filter(user=player, role=Membership.Role.PLAYER)
    assigned = Assignment.objects.filter(ensemble__in=chairs.values("ensemble_id")).values("tune_id")
    known = Evidence.objects.filter(player=player).values("tune_id")
    heard = LogEntry.objects.filter(player=player).values("recording__tune_id")
    return Tune.objects.filter(Q(pk__in=assigned) | Q(pk__in=known) | Q(pk__in=heard))


def own_page(
    player: User, tunes: Sequence[Tune], *, for_player: bool, asked: Sequence[Requirement] = ()
) -> list[tuple[Tune, Standing]]:
    """A player's standings. For the player's own eyes, marks that are not released yet are left out. `asked`: what the
    programme asks for, when it has been read before."""
    rows = list(
        standing_rows(player=player, tune__in=[t.pk for t in tunes]).select_related("by", "attempt__step__assignment")
    )
    if for_player:
        hidden = _unreleased(player, rows)
        rows = [row for row in rows if row.attempt_id not in hidden]
    facts, asked = facts_of(rows), asked or requirements()
    add_heard(facts, [player.pk], [t.pk for t in tunes])
    given = given_kinds([player.pk], [t.pk for t in tunes])
    return [(tune, standing(facts.get((player.pk, tune.pk), ()), asked, given[player.pk, tune.pk])) for tune in tunes]


def learned_days(player: User) -> list[datetime]:
    """When each tune of a player came to count as learned, as the player may know it: four queries."""
    rows = list(standing_rows(player=player).select_related("by", "attempt__step__assignment"))
    hidden = _unreleased(player, rows)
    facts, asked = facts_of(row for row in rows if row.attempt_id not in hidden), requirements()
    add_heard(facts, [player.pk], {tune for _, tune in facts})
    found = (standing(group, asked) for group in facts.values())
    return [one.learned_on for one in found if one.learned_on]


def own_work(player: User, tunes: Sequence[Tune]) -> dict[int, tuple[str, ...]]:
    """What the player did on their own, in words, by tune id: practice at the instrument, lines in twelve keys, ear exercises. It stands
    beside the steps of the programme and marks none of them as done. Two queries."""
    ids = [tune.pk for tune in tunes]
    found: dict[int, list[str]] = defaultdict(list)
    for row in work_alone([player.pk], ids):
        tempo = f", up to {row['tempo']} beats a minute" if row["tempo"] else ""
        what = f"Practised {_times(row['count'])}{tempo}"
        if row["kind"] == "line":
            name = f"The line {row['name']}" if row["name"] else "A line"
            heard = f", {row['heard']} of them heard by an instructor" if row["heard"] else ""
            what = f"{name}: {row['count']} of 12 keys{tempo}{heard}"
        found[row["tune"]].append(f"{what}, last on {_said_day(row['last'])}")
    for (_, tune_id), kinds in ear_evidence([player.pk], ids).items():
        for ear in kinds.values():
            found[tune_id].append(
                f"{ear.name}: best {ear.best:.0%}, {_times(ear.times)}, last on {_said_day(ear.last)}"
            )
    return {tune_id: tuple(lines) for tune_id, lines in found.items()}


def _times(count: int) -> str:
    return "once" if count == 1 else f"{count} times"


def _unreleased(player: User, rows: Sequence[Evidence]) -> set[int]:
    """Ids of the marked attempts behind `rows` whose marks the player may not see yet."""
    marked = {row.attempt.step_id: row.attempt.step for row in rows if row.attempt and row.attempt.points is not None}
    attempts: dict[int, list[Attempt]] = defaultdict(list)
    for attempt in Attempt.objects.filter(player=player, step__in=marked):
        attempts[attempt.step_id].append(attempt)
    now = timezone.now()
    return {a.pk for step_id, group in attempts.items() for a in group if not is_out(marked[step_id], a, group, now)}


HEADINGS = [
    "Player",
    "E-mail",
    "Ensemble",
    "Tune",
    "Learned",
    "Learned on",
    "Signed off by",
    "Signed off on",
    "On what evidence",
    "Still to do",
]


class Echo:
    """A file-like object that gives each written row straight back."""

    def write(self, row: str) -> str:
        return row


def safe_cell(value: object) -> str:
    """Text that no spreadsheet takes for a formula: a leading = + - @, tab or return gets an apostrophe
    in front (OWASP, "CSV Injection")."""
    text = str(value)
    return f"'{text}" if text[:1] in ("=", "+", "-", "@", "\t", "\r", "\n") else text


def csv_lines(ensemble: Ensemble, tunes: Sequence[Tune], chunk: int = 50) -> Iterator[str]:
    """The ensemble's ledger as CSV, one line for each player and tune, read in chunks of players."""
    asked = requirements()
    writer = csv.writer(Echo())
    yield "\ufeff" + writer.writerow([*HEADINGS, *(KINDS[r.kind].name for r in asked)])
    players = list(players_of(ensemble))
    for start in range(0, len(players), chunk):
        for row in grid(players[start : start + chunk], tunes):
            for tune, found in row.cells:
                cells = _csv_cells(row.player, ensemble, tune, found)
                yield writer.writerow([safe_cell(c) for c in cells])


def _csv_cells(player: User, ensemble: Ensemble, tune: Tune, found: Standing) -> list[object]:
    return [
        player.name,
        player.address,
        ensemble.name,
        tune.title,
        "yes" if found.learned else "no",
        _day(found.learned_on),
        found.signed_by,
        _day(found.signed_on),
        found.signed_for,
        "; ".join(KINDS[k].name for k in found.missing),
        *(_progress(step) for step in found.steps),
    ]


def _day(moment: datetime | None) -> str:
    return timezone.localtime(moment).date().isoformat() if moment else ""


def _said_day(moment: datetime) -> str:
    """A day as every page says it: 5 Sep 2026. The CSV has days that sort."""
    return date_format(timezone.localtime(moment), "j M Y")


def _progress(step: StepStanding) -> str:
    if step.times > 1:
        return f"{step.count} of {step.times}"
    if KINDS[step.kind].how == QUIZ and step.best is not None:
        return f"{step.best}%"
    return "yes" if step.done else "no"


def evidence_of(player: User, tune: Tune) -> QuerySet[Evidence]:
    """Everything on record about one player and one tune, withdrawals included, the newest first."""
    return (
        Evidence.objects.filter(player=player, tune=tune)
        .select_related("by", "withdrawn_by__by", "attempt")
        .order_by(F("on").desc(), "-id")
    )
