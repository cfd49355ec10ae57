"""The change feed: what is there now is held against what was there when somebody last looked.

Looking finds whatever changed and however: by a page, a call, an update of many rows at once, a deletion that went along
with another, an archive that was put back. It costs a fixed number of queries, nothing while nobody uses the feed, and
keeps one row for each object. Rows of terms that ended two months ago are looked at no more, but for deletions.
"""

from __future__ import annotations

import datetime as dt
import hashlib
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from typing import Any

from django.apps import apps
from django.db import transaction
from django.utils import timezone

from api.models import Change, ChangeState
from api.scopes import LEDGER_READ, PEOPLE_READ, TEACH, TUNES_READ, WORK_READ

PAUSE = dt.timedelta(seconds=5)  # between two looks that calls ask for
AFTER_TERM = dt.timedelta(days=60)
RECENT = dt.timedelta(days=180)
BATCH = 500


@dataclass(frozen=True)
class Kind:
    """One kind of object: its name in the feed, the permission that opens it (none: a person's own rows, which stand in their
    lists alone), the columns whose change counts, the call that shows one, the way to its term where rows of old terms are not
    looked at, which rows count at all (one that does so no more is gone), and the column of time by which old rows are left."""

    id: str
    scope: str
    model: str
    columns: tuple[str, ...]
    route: str = ""
    term: str = ""
    only: dict[str, Any] = field(default_factory=dict)
    recent: str = ""


_WORK = "step__assignment__ensemble__term"
_SHARED, _OF_SHARED = {"shared_with__isnull": False}, {"solo__shared_with__isnull": False}
KINDS: tuple[Kind, ...] = (
    Kind(
        "person",
        PEOPLE_READ,
        "studio.User",
        ("name", "email", "school_id", "instrument", "is_active", "is_director", "erased"),
    ),
    Kind("term", WORK_READ, "studio.Term", ("name", "starts", "ends")),
    Kind("ensemble", WORK_READ, "studio.Ensemble", ("name", "term"), "chairs"),
    Kind(
        "chair",
        PEOPLE_READ,
        "studio.Membership",
        ("user", "ensemble", "role", "instrument", "doubles", "begins", "ends"),
    ),
    Kind("tune", TUNES_READ, "tunes.Tune", ("changed",), "tune"),
    Kind(
        "recording",
        TUNES_READ,
        "tunes.Recording",
        ("tune", "leader", "album", "year", "key", "tempo", "link", "is_reference", "why"),
        "recording",
    ),
    Kind("version", TUNES_READ, "tunes.ChartVersion", ("tune", "name", "is_agreed"), "version"),
    Kind("revision", TUNES_READ, "tunes.ChartRevision", ("version", "number", "checked", "engine"), "revision"),
    Kind(
        "assignment", WORK_READ, "assessments.Assignment", ("version", "title", "closed", "released_at"), "assignment"
    ),
    Kind("step", WORK_READ, "assessments.Step", ("assignment", "position", "kind", "title", "due", "times", "closed")),
    Kind(
        "attempt",
        TEACH,
        "assessments.Attempt",
        ("version", "status", "points", "out_of", "late", "after_answers", "superseded", "reviewed_at"),
        "attempt",
        _WORK,
    ),
    Kind("sign_off", LEDGER_READ, "assessments.SignOff", ("player", "tune", "ensemble", "taken_back")),
    Kind("evidence", LEDGER_READ, "assessments.Evidence", ("player", "tune", "withdraws"), "", "ensemble__term"),
    Kind("leeway", TEACH, "assessments.Leeway", ("changed",), "", _WORK),
    Kind("mark_question", TEACH, "assessments.Objection", ("outcome", "answered", "answer"), "", f"attempt__{_WORK}"),
    Kind("reading_question", TEACH, "assessments.ReadingQuestion", ("outcome", "answered", "answer")),
    Kind("accepted_answer", TEACH, "assessments.AcceptedAnswer", ("points", "reason", "withdrawn"), "", _WORK),
    Kind("planned_tune", LEDGER_READ, "assessments.PlannedTune", ("position", "known_by"), "", "ensemble__term"),
    Kind("bar_word", TUNES_READ, "tunes.BarCheck", ("state", "heard", "note", "created", "settled", "settled_note")),
    Kind("overrule", TUNES_READ, "tunes.LabelOverride", ("withdrawn", "why")),
    Kind("key_area", TUNES_READ, "tunes.AreaOverride", ("withdrawn", "why")),
    Kind("idiom", TUNES_READ, "tunes.Idiom", ("name", "pattern", "notes"), "idiom"),
    Kind("melody", TUNES_READ, "tunes.Melody", ("created",), "melody"),
    Kind("solo", TUNES_READ, "tunes.Solo", ("changed", "shared_with"), "solo", only=_SHARED),
    Kind("solo_notes", TUNES_READ, "tunes.SoloRevision", ("number",), only=_OF_SHARED),
    Kind("solo_word", TUNES_READ, "tunes.SoloWord", ("role", "text", "created"), only=_OF_SHARED),
    Kind("line", TUNES_READ, "drills.KeptLine", ("kept", "first", "last", "name"), "line", only=_OF_SHARED),
    Kind("own_listening", "", "tunes.Listening", ("recording", "heard_on"), recent="created"),
    Kind("own_take", "", "drills.Take", ("rubric", "gone", "revision", "line", "ensemble"), recent="made"),
    Kind("own_take_word", "", "drills.TakeComment", ("text", "answer", "answered"), recent="created"),
    Kind(
        "own_line_key",
        "",
        "drills.LineKey",
        ("due", "last_practised", "times", "shown", "heard_on"),
        recent="last_practised",
    ),
    Kind("own_practice", "", "tunes.SoloTaken", ("what",)),
)
FED = tuple(kind for kind in KINDS if kind.scope)
ROUTES = {kind.id: kind.route for kind in KINDS}


def kinds_of(scopes: Iterable[str]) -> list[str]:
    """The kinds that these permissions open."""
    held = set(scopes)
    return [kind.id for kind in FED if kind.scope in held]


def look(now: dt.datetime | None = None, *, pause: dt.timedelta = dt.timedelta(0)) -> int:
    """Write down what changed since the last look; returns how many objects. Not more often than `pause`. Of two looks at once
    the one that ends first counts, and neither holds up anybody who writes while it reads."""
    now = now or timezone.now()
    state, _ = ChangeState.objects.get_or_create(pk=1)
    if state.looked and now - state.looked < pause:
        return 0
    found = [change for kind in KINDS for change in _differences(kind, now)]
    with transaction.atomic():
        locked = ChangeState.objects.select_for_update().get(pk=1)
        if locked.turn != state.turn:
            return 0
        for number, change in enumerate(found, locked.position + 1):
            change.position = number
        Change.objects.bulk_create(
            found,
            batch_size=BATCH,
            update_conflicts=True,
            unique_fields=["kind", "object"],
            update_fields=["digest", "gone", "position", "at"],
        )
        locked.position += len(found)
        locked.turn, locked.looked = locked.turn + 1, now
        locked.save()
    return len(found)


def _differences(kind: Kind, now: dt.datetime) -> Iterator[Change]:
    """What is there held against what was noted of it: two queries, three where not every row is looked at."""
    table = apps.get_model(kind.model)._base_manager.filter(**kind.only)
    rows = table.order_by("pk")
    if kind.term:
        rows = rows.filter(**{f"{kind.term}__ends__gte": timezone.localdate(now) - AFTER_TERM})
    if kind.recent:
        rows = rows.filter(**{f"{kind.recent}__gte": now - RECENT})
    current = {row[0]: _digest(row[1:]) for row in rows.values_list("pk", *kind.columns).iterator(chunk_size=2000)}
    noted = Change.objects.filter(kind=kind.id, gone=False).order_by("object")
    if kind.term or kind.recent:
        known = dict(noted.filter(object__gte=min(current)).values_list("object", "digest")) if current else {}
        gone: Iterable[int] = noted.exclude(object__in=table.order_by().values("pk")).values_list("object", flat=True)
    else:
        known = dict(noted.values_list("object", "digest"))
        gone = sorted(known.keys() - current.keys())
    for pk, digest in current.items():
        if known.get(pk) != digest:
            yield Change(kind=kind.id, object=pk, digest=digest, gone=False, at=now)
    for pk in gone:
        yield Change(kind=kind.id, object=pk, digest=0, gone=True, at=now)


def _digest(values: tuple[Any, ...]) -> int:
    raw = hashlib.blake2b(repr(values).encode("utf-8", "surrogatepass"), digest_size=8).digest()
    return int.from_bytes(raw, "big", signed=True)
