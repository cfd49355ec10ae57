"""Background work: exactly once, watched, swept after a crash."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator

import pytest
from django.test import Client
from django.utils import timezone
from django_tasks_db.models import DBTaskResult

from studio import jobs, rounds
from studio.jobs import JobError, Progress, Superseded, handler, run_job, start_job, sweep
from studio.models import Job, WorkerBeat
from tests import factories

pytestmark = pytest.mark.django_db
QUEUED = {"default": {"BACKEND": "django_tasks_db.DatabaseBackend", "QUEUES": ["default"]}}
ran: list[int] = []


@pytest.fixture(autouse=True)
def kinds() -> Iterator[None]:
    before = dict(jobs.HANDLERS)
    ran.clear()

    @handler("count")
    def count(progress: Progress) -> dict[str, int]:
        ran.append(progress.job_id)
        progress.step(1, 2, "halfway")
        return {"counted": 2}

    @handler("refuse")
    def refuse(progress: Progress) -> dict[str, int]:
        raise JobError("The file is empty; choose another.")

    @handler("break")
    def breaks(progress: Progress) -> dict[str, int]:
        raise ZeroDivisionError

    yield
    jobs.HANDLERS.clear()
    jobs.HANDLERS.update(before)


def silent(job: Job, seconds: int = 61) -> None:
    Job.objects.filter(pk=job.pk).update(
        state=Job.State.RUNNING, heartbeat=timezone.now() - dt.timedelta(seconds=seconds)
    )


def test_a_job_runs_and_keeps_its_result() -> None:
    job = start_job(None, "count")
    job.refresh_from_db()
    assert (job.state, job.done, job.total, job.result, job.attempts) == ("done", 1, 2, {"counted": 2}, 1)


def test_calling_the_task_again_does_nothing() -> None:
    job = start_job(None, "count")
    run_job.call(job.pk)
    assert ran == [job.pk]


def test_an_expected_failure_is_told_to_the_owner() -> None:
    job = start_job(None, "refuse")
    job.refresh_from_db()
    assert (job.state, job.message) == ("failed", "The file is empty; choose another.")


def test_an_unexpected_failure_never_stays_running(settings) -> None:  # type: ignore[no-untyped-def]
    settings.TASKS = QUEUED
    job = start_job(None, "break")
    with pytest.raises(ZeroDivisionError):
        run_job.call(job.pk)
    job.refresh_from_db()
    assert (job.state, "log" in job.message) == ("failed", True)


def test_an_unknown_kind_is_refused_at_once() -> None:
    with pytest.raises(KeyError):
        start_job(None, "nonsense")
    assert not Job.objects.exists()


def test_the_job_of_a_killed_worker_is_done_by_another_exactly_once(settings) -> None:  # type: ignore[no-untyped-def]
    settings.TASKS = QUEUED
    job = start_job(None, "count")
    silent(job)
    assert sweep() == 1
    assert sweep() == 0
    assert DBTaskResult.objects.count() == 2
    for _ in range(2):
        run_job.call(job.pk)
    assert ran == [job.pk]


def test_a_worker_that_was_only_slow_cannot_write_over_the_second(settings) -> None:  # type: ignore[no-untyped-def]
    settings.TASKS = QUEUED
    job = start_job(None, "count")
    Job.objects.filter(pk=job.pk).update(state=Job.State.RUNNING, attempts=1)
    slow = Progress(Job.objects.get(pk=job.pk))
    silent(job)
    sweep()
    run_job.call(job.pk)
    with pytest.raises(Superseded):
        slow.step(1, 5)
    slow.finish("failed", "late", {})
    job.refresh_from_db()
    assert (job.state, job.result) == ("done", {"counted": 2})


def test_after_three_attempts_it_is_given_up(settings) -> None:  # type: ignore[no-untyped-def]
    settings.TASKS = QUEUED
    job = start_job(None, "count")
    Job.objects.filter(pk=job.pk).update(attempts=3)
    silent(job)
    sweep()
    job.refresh_from_db()
    assert (job.state, "3 times" in job.message) == ("failed", True)


@pytest.mark.parametrize(("seconds", "moved"), [(59, 0), (61, 1)])
def test_a_living_worker_is_left_alone(settings, seconds: int, moved: int) -> None:  # type: ignore[no-untyped-def]
    settings.TASKS = QUEUED
    silent(start_job(None, "count"), seconds)
    assert sweep() == moved


def test_the_progress_part_asks_again_until_it_is_over(client: Client, settings) -> None:  # type: ignore[no-untyped-def]
    settings.TASKS = QUEUED
    user = factories.make_user()
    job = start_job(user, "count")
    client.force_login(user)
    part = client.get(f"/jobs/{job.pk}/", headers={"HX-Request": "true"}).content.decode()
    assert 'hx-trigger="every 1s"' in part
    assert "<html" not in part
    run_job.call(job.pk)
    part = client.get(f"/jobs/{job.pk}/", headers={"HX-Request": "true"}).content.decode()
    assert "hx-trigger" not in part
    assert "Done." in part


def test_a_round_beats_and_sweeps_and_tidies(settings) -> None:  # type: ignore[no-untyped-def]
    settings.TASKS = QUEUED
    silent(start_job(None, "count"))
    WorkerBeat.objects.create(name="gone", at=timezone.now() - dt.timedelta(days=2))
    rounds.make_round("here:1")
    rounds.make_round("here:1")
    assert list(WorkerBeat.objects.values_list("name", flat=True)) == ["here:1"]
    assert Job.objects.get().state == Job.State.WAITING


def test_readiness_names_a_silent_worker(client: Client) -> None:
    assert client.get("/readyz").json()["worker"] == "never seen"
    rounds.beat("here:1")
    found = client.get("/readyz").json()
    assert {name: found[name] for name in ("database", "files", "worker")} == {
        "database": "ok",
        "files": "ok",
        "worker": "ok",
    }
    WorkerBeat.objects.update(at=timezone.now() - dt.timedelta(minutes=5))
    assert client.get("/readyz").json()["worker"].startswith("silent since")
