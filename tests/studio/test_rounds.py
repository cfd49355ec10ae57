"""The worker's round: whatever part fails, the others have their turn, somebody is told, and it is tried again."""

from __future__ import annotations

import datetime as dt
import inspect
import smtplib
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from django.conf import settings
from django.db import DatabaseError, OperationalError
from django.test import Client, override_settings
from django.utils import timezone

from studio import house, rounds, space
from studio.models import Housekeeping, Notice, WorkerBeat
from tests import factories

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def data(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    with override_settings(TASKS={"default": {"BACKEND": "django_tasks_db.DatabaseBackend", "QUEUES": ["default"]}}):
        yield _data(tmp_path, monkeypatch)


def _data(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setattr(settings, "DATA_DIR", tmp_path)
    monkeypatch.setattr(settings, "MEDIA_ROOT", tmp_path / "media")
    monkeypatch.setattr(space, "RESERVE", 1 << 20)
    monkeypatch.setenv("TOPFORM_BACKUP_KEEP", "3")
    return tmp_path


def break_part(monkeypatch: pytest.MonkeyPatch, name: str, error: BaseException) -> None:
    def fail(now: dt.datetime) -> None:
        raise error

    monkeypatch.setattr(
        rounds,
        "PARTS",
        tuple(replace(part, run=fail, wanted=lambda: True) if part.name == name else part for part in rounds.PARTS),
    )


def later(**how: int) -> None:
    """As if so much time had passed since."""
    for row in Housekeeping.objects.all():
        for field in ("done", "tried", "failed", "next_try"):
            if value := getattr(row, field):
                setattr(row, field, value - dt.timedelta(**how))
        row.save()


ERRORS = [
    OSError(28, "No space left on device"),
    OperationalError("database is locked"),
    DatabaseError("gone"),
    ValueError("odd"),
    smtplib.SMTPServerDisconnected("bye"),
    KeyError("x"),
    RuntimeError(),
    MemoryError(),
]


CASES = [(part.name, ERRORS[0]) for part in rounds.PARTS] + [("backup", error) for error in ERRORS[1:]]


def test_every_part_takes_the_time_of_the_round() -> None:
    for part in rounds.PARTS:
        inspect.signature(part.run).bind(timezone.now())  # a TypeError names what is wrong


@pytest.mark.parametrize(("part", "error"), CASES)
def test_no_part_ends_the_round(monkeypatch: pytest.MonkeyPatch, part: str, error: BaseException) -> None:
    others = {each.name for each in rounds.PARTS if each.wanted() and each.name != part}
    break_part(monkeypatch, part, error)
    rounds.make_round("here:1")
    done = set(Housekeeping.objects.exclude(done=None).values_list("name", flat=True))
    assert done == others
    assert Housekeeping.objects.get(name=part).failures == 1
    assert WorkerBeat.objects.exists()


def test_a_failed_backup_is_told_tried_again_and_marked_only_when_it_is_there(
    data: Path, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture, client: Client
) -> None:
    """The fault that was: the day's mark came first, and the first failure ended the daily backups for good."""
    director = factories.make_director()
    player = factories.make_user("A player")
    good = rounds.PARTS
    break_part(monkeypatch, "backup", OSError(28, "No space left on device"))
    rounds.make_round("here:1")
    assert "Traceback" in caplog.text
    row = Housekeeping.objects.get(name="backup")
    assert (row.done, row.failures, "No space left" in row.problem) == (None, 1, True)
    assert row.next_try is not None
    assert row.next_try > timezone.now()
    told = Notice.objects.get(user=director)
    assert "The daily backup failed: [Errno 28] No space left on device" in told.text
    assert not Notice.objects.filter(user=player).exists()
    found = client.get("/readyz")
    assert (found.status_code, found.json()["state"]) == (200, "degraded")
    assert found.json()["backup"].startswith("failed since")
    assert "No space" not in found.content.decode()  # anybody may ask

    for _ in range(3):
        rounds.make_round("here:1")
    assert Housekeeping.objects.get(name="backup").failures == 1  # not before its time
    later(minutes=6)
    rounds.make_round("here:1")
    assert Housekeeping.objects.get(name="backup").failures == 2
    assert Notice.objects.filter(user=director).count() == 1

    monkeypatch.setattr(rounds, "PARTS", good)
    later(minutes=11)
    rounds.make_round("here:1")
    row = Housekeeping.objects.get(name="backup")
    assert row.done is not None
    assert (row.failures, row.problem, row.next_try) == (0, "", None)
    assert len(list((data / "backups").glob("*-daily.zip"))) == 1
    assert Notice.objects.filter(user=director, text="The daily backup works again.").count() == 1
    assert client.get("/readyz").json()["backup"] == "ok"


def test_one_backup_a_day_whoever_makes_it(data: Path) -> None:
    for worker in ("here:1", "there:2", "here:1"):
        rounds.make_round(worker)
    assert len(list((data / "backups").glob("*-daily.zip"))) == 1
    first = next((data / "backups").glob("*-daily.zip"))
    later(days=1)
    rounds.make_round("there:2")
    assert [path.name > first.name for path in (data / "backups").glob("*-daily.zip")] == [True]  # one of a day is kept


def test_a_part_whose_worker_was_killed_is_taken_up_after_its_lease(data: Path) -> None:
    now = timezone.now()
    Housekeeping.objects.create(name="backup", next_try=now + rounds.LEASE, tried=now)
    rounds.make_round("here:1")
    assert not (data / "backups").exists()
    later(minutes=16)
    rounds.make_round("here:1")
    assert list((data / "backups").glob("*-daily.zip"))


def test_the_pause_grows_and_stays_below_an_hour(monkeypatch: pytest.MonkeyPatch) -> None:
    break_part(monkeypatch, "tidy", ValueError("odd"))
    pauses = []
    for _ in range(7):
        rounds.make_round("here:1")
        row = Housekeeping.objects.get(name="tidy")
        assert row.next_try
        assert row.tried
        pauses.append(round((row.next_try - row.tried).total_seconds() / 60))
        later(hours=2)
    assert pauses == [5, 10, 20, 40, 60, 60, 60]


def test_a_database_that_is_away_does_not_end_the_round(monkeypatch: pytest.MonkeyPatch) -> None:
    def away(*args: object, **kwargs: object) -> None:
        raise OperationalError("could not connect")

    monkeypatch.setattr(rounds, "beat", away)
    rounds.make_round("here:1")
    monkeypatch.undo()
    monkeypatch.setattr(rounds, "_take_turn", away)
    rounds.make_round("here:1")


# name of the check, what is made wrong, the word
def silent(monkeypatch: pytest.MonkeyPatch) -> None:
    WorkerBeat.objects.update(at=timezone.now() - dt.timedelta(minutes=5))


def old_backup(monkeypatch: pytest.MonkeyPatch) -> None:
    Housekeeping.objects.filter(name="backup").update(done=timezone.now() - dt.timedelta(hours=27))


def small_disk(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(space, "free_bytes", lambda folder=None: 300 << 20)


def mail_away(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(settings, "EMAIL_HOST", "mail.school.example")
    Housekeeping.objects.create(name="mail", failed=timezone.now(), failures=1, problem="refused")


def second_away(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("TOPFORM_BACKUP_TO", "/nowhere")
    rounds.make_round("here:1")


@pytest.mark.parametrize(
    ("name", "wrong", "words"),
    [
        ("worker", silent, "silent since"),
        ("backup", old_backup, "old: the last is of"),
        ("disk", small_disk, "nearly full: 300 MB free"),
        ("mail", mail_away, "not going out: failed since"),
        ("backup", second_away, "the second place failed since"),
    ],
)
def test_ready_is_degraded_with_the_reason(
    client: Client, monkeypatch: pytest.MonkeyPatch, name: str, wrong, words: str
) -> None:  # type: ignore[no-untyped-def]
    monkeypatch.setenv("TOPFORM_DISK_WARN", "0")
    rounds.make_round("here:1")
    assert client.get("/readyz").json()["state"] == "ok"
    monkeypatch.delenv("TOPFORM_DISK_WARN")
    wrong(monkeypatch)
    answer = client.get("/readyz")
    assert (answer.status_code, answer.json()["state"]) == (200, "degraded")
    assert words in answer.json()[name]


def test_the_director_reads_the_reason(client: Client, monkeypatch: pytest.MonkeyPatch) -> None:
    break_part(monkeypatch, "backup", OSError(28, "No space left on device"))
    rounds.make_round("here:1")
    client.force_login(factories.make_director())
    page = client.get("/state/").content.decode()
    assert "No space left on device" in page
    assert "Look at this" in page


def test_letters_that_the_server_does_not_take_are_a_fault(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("TOPFORM_DIGEST_HOUR", "0")
    user = factories.make_user()
    Notice.objects.create(user=user, kind="t", text="x", created=timezone.now() - dt.timedelta(days=1))
    monkeypatch.setattr(
        "django.core.mail.EmailMessage.send", lambda self: (_ for _ in ()).throw(smtplib.SMTPException("450 later"))
    )
    rounds.make_round("here:1")
    assert "450 later" in Housekeeping.objects.get(name="letters").problem
    assert house._mail({"letters": Housekeeping.objects.get(name="letters")}).word.startswith(
        "off"
    )  # no server is set here
