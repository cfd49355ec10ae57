"""The state of the site as OpenMetrics text (OpenMetrics 1.0.0, an open standard).

Families: `topform_requests`, `topform_request_seconds`, `topform_saves`, `topform_jobs`, `topform_oldest_job_seconds`,
`topform_workers`, `topform_worker_silence_seconds`, `topform_round_failures`, `topform_backup_timestamp_seconds`,
`topform_backups`, `topform_backup_bytes`, `topform_disk_free_bytes`, `topform_disk_bytes`, `topform_database_bytes`,
`topform_check`, `topform_build`. No label names a person.
"""

from __future__ import annotations

import datetime as dt
import logging
import shutil
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from django.conf import settings
from django.db import DatabaseError, connection
from django.db.models import Count, Min
from django.utils import timezone

from studio import dumps, house, metrics
from studio.models import Housekeeping, Job, WorkerBeat

TYPE = "application/openmetrics-text; version=1.0.0; charset=utf-8"
STATES = {house.OK: 0, house.DEGRADED: 1, house.DOWN: 2}
log = logging.getLogger(__name__)

Sample = tuple[str, Mapping[str, str], float]  # suffix, labels, value


@dataclass(frozen=True)
class Family:
    """One thing that is measured; a `unit` ends its name."""

    name: str
    kind: str
    help: str
    samples: tuple[Sample, ...]
    unit: str = ""


def page() -> str:
    """The whole text. What cannot be read now (a database that is away) is left out, the rest stands."""
    lines: list[str] = []
    for part in (_requests, _checks, _jobs, _rounds, _disk, _database):
        try:
            families = list(part())
        except (DatabaseError, OSError) as error:
            log.warning("a part of the metrics cannot be read: %s", error)
            continue
        for family in families:
            lines += _written(family)
    return "\n".join([*lines, "# EOF", ""])


def _written(family: Family) -> Iterator[str]:
    name = f"topform_{family.name}"
    yield f"# TYPE {name} {family.kind}"
    if family.unit:
        yield f"# UNIT {name} {family.unit}"
    yield f"# HELP {name} {_escaped(family.help)}"
    for suffix, labels, value in family.samples:
        inside = ",".join(f'{key}="{_escaped(text)}"' for key, text in labels.items())
        yield f"{name}{suffix}{{{inside}}} {value:.17g}" if inside else f"{name}{suffix} {value:.17g}"


def _escaped(text: str) -> str:
    return text.replace("\\", r"\\").replace("\n", r"\n").replace('"', r"\"")


def _gauge(name: str, help: str, samples: Iterable[tuple[Mapping[str, str], float]], unit: str = "") -> Family:
    return Family(name, "gauge", help, tuple(("", labels, value) for labels, value in samples), unit)


def _requests() -> Iterator[Family]:
    found = metrics.sums()

    def of(kind: str) -> list[tuple[str, float]]:
        return sorted((name.partition("|")[2], value) for name, value in found.items() if name.startswith(f"{kind}|"))

    requests = of("requests")
    yield Family("requests", "counter", "Requests answered, by method and kind of status.", tuple(
        ("_total", dict(zip(("method", "status"), label.split(" "), strict=True)), value) for label, value in requests
    ))  # fmt: skip
    total, within = sum(value for _, value in requests), dict(of("within"))
    buckets = [("_bucket", {"le": str(bound)}, within.get(str(bound), 0)) for bound in metrics.BOUNDS]
    rest = [("_bucket", {"le": "+Inf"}, total), ("_count", {}, total), ("_sum", {}, found.get("seconds|", 0))]
    yield Family("request_seconds", "histogram", "Time until a request was answered.", (*buckets, *rest), "seconds")
    yield Family("saves", "counter", "Requests that write, by what became of them.", tuple(
        ("_total", {"outcome": label}, value) for label, value in of("saves")
    ))  # fmt: skip


def _checks() -> Iterator[Family]:
    rows = [({"name": check.name}, float(STATES[check.state])) for check in house.checks()]
    yield _gauge("check", "What /readyz looks at: 0 well, 1 somebody should look, 2 down.", rows)
    build = {"version": settings.VERSION, "database": connection.vendor}
    yield Family("build", "info", "The version that runs.", (("_info", build, 1),))


def _jobs() -> Iterator[Family]:
    now = timezone.now()
    held = dict(Job.objects.order_by().values_list("state").annotate(n=Count("id")))
    yield _gauge("jobs", "Background work by state.", [({"state": str(s)}, held.get(s, 0)) for s in Job.State.values])
    oldest = Job.objects.filter(state=Job.State.WAITING).aggregate(at=Min("created"))["at"]
    waits = (now - oldest).total_seconds() if oldest else 0.0
    yield _gauge("oldest_job_seconds", "How long the oldest work has waited.", [({}, waits)], "seconds")
    beats = list(WorkerBeat.objects.values_list("at", flat=True))
    alive = sum(now - at < house.WORKER_SILENCE for at in beats)
    yield _gauge("workers", "Workers that have said lately that they live.", [({}, alive)])
    if beats:
        silence = (now - max(beats)).total_seconds()
        yield _gauge("worker_silence_seconds", "Since any worker last said so.", [({}, silence)], "seconds")


def _rounds() -> Iterator[Family]:
    rows = list(Housekeeping.objects.order_by("name"))
    yield _gauge(
        "round_failures",
        "Times in a row that a part of the round failed.",
        [({"part": r.name}, r.failures) for r in rows],
    )
    done: list[tuple[Mapping[str, str], float]] = [
        ({"place": place}, _stamp(row.done))
        for name, place in (("backup", "here"), ("second place", "second"))
        for row in rows
        if row.name == name and row.done
    ]
    yield _gauge("backup_timestamp_seconds", "When a daily backup last went well.", done, "seconds")
    folder = settings.DATA_DIR / "backups"
    sizes = [path.stat().st_size for path in folder.glob("topform-*")] if folder.is_dir() else []
    yield _gauge("backups", "Archives in the data folder.", [({}, len(sizes))])
    yield _gauge("backup_bytes", "Size of all of them.", [({}, sum(sizes))], "bytes")


def _stamp(when: dt.datetime | None) -> float:
    return when.timestamp() if when else 0.0


def _disk() -> Iterator[Family]:
    folders = {"data": settings.DATA_DIR, "files": settings.MEDIA_ROOT}
    found = {name: shutil.disk_usage(folder) for name, folder in folders.items() if folder.exists()}
    free = [({"folder": name}, usage.free) for name, usage in found.items()]
    yield _gauge("disk_free_bytes", "Free on the disk of a folder.", free, "bytes")
    total = [({"folder": name}, usage.total) for name, usage in found.items()]
    yield _gauge("disk_bytes", "Size of that disk.", total, "bytes")


def _database() -> Iterator[Family]:
    yield _gauge("database_bytes", "Size of the database.", [({}, dumps.database_size())], "bytes")
