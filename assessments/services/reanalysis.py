"""The whole repertoire read again after the engine has changed: in the background, with a report, telling each instructor once."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Any

from django.urls import reverse

from assessments.models import Assignment
from studio.access import is_instructor
from studio.jobs import start_job
from studio.models import Job, User
from studio.notices import notify_once
from tunes.engine import version
from tunes.harmony.charts.bar_count import bar_name
from tunes.services.reanalysis import RevisionChange, read_again, stale_revisions

KIND = "reanalyse"
NOTICE = "reading-changed"


@dataclass(frozen=True, kw_only=True)
class TuneReport:
    """What changed in one revision, and the open assignments that keep the keys stored with them."""

    change: RevisionChange
    assignments: tuple[Assignment, ...]
    latest: bool

    @property
    def name(self) -> str:
        revision = self.change.revision
        return f"{revision.version.tune.title}, {revision.version.name}, revision {revision.number}"

    def lines(self) -> list[str]:
        """The report in words: the chart, every label that is another, and what stays as it was."""
        if self.change.problem:
            return [f"{self.name}: {self.change.problem}"]
        labels = [
            f"  {bar_name(one.bar)}: {one.before or 'not readable before'} → {one.after}" for one in self.change.labels
        ]
        kept = [f"  “{row.title}” keeps the keys that are stored with it." for row in self.assignments]
        return [f"{self.name}: bars {self.change.bars}", *labels, *kept]


def reanalyse(*, step: Callable[[int, int, str], None] = lambda done, total, message: None) -> list[TuneReport]:
    """Read every stale revision again; returned: those whose labels changed or that cannot be read.

    Each is written by itself, so a run that is cut short goes on where it was. `step` is told how far it is.
    """
    waiting = list(stale_revisions().order_by("version_id", "-number").values_list("pk", flat=True))
    found: list[TuneReport] = []
    for done, pk in enumerate(waiting, 1):
        revision = stale_revisions().select_related("version__tune", "created_by").filter(pk=pk).first()
        if revision is not None:
            report = _report(read_again(revision))
            if report.change.labels or report.change.problem:
                found.append(report)
                _tell(report)
        step(done, len(waiting), f"Chart {done} of {len(waiting)}")
    return found


def _report(change: RevisionChange) -> TuneReport:
    revision = change.revision
    open_ones = (
        Assignment.objects.filter(revision=revision, closed=None).select_related("created_by") if change.labels else ()
    )
    newer = revision.version.revisions.filter(number__gt=revision.number).exists()
    return TuneReport(change=change, assignments=tuple(open_ones), latest=not newer)


def _tell(report: TuneReport) -> None:
    """Tell those who saved the chart or set work from it, where it is still in use."""
    revision, change = report.change.revision, report.change
    if not change.labels or not (report.latest or report.assignments):
        return
    where = reverse("tunes:revision", args=[revision.version.tune_id, revision.version_id, revision.number])
    kept = " Work that is set keeps its keys." if report.assignments else ""
    plural = "bars" if len({one.bar for one in change.labels}) > 1 else "bar"
    text = f"The reading of this chart changed in {plural} {_short(change.bars)}: {revision.version.tune.title}, {revision.version.name}.{kept}"
    for person in _people(revision.created_by, *(row.created_by for row in report.assignments)):
        notify_once(person, NOTICE, text, where)


def _people(*found: User | None) -> Iterable[User]:
    return [
        person for person in dict.fromkeys(found) if person is not None and person.is_active and is_instructor(person)
    ]


def _short(bars: str) -> str:
    return bars if len(bars) <= 60 else f"{bars[:60].rpartition(',')[0]} and others"


def start_if_stale() -> Job | None:
    """Put the work in the queue when there is any and it does not wait there already."""
    unfinished = Job.objects.filter(
        kind=KIND, state__in=[Job.State.WAITING, Job.State.RUNNING], payload__engine=version()
    )
    if unfinished.exists() or not stale_revisions().exists():
        return None
    return start_job(None, KIND, {"engine": version()})


def result_of(reports: Iterable[TuneReport]) -> dict[str, Any]:
    """The report as the job keeps it."""
    rows = list(reports)
    return {"engine": version(), "changed": len(rows), "report": [line for row in rows for line in row.lines()]}
