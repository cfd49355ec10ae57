"""What reads takes for pages, always the same number of queries."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.db.models import Case, Count, Q, QuerySet, Sum, When

from drills.takes.access import own_takes, takes_heard
from drills.takes.models import QuickWords, Take
from studio.models import Ensemble

USUAL_WORDS = ("sing it first", "ahead of the beat", "behind the beat", "pitch", "lovely")
COMPARED = 8


def listed(user: Any) -> QuerySet[Take]:
    """A player's own takes, the newest first, with how many comments each has (`said`)."""
    rows = own_takes(user).select_related("revision__version__tune", "ensemble")
    rows = rows.defer("peaks", "played", "revision__analysis", "revision__text")
    return rows.annotate(said=Count("comments")).order_by("-made", "-pk")


def of_tune(user: Any, tune: int) -> QuerySet[Take]:
    """A player's own takes over one tune that can still be heard, and of lines, which belong to no tune alone."""
    rows = own_takes(user).filter(Q(revision__version__tune=tune) | Q(kind=Take.Kind.LINE), gone=None)
    return rows.defer("peaks", "played")


def takes_of(user: Any, ensemble: int, tune: int, players: Sequence[int]) -> dict[int, list[Take]]:
    """Player → their last three takes over a tune that were given to an ensemble: to hear at a distance. One query."""
    rows = takes_heard(user).filter(ensemble=ensemble, revision__version__tune=tune, player__in=players, gone=None)
    found: dict[int, list[Take]] = {}
    for row in rows.only("pk", "player", "made")[:400]:
        if len(found.setdefault(row.player_id, [])) < 3:
            found[row.player_id].append(row)
    return found


def others_like(user: Any, take: Take) -> list[Take]:
    """Other takes of the same thing that `user` may hear: of the same player, then of others whom `user` leads; the newest first.
    One query."""
    rows = takes_heard(user).filter(kind=take.kind, gone=None).exclude(pk=take.pk).select_related("player", "advice")
    rows = rows.order_by(Case(When(player=take.player_id, then=0), default=1), "-made", "-pk")
    if take.line_id:
        rows = rows.filter(line=take.line_id)
    elif take.revision_id:
        rows = rows.filter(revision__version=take.revision.version_id)  # type: ignore[union-attr]
    else:
        return []
    return [row for row in rows[: 4 * COMPARED] if _same_form(row, take)][:COMPARED]


def _same_form(one: Take, other: Take) -> bool:
    """Whether two takes go along the same bars, so that they can be heard in turn bar by bar."""
    return [row[0] for row in one.played.get("bars", ())] == [row[0] for row in other.played.get("bars", ())]


def quick_words(user: Any) -> list[str]:
    """What an instructor says often; the usual ones until they write their own. One query."""
    row = QuickWords.objects.filter(user=user).first()
    return list(row.words) if row else list(USUAL_WORDS)


def room_taken() -> list[dict[str, Any]]:
    """Bytes of sound and number of takes for each ensemble, the largest first; those given to nobody come last."""
    columns: dict[str, Any] = {
        "takes_kept": Count("takes", filter=Q(takes__gone=None)),
        "bytes": Sum("takes__size", filter=Q(takes__gone=None)),
    }
    rows: Any = Ensemble.objects.select_related("term").annotate(**columns)
    rows = rows.filter(takes_kept__gt=0).order_by("-bytes", "name")
    found = [{"name": row.in_term, "takes": row.takes_kept, "bytes": row.bytes} for row in rows]
    alone = Take.objects.filter(ensemble=None, gone=None).aggregate(takes=Count("pk"), bytes=Sum("size"))
    return [
        *found,
        {"name": "Not handed in, their players' own", "takes": alone["takes"], "bytes": alone["bytes"] or 0},
    ]
