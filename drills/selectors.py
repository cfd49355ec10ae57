"""What reads the practice log and the packs."""

from __future__ import annotations

import datetime as dt

from django.db.models import Count, Max, OuterRef, QuerySet, Subquery
from django.utils import timezone

from drills.models import Pack, Practice, PracticeCue, PracticeHabit, PracticeItem
from drills.sheets import Material
from studio.models import Membership, User
from tunes.interchange.melody import Melody
from tunes.models import ChartRevision, ChartVersion
from tunes.models_recordings import Melody as KeptMelody
from tunes.selectors import revisions_for_study


def charts_to_practise() -> QuerySet[ChartVersion]:
    """Every version that has a revision, agreed ones first, with `newest` (pk of its latest revision). One query."""
    newest = ChartRevision.objects.filter(version=OuterRef("pk")).order_by("-number").values("pk")[:1]
    return (
        ChartVersion.objects.select_related("tune")
        .annotate(newest=Subquery(newest))
        .filter(newest__isnull=False)
        .order_by("tune__title", "-is_agreed", "pk")
    )


def open_cues(user: User, now: dt.datetime | None = None) -> QuerySet[PracticeCue]:
    """Bars to come back to, oldest first; not those that are still silent."""
    cues = PracticeCue.objects.filter(user=user, settled=None, created__lte=now or timezone.now())
    return cues.select_related("revision__version__tune")


def items(user: User) -> QuerySet[PracticeItem]:
    """A player's drills, the one due first at the top."""
    return PracticeItem.objects.filter(user=user).select_related("revision__version__tune")


def log(user: User) -> QuerySet[Practice]:
    """What a player practised, newest first."""
    return Practice.objects.filter(user=user).select_related("item", "revision__version__tune")


def habit(user: User) -> PracticeHabit:
    """A player's wishes about rests and sessions; the defaults until they set their own."""
    return PracticeHabit.objects.filter(user=user).first() or PracticeHabit(user=user)


def practised(users: list[int], tunes: list[int]) -> list[dict[str, object]]:
    """Evidence for a ledger: per player and tune how often drills were practised, the fastest tempo and the last time.

    One query; rows have user, tune, times, tempo, last.
    """
    rows = Practice.objects.filter(user__in=users, revision__version__tune__in=tunes)
    grouped = rows.values("user", "revision__version__tune").annotate(
        times=Count("pk"), tempo=Max("tempo"), last=Max("when")
    )
    return [
        {"user": row["user"], "tune": row["revision__version__tune"], "times": row["times"], "tempo": row["tempo"],
         "last": row["last"]}
        for row in grouped.order_by("user", "revision__version__tune")
    ]  # fmt: skip


def chair_instruments(pack: Pack) -> dict[str, list[str]]:
    """Instrument → names of the chairs that read it, also as a double, for the ensemble of a pack. One query."""
    found: dict[str, list[str]] = {}
    chairs = Membership.objects.filter(ensemble=pack.ensemble_id, role=Membership.Role.PLAYER).select_related("user")
    for chair in chairs.order_by("user__name"):
        for instrument in dict.fromkeys((chair.instrument or chair.user.instrument or "piano", *chair.doubles)):
            found.setdefault(instrument, []).append(chair.user.name)
    return found


def material(pk: int, key: str = "") -> Material | None:
    """A revision with its overrules and the melody of its version, ready for drills, in another concert `key` where one is
    given. Four queries."""
    revision = revisions_for_study().filter(pk=pk).first()
    if revision is None:
        return None
    return Material(revision, melody_of(revision), key=key)


def melody_of(revision: ChartRevision) -> Melody | None:
    """The melody kept for the version of a revision, concert pitch. One query."""
    kept = KeptMelody.objects.filter(version=revision.version_id).first()
    return Melody.from_json(kept.notes) if kept else None
