"""The plan of an ensemble beside what its players know already and what each tune still needs."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass

from django.db.models import Count, Q
from django.utils import timezone

from studio.models import Ensemble, Membership
from tunes import repertoire, selectors
from tunes.models import Idiom, Listening, Tune

from ..kinds import KINDS
from ..learned import Requirement
from ..models import Assignment, PlannedTune
from .ledger import learned_pairs, requirements, standing_rows

MOST_IDIOMS = 40


@dataclass(frozen=True)
class Players:
    """The players that a plan counts: those of the ensemble, or of the last one of its name while it has none."""

    ids: tuple[int, ...]
    of: Ensemble

    def __len__(self) -> int:
        return len(self.ids)


@dataclass(frozen=True)
class Need:
    """One kind of step that the programme asks for: how many of the players have not done it."""

    name: str
    undone: int


@dataclass(frozen=True)
class Shared:
    """A progression of a planned tune, and the tunes with it that the ensemble knows."""

    idiom: Idiom
    known: tuple[str, ...]


@dataclass(frozen=True)
class PlanRow:
    """One planned tune: how many know it, what is undone, what it shares with what they know."""

    planned: PlannedTune
    known: int
    assignment: int | None = None
    needs: tuple[Need, ...] = ()
    shared: tuple[Shared, ...] = ()
    has_chart: bool = True
    by_all: bool = False

    @property
    def overdue(self) -> bool:
        """The day has passed and somebody does not know it yet."""
        return bool(not self.by_all and self.planned.known_by and self.planned.known_by < timezone.localdate())


def planned(ensemble: Ensemble) -> list[PlannedTune]:
    """The plan in its order. One query."""
    return list(PlannedTune.objects.filter(ensemble=ensemble).select_related("tune"))


def players_for(ensemble: Ensemble) -> Players:
    """Whom the plan counts. One query, or two while the ensemble has no players yet."""
    chairs = Membership.objects.filter(role=Membership.Role.PLAYER).order_by("-ensemble__term__starts")
    ids = tuple(chairs.filter(ensemble=ensemble).values_list("user_id", flat=True))
    if ids:
        return Players(ids, ensemble)
    before = list(
        chairs.filter(ensemble__name=ensemble.name, ensemble__term__starts__lt=ensemble.term.starts).select_related(
            "ensemble__term"
        )
    )
    same = [row for row in before if row.ensemble_id == before[0].ensemble_id]
    return Players(tuple(row.user_id for row in same), same[0].ensemble if same else ensemble)


def known_counts(players: Players, asked: Sequence[Requirement] = ()) -> dict[int, int]:
    """How many of the players have learned each tune that any of them has learned. Two queries, one with `asked`, what the
    programme asks for."""
    found: dict[int, int] = defaultdict(int)
    for row in learned_pairs(players.ids, asked):
        found[row["tune"]] += 1
    return dict(found)


def known_by_all(counts: Mapping[int, int], players: Players) -> list[Tune]:
    """The tunes that every player has learned, by title. One query."""
    whole = [tune for tune, count in counts.items() if len(players) and count == len(players)]
    return list(Tune.objects.filter(pk__in=whole).order_by("title"))


def with_steps(
    rows: Sequence[PlannedTune],
    players: Players,
    counts: Mapping[int, int],
    ensemble: Ensemble,
    asked: Sequence[Requirement] = (),
) -> list[PlanRow]:
    """The plan with what is undone, step by step. Four queries, three with `asked`, what the programme asks for."""
    tunes = [row.tune_id for row in rows]
    asked = asked or requirements()
    done = _done(tunes, players.ids, asked)
    made = dict(
        Assignment.objects.filter(ensemble=ensemble, tune__in=tunes).order_by("created").values_list("tune", "pk")
    )
    return [
        PlanRow(
            row,
            counts.get(row.tune_id, 0),
            made.get(row.tune_id),
            tuple(
                Need(KINDS[r.kind].name, undone)
                for r in asked
                if (undone := len(players) - len(done.get((row.tune_id, r.kind), ())))
            ),
            by_all=bool(players) and counts.get(row.tune_id, 0) == len(players),
        )
        for row in rows
    ]


def _done(
    tunes: Sequence[int], players: Sequence[int], asked: Iterable[Requirement]
) -> dict[tuple[int, str], set[int]]:
    """By tune and kind of step, who has done it. Two queries."""
    wanted = {r.kind: r for r in asked}
    meets = Q(pk__in=())
    for r in wanted.values():
        meets |= Q(kind=r.kind, percent__gte=r.pass_mark)
    times: dict[tuple[int, str, int], int] = defaultdict(int)
    rows = standing_rows(player__in=players, tune__in=tunes).filter(meets).order_by()
    for tune, kind, player, n in (
        rows.values("tune", "kind", "player").annotate(n=Count("id")).values_list("tune", "kind", "player", "n")
    ):
        times[tune, kind, player] += n
    heard = Listening.objects.filter(player__in=players, recording__tune__in=tunes).order_by()
    for tune, player, n in (
        heard.values("recording__tune", "player").annotate(n=Count("id")).values_list("recording__tune", "player", "n")
    ):
        times[tune, "listening", player] += n
    found: dict[tuple[int, str], set[int]] = defaultdict(set)
    for (tune, kind, player), n in times.items():
        if kind in wanted and n >= wanted[kind].times:
            found[tune, kind].add(player)
    return found


def with_progressions(rows: Sequence[PlannedTune], counts: Mapping[int, int], known: Collection[Tune]) -> list[PlanRow]:
    """The plan with the programme's named progressions in each tune, and where the ensemble knows them from. Four queries."""
    idioms = list(selectors.idioms().order_by("name")[:MOST_IDIOMS])
    agreed = selectors.agreed_stamps()
    holders = repertoire.holders(idioms, agreed=agreed)
    charted = set(agreed[1].values())
    return [
        PlanRow(
            row,
            counts.get(row.tune_id, 0),
            has_chart=row.tune_id in charted,
            shared=tuple(
                Shared(
                    idiom,
                    tuple(tune.title for tune in known if tune.pk in holders[idiom.pk] and tune.pk != row.tune_id),
                )
                for idiom in idioms
                if row.tune_id in holders[idiom.pk]
            ),
            by_all=row.tune_id in {tune.pk for tune in known},
        )
        for row in rows
    ]
