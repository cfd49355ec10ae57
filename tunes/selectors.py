"""What reads the repertoire. Every function says how many queries it takes."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from django.db.models import (
    Count,
    Exists,
    Max,
    OuterRef,
    Prefetch,
    Q,
    QuerySet,
    Subquery,
    Value,
    prefetch_related_objects,
)
from django.db.models.functions import Coalesce, Lower

from studio.access import may_be_asked
from studio.models import User
from tunes.access import unnamed_forms
from tunes.models import (
    AreaOverride,
    ChartDraft,
    ChartRevision,
    ChartVersion,
    Idiom,
    LabelOverride,
    OwnNote,
    Recording,
    Tune,
)

STANDING = {"withdrawn": None}


@dataclass(frozen=True)
class TuneFilter:
    """What the list of tunes is narrowed to; empty values narrow nothing."""

    words: str = ""
    form: str = ""
    key: str = ""
    metre: str = ""
    state: str = ""  # "checked", "unchecked", "no-chart", "lyrics"
    unnamed: frozenset[int] = frozenset()  # tunes that are not found by their form: who asks is still to name it


def _checked_now() -> QuerySet[Any]:
    """For a tune (`OuterRef`): how many of its charts are checked as they stand."""
    newer = ChartRevision.objects.filter(version=OuterRef("version"), number__gt=OuterRef("number"))
    now = ChartRevision.objects.filter(~Exists(newer), version__tune=OuterRef("pk"), checked=True).order_by()
    return now.values("version__tune").annotate(count=Count("pk")).values("count")


def tunes(chosen: TuneFilter | None = None) -> QuerySet[Tune]:
    """Tunes that fit, by title, with `version_count`, `recording_count`, `has_checked`, `checked_count` (charts checked as they stand). One query."""
    chosen = chosen or TuneFilter()
    checked = ChartRevision.objects.filter(version__tune=OuterRef("pk"), checked=True)
    rows = Tune.objects.annotate(
        version_count=Count("versions", distinct=True),
        recording_count=Count("recordings", distinct=True),
        has_checked=Exists(checked),
        checked_count=Coalesce(Subquery(_checked_now()), 0),
    )
    for word in chosen.words.split():
        rows = rows.filter(
            Q(title__icontains=word)
            | Q(composer__icontains=word)
            | Q(feel__icontains=word)
            | Q(form__icontains=word) & ~Q(pk__in=chosen.unnamed)
            | Q(recordings__leader__icontains=word)
        )
    for name in ("form", "key", "metre"):
        if value := getattr(chosen, name):
            rows = rows.filter(**{f"{name}__iexact": value})
    if chosen.form:
        rows = rows.exclude(pk__in=chosen.unnamed)
    states = {
        "checked": Q(has_checked=True),
        "unchecked": Q(has_checked=False, version_count__gt=0),
        "no-chart": Q(version_count=0),
        "lyrics": Q(has_lyrics=True),
    }
    if chosen.state in states:
        rows = rows.filter(states[chosen.state])
    return rows.order_by(Lower("title"), "pk")


def as_seen_by(user: Any, chosen: TuneFilter) -> TuneFilter:
    """The same filter, finding no tune by a form that this person has still to name: two queries more at most."""
    if not may_be_asked(user) or not (chosen.words or chosen.form):
        return chosen
    return replace(chosen, unnamed=frozenset(unnamed_forms(user, _found_by_form(chosen))))


def _found_by_form(chosen: TuneFilter) -> list[int]:
    """Ids of the tunes whose form alone fits the filter or one of its words. One query."""
    fits = Q(form__iexact=chosen.form) if chosen.form else Q()
    for word in chosen.words.split():
        fits |= Q(form__icontains=word)
    return list(Tune.objects.filter(fits).values_list("pk", flat=True))


def filter_choices() -> dict[str, list[str]]:
    """The forms, keys and metres that occur in the repertoire. Three queries."""
    return {
        name: list(Tune.objects.exclude(**{name: ""}).order_by(name).values_list(name, flat=True).distinct())
        for name in ("form", "key", "metre")
    }


def tune_with_parts(pk: int) -> Tune | None:
    """A tune with recordings, versions and each version's latest revision (`version.latest`). Four queries."""
    tune = Tune.objects.filter(pk=pk).first()
    return _with_parts(tune) if tune is not None else None


def tune_with_chart(pk: int) -> tuple[Tune | None, ChartRevision | None]:
    """`tune_with_parts` and its agreed revision, whose row brings that of the tune along. Six queries with a chart."""
    revision = _newest_agreed().filter(version__tune_id=pk).first()
    if revision is None:
        return tune_with_parts(pk), None
    return _with_parts(revision.version.tune), revision


def _with_parts(tune: Tune) -> Tune:
    prefetch_related_objects([tune], "recordings", "versions")
    attach_latest(list(tune.versions.all()))
    return tune


def attach_latest(versions: list[ChartVersion]) -> None:
    """Set `version.latest` (a revision or None) and `version.revision_total` on every version. One query."""
    rows = (
        ChartRevision.objects.filter(version__in=versions)
        .select_related("source_recording", "created_by", "checked_by")
        .order_by("version_id", "-number")
        .defer("analysis", "text")
    )
    by_version: dict[int, list[ChartRevision]] = {}
    for row in rows:
        by_version.setdefault(row.version_id, []).append(row)
    for version in versions:
        found = by_version.get(version.pk, [])
        version.latest = found[0] if found else None  # type: ignore[attr-defined]
        version.revision_total = len(found)  # type: ignore[attr-defined]


def revisions_for_study() -> QuerySet[ChartRevision]:
    """Revisions with everything that `tunes.study.study_chart` reads. Three queries when evaluated."""
    return ChartRevision.objects.select_related(
        "version__tune", "source_recording", "created_by", "checked_by"
    ).prefetch_related(*read_with_a_chart())


def read_with_a_chart() -> list[Prefetch[str]]:
    """What `study_chart` reads beside a revision, for one that is there already. Two queries when fetched."""
    return [
        Prefetch("label_overrides", LabelOverride.objects.filter(**STANDING).select_related("by")),
        Prefetch("area_overrides", AreaOverride.objects.filter(**STANDING).select_related("by")),
    ]


def latest_revision(version: ChartVersion) -> ChartRevision | None:
    """The newest revision of a version, ready for study. Three queries."""
    return revisions_for_study().filter(version=version).order_by("-number").first()


def agreed_revision(tune: Tune) -> ChartRevision | None:
    """The newest revision of the chart that the class agrees on. Three queries."""
    return _newest_agreed().filter(version__tune=tune).first()


def _newest_agreed() -> QuerySet[ChartRevision]:
    return revisions_for_study().filter(version__is_agreed=True).order_by("-number")


def latest_revisions() -> QuerySet[ChartRevision]:
    """The newest revision of every agreed version, ready for study: what the whole repertoire plays."""
    newer = ChartRevision.objects.filter(version=OuterRef("version"), number__gt=OuterRef("number"))
    return revisions_for_study().filter(~Exists(newer), version__is_agreed=True).order_by("version__tune__title", "pk")


def own_notes(user: Any, tune: Tune, most: int = 12) -> list[OwnNote]:
    """The first of a person's own notes at bars of a tune; nobody else's. One query."""
    return list(OwnNote.objects.filter(user=user, tune=tune, bar__isnull=False).order_by("bar")[:most])


def reference_recording(tune: Tune) -> Recording | None:
    return next((row for row in tune.recordings.all() if row.is_reference), None)


def draft_of(user: User, tune: Tune, version: ChartVersion | None) -> ChartDraft | None:
    """What this person has typed and not yet saved. One query."""
    return ChartDraft.objects.filter(user=user, tune=tune, version=version).select_related("based_on").first()


def drafts_of(user: User, tune: Tune) -> list[ChartDraft]:
    """Everything that this person has typed for a tune and not yet saved, the newest first. One query."""
    return list(
        ChartDraft.objects.filter(user=user, tune=tune).select_related("version").defer("text").order_by("-changed")
    )


def withdrawn_overrules(revision: ChartRevision, event: int) -> list[LabelOverride]:
    """Earlier overrules of one label that were withdrawn, newest first. One query."""
    rows = LabelOverride.objects.filter(revision=revision, event=event).exclude(withdrawn=None)
    return list(rows.select_related("by", "withdrawn_by").order_by("-withdrawn")[:10])


def withdrawn_areas(revision: ChartRevision, first: int, last: int) -> list[AreaOverride]:
    """Earlier overrules of a key that touch these events and were withdrawn, newest first. One query."""
    rows = AreaOverride.objects.filter(revision=revision, first__lte=last, last__gte=first).exclude(withdrawn=None)
    return list(rows.select_related("by", "withdrawn_by").order_by("-withdrawn")[:10])


def standing_overrules(revisions: Iterable[int], at: datetime | None = None) -> dict[int, list[int]]:
    """The overrules that stand on these revisions, by revision: ids of labels, and those of areas with a minus sign.

    `at`: those that stood then, as far as their dates tell. Two queries.
    """
    standing = Q(withdrawn=None) if at is None else Q(created__lte=at) & (Q(withdrawn=None) | Q(withdrawn__gt=at))
    ids = set(revisions)
    found: dict[int, list[int]] = {pk: [] for pk in ids}
    for sign, model in ((1, LabelOverride), (-1, AreaOverride)):
        for revision, pk in (
            model.objects.filter(standing, revision__in=ids).order_by("pk").values_list("revision", "pk")
        ):
            found[revision].append(sign * pk)
    return found


def idioms() -> QuerySet[Idiom]:
    return Idiom.objects.select_related("made_by")


def history(version: ChartVersion) -> QuerySet[ChartRevision]:
    """Revisions of a version, newest first, without their texts. One query."""
    rows = ChartRevision.objects.filter(version=version).select_related("created_by", "checked_by", "source_recording")
    return rows.defer("text", "analysis").order_by("-number")


def newest_number(version: ChartVersion) -> int:
    """Number of the newest revision, 0 for none. One query."""
    return version.revisions.aggregate(newest=Max("number"))["newest"] or 0


def agreed_stamps() -> tuple[dict[int, tuple[datetime, tuple[int, ...]]], dict[int, int]]:
    """Of every agreed chart's newest revision: what tells that it changed, and its tune. By title. Two queries.

    The stamp holds when the revision was made and which overrules stand on it.
    """
    newer = ChartRevision.objects.filter(version=OuterRef("version"), number__gt=OuterRef("number"))
    newest = ChartRevision.objects.filter(~Exists(newer), version__is_agreed=True)
    rows = newest.order_by(Lower("version__tune__title"), "pk").values_list("pk", "created", "version__tune")
    standing: dict[int, list[int]] = {}
    labels, areas = (
        model.objects.filter(**STANDING).order_by().annotate(sign=Value(sign)).values_list("revision", "sign", "pk")
        for sign, model in ((1, LabelOverride), (-1, AreaOverride))
    )
    for revision, sign, pk in sorted(labels.union(areas, all=True), key=lambda row: (-row[1], row[2])):
        standing.setdefault(revision, []).append(sign * pk)
    found = list(rows)
    stamps = {pk: (created, tuple(standing.get(pk, ()))) for pk, created, _ in found}
    return stamps, {pk: tune for pk, _, tune in found}
