"""After an update every chart is read again: overrules, stored keys and other people's work stay, and each change is told once."""

from __future__ import annotations

import json
from io import StringIO
from typing import Any

import pytest
from django.core.management import call_command
from django.utils import timezone

from assessments.models import Quiz
from assessments.services import reanalysis
from studio import jobs
from studio.models import Job, Notice
from tests import factories
from tunes.engine import version
from tunes.harmony.pitch.spelling import Key
from tunes.models import ChartRevision
from tunes.services import overrules
from tunes.study import analysis_of, study_chart

pytestmark = pytest.mark.django_db
OLD = "an older engine"


def age(revision: ChartRevision, *events: int, analysis: dict[str, Any] | None = None) -> ChartRevision:
    """The revision as an older engine had read it: the labels of `events` were others."""
    stored = analysis if analysis is not None else json.loads(json.dumps(revision.analysis))
    for event in events:
        stored["readings"][event]["function"] |= {"degree": "b7", "quality": "7", "of": None, "target": None}
    ChartRevision.objects.filter(pk=revision.pk).update(engine=OLD, analysis=stored)
    return ChartRevision.objects.get(pk=revision.pk)


def labels(revision: ChartRevision) -> list[str]:
    return [reading.function.numeral for reading in study_chart(revision).analysis.readings]


def test_a_reading_is_whole_old_or_whole_new() -> None:
    """An overrule stands beside what this engine computes, before anything has been written down."""
    revision = factories.make_version()
    right, person = labels(revision), factories.make_user()
    heard = analysis_of(revision).readings[1].function
    overrules.overrule(revision=revision, event=0, key=Key.parse("Bb"), function=heard, why="", by=person)
    stale = age(revision, 1, 2, 4)
    study = study_chart(stale)
    assert [r.function.numeral for r in study.analysis.readings] == [heard.numeral, *right[1:]]
    assert study.overridden[0].computed.function.numeral == right[0]
    assert study.analysis.engine == study.computed.engine == version()


@pytest.mark.parametrize("stored", [{}, {"readings": []}, {"home": "C major", "readings": [{"event": 0}] * 6}])
def test_what_no_engine_can_read_is_read_again(stored: dict[str, Any]) -> None:
    revision = age(factories.make_version(), analysis=stored)
    assert len(study_chart(revision).analysis.readings) == 6
    (report,) = reanalysis.reanalyse()
    assert report.change.bars == "1 to 4"
    assert ChartRevision.objects.get(pk=revision.pk).engine == version()


def test_the_report_names_labels_bars_and_work_that_keeps_its_keys() -> None:
    band = factories.make_ensemble()
    teacher = factories.make_instructor(band)
    revision = factories.make_chart_revision("Ash Road")
    factories.make_assignment(band, by=teacher, revision=revision, title="Functions by Friday")
    closed = factories.make_assignment(band, by=teacher, revision=revision, title="Long over")
    closed.closed = timezone.now()
    closed.save(update_fields=["closed"])
    before = list(Quiz.objects.values_list("pk", "questions", "engine"))
    age(revision, 1, 6, 7)
    out = StringIO()
    call_command("reanalyse", stdout=out)
    said = out.getvalue()
    assert "Ash Road" in said
    assert "bars 2, 4, 5" in said
    assert "bVII7 in F major →" in said
    assert "“Functions by Friday” keeps the keys" in said
    assert "Long over" not in said
    assert f"1 charts read again with engine {version()}" in said
    assert list(Quiz.objects.values_list("pk", "questions", "engine")) == before
    assert before


def test_an_instructor_is_told_once_and_no_player_is() -> None:
    band = factories.make_ensemble()
    teacher, player = factories.make_instructor(band), factories.make_player(band)
    revision = factories.make_chart_revision("Ash Road")
    factories.make_assignment(band, by=teacher, revision=revision)
    age(factories.make_version(by=player), 1)
    for _ in range(2):
        age(ChartRevision.objects.get(pk=revision.pk), 1, 2)
        reanalysis.reanalyse()
    (notice,) = Notice.objects.filter(kind=reanalysis.NOTICE)
    assert notice.user == teacher
    assert "changed in bar 2: Ash Road" in notice.text
    assert notice.url.endswith(f"/{revision.version_id}/{revision.number}/")
    assert reanalysis.reanalyse() == []


def test_the_worker_begins_with_what_an_update_has_left() -> None:
    assert reanalysis.start_if_stale() is None
    age(factories.make_version(), 1)
    jobs.begin()
    jobs.begin()
    job = Job.objects.get(kind=reanalysis.KIND)
    jobs.run_job.func(job.pk)
    job.refresh_from_db()
    assert (job.state, job.result["changed"]) == (Job.State.DONE, 1)
    assert not ChartRevision.objects.exclude(engine=version()).exists()
    jobs.begin()
    assert Job.objects.filter(kind=reanalysis.KIND).count() == 1


def test_a_chart_that_reads_no_more_is_named_and_does_not_stop_the_others() -> None:
    broken, other = factories.make_version(), factories.make_version()
    ChartRevision.objects.filter(pk=broken.pk).update(text="", engine=OLD)
    age(other, 0)
    reports = {row.change.revision.pk: row.change for row in reanalysis.reanalyse()}
    assert reports[broken.pk].problem
    assert reports[other.pk].labels
    assert ChartRevision.objects.get(pk=other.pk).engine == version()


def test_the_quiz_says_which_engine_its_keys_are_from() -> None:
    band = factories.make_ensemble()
    revision = age(factories.make_chart_revision(), 1)
    factories.make_assignment(band, revision=revision)
    assert set(Quiz.objects.values_list("engine", flat=True)) == {version()}
