"""What reads recordings. Every function says how many queries it takes."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db.models import Count, Exists, Max, OuterRef, Q, QuerySet, Subquery, Sum

from studio.models import Membership, User
from tunes.models import CautionSeen, EarResult, FormMark, Listening, Recording, Tune
from tunes.recordings.form_map import Moment


def recordings_of(tune: Tune, player: Any) -> QuerySet[Recording]:
    """Recordings to hear, reference first, with `times_heard` by `player` and `has_map`. One query."""
    return (
        tune.recordings.select_related("sound")
        .annotate(
            times_heard=Count("listenings", filter=Q(listenings__player=player)),
            last_heard=Max("listenings__heard_on", filter=Q(listenings__player=player)),
            has_map=Exists(FormMark.objects.filter(recording=OuterRef("pk"))),
        )
        .order_by("-is_reference", "year", "pk")
    )


def moments_of(recording: Recording) -> tuple[Moment, ...]:
    """The tapped moments of a recording in order. One query."""
    rows = recording.marks.order_by("chorus", "bar")
    return tuple(Moment(row.chorus, row.bar, row.seconds, row.label) for row in rows)


def log_of(player: Any, recording: Recording | None = None) -> QuerySet[Listening]:
    """A player's listening log, newest first. One query."""
    rows = Listening.objects.filter(player=player).select_related("recording__tune")
    return rows.filter(recording=recording) if recording else rows


@dataclass(frozen=True)
class Heard:
    """What the log says of one player and one tune: evidence for the listening step."""

    times: int
    recordings: int
    reference: bool
    seconds: int
    last: datetime | None


def listening_evidence(players: Collection[int | User], tunes: Collection[int | Tune]) -> dict[tuple[int, int], Heard]:
    """(player id, tune id) → what was heard; pairs with nothing are absent. One query."""
    rows = (
        Listening.objects.filter(player__in=players, recording__tune__in=tunes)
        .values("player_id", "recording__tune_id")
        .annotate(
            times=Count("pk"),
            recordings=Count("recording", distinct=True),
            references=Count("pk", filter=Q(recording__is_reference=True)),
            total=Sum("seconds"),
            last=Max("heard_on"),
        )
    )
    return {
        (row["player_id"], row["recording__tune_id"]): Heard(
            row["times"], row["recordings"], row["references"] > 0, row["total"] or 0, row["last"]
        )
        for row in rows
    }


def caution_due(user: Any, name: str) -> bool:
    """Whether this person has yet to see a caution. One query."""
    return not CautionSeen.objects.filter(user=user, name=name).exists()


def heard_in(tune: Tune, ensembles: QuerySet[Any]) -> list[dict[str, Any]]:
    """Per recording of a tune, how many players of these ensembles have logged it. One query."""
    players = User.objects.filter(memberships__ensemble__in=ensembles, memberships__role="player")
    heard = Count("listenings__player", filter=Q(listenings__player__in=players), distinct=True)
    return [
        dict(row) for row in Recording.objects.filter(tune=tune).annotate(listeners=heard).values("pk", "listeners")
    ]


@dataclass(frozen=True)
class EarStanding:
    """What a player's ear exercises on one tune say: how many, the best, the latest (scores from 0 to 1)."""

    kind: str
    times: int
    best: float
    last: datetime

    @property
    def name(self) -> str:
        return str(EarResult.Kind(self.kind).label)


def players_led(ensembles: QuerySet[Any]) -> QuerySet[User]:
    """Everybody who plays in one of these ensembles, by name. One query."""
    chairs = Membership.objects.filter(ensemble__in=ensembles, role=Membership.Role.PLAYER)
    return User.objects.filter(pk__in=chairs.values("user_id")).order_by("name", "pk")


def last_noticed(players: Collection[User], tune: Tune) -> dict[int, Listening]:
    """Per player, the newest entry of the log on a tune. One query."""
    newest = Listening.objects.filter(player=OuterRef("player"), recording__tune=tune).order_by("-heard_on", "-pk")
    rows = Listening.objects.filter(
        player__in=players, recording__tune=tune, pk=Subquery(newest.values("pk")[:1])
    ).select_related("recording")
    return {row.player_id: row for row in rows}


def ear_evidence(
    players: Collection[int | User], tunes: Collection[int | Tune]
) -> dict[tuple[int, int], dict[str, EarStanding]]:
    """(player id, tune id) → standing by kind of exercise; pairs with nothing are absent. One query."""
    rows = (
        EarResult.objects.filter(player__in=players, tune__in=tunes)
        .order_by()
        .values("player_id", "tune_id", "kind")
        .annotate(times=Count("pk"), best=Max("score"), last=Max("created"))
    )
    found: dict[tuple[int, int], dict[str, EarStanding]] = {}
    for row in rows:
        standing = EarStanding(row["kind"], row["times"], row["best"], row["last"])
        found.setdefault((row["player_id"], row["tune_id"]), {})[row["kind"]] = standing
    return found
