"""Which archives stay, and the second place: a folder, and a store that speaks S3 (the server of the library `moto`)."""

from __future__ import annotations

import datetime as dt
import gc
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest
from django.conf import settings
from django.core.management import call_command

from studio import backup, dumps, second_place
from studio.dumps import BackupError
from studio.models import User
from studio.retention import Keep, made, to_remove
from tests import factories


def name_of(day: dt.date, hour: int = 2, reason: str = "daily") -> str:
    return f"topform-{day:%Y-%m-%d}-{hour:02d}0000-000000-{reason}.zip"


DAYS = [dt.date(2026, 1, 1) + dt.timedelta(days=number) for number in range(400)]

# Rule → the days that stay of four hundred daily archives up to Thursday 4 February 2027, counted on a calendar.
KEPT = [
    (Keep(days=3), ["2027-02-02", "2027-02-03", "2027-02-04"]),
    (Keep(weeks=2), ["2027-01-31", "2027-02-04"]),  # ISO 8601 weeks end on Sunday
    (Keep(months=3), ["2026-12-31", "2027-01-31", "2027-02-04"]),
    (Keep(days=2, weeks=2, months=2), ["2027-01-31", "2027-02-03", "2027-02-04"]),
    (Keep(), ["2027-02-04"]),  # the newest always stays
]


@pytest.mark.parametrize(("keep", "days"), KEPT)
def test_what_stays(keep: Keep, days: list[str]) -> None:
    names = [name_of(day) for day in DAYS]
    gone = set(to_remove(names, keep))
    assert [f"{when:%Y-%m-%d}" for name in names if name not in gone and (when := made(name))] == days


def test_only_daily_archives_go_and_of_one_day_the_newest_stays() -> None:
    day = dt.date(2026, 5, 1)
    names = [
        name_of(day, 2),
        name_of(day, 9),
        name_of(day, 5, "by-hand"),
        name_of(day, 1, "before-update"),
        "notes.txt",
        ".writing",
    ]
    assert to_remove(names, Keep(days=9)) == [name_of(day, 2)]


@pytest.mark.parametrize("days", [1, 5, 30, 400])
def test_pruning_every_day_keeps_what_pruning_once_keeps(days: int) -> None:
    keep, held = Keep(days=7, weeks=5, months=12), []
    for day in DAYS[:days]:
        held.append(name_of(day))
        held = [name for name in held if name not in to_remove(held, keep)]
    whole = [name_of(day) for day in DAYS[:days]]
    assert held == [name for name in whole if name not in to_remove(whole, keep)]


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setattr(settings, "DATA_DIR", tmp_path / "data")
    monkeypatch.setattr(settings, "MEDIA_ROOT", tmp_path / "data" / "media")
    settings.MEDIA_ROOT.mkdir(parents=True)
    return tmp_path


@pytest.fixture(scope="module")
def store() -> Iterator[str]:
    """A real HTTP server that speaks S3."""
    from moto.moto_server.werkzeug_app import DomainDispatcherApplication, create_backend_app
    from werkzeug.serving import make_server

    server = make_server("127.0.0.1", 0, DomainDispatcherApplication(create_backend_app), threaded=True)
    threading.Thread(target=server.serve_forever, daemon=True).start()
    yield f"http://127.0.0.1:{server.port}"
    server.shutdown()


@pytest.fixture(params=["folder", "s3"])
def place(request: pytest.FixtureRequest, folder: Path, monkeypatch: pytest.MonkeyPatch) -> str:
    """What TOPFORM_BACKUP_TO says."""
    if request.param == "folder":
        where = folder / "other-disk"
        where.mkdir()
        monkeypatch.setenv("TOPFORM_BACKUP_TO", str(where))
        return str(where)
    address = request.getfixturevalue("store")
    for name, value in {
        "S3_URL": address,
        "S3_KEY": "key",
        "S3_SECRET": "secret",
        "TO": f"s3://archives/{folder.name}",
    }.items():
        monkeypatch.setenv(f"TOPFORM_BACKUP_{name}", value)
    bucket = second_place.place("s3://archives")
    assert isinstance(bucket, second_place.Bucket)
    bucket.client.create_bucket(Bucket="archives")
    return f"s3://archives/{folder.name}"


@pytest.mark.django_db(transaction=True)
def test_a_backup_goes_to_the_second_place_and_comes_back_from_there(
    place: str, folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    user = factories.make_user()
    (settings.MEDIA_ROOT / "take").write_bytes(bytes(range(256)) * 1000)
    call_command("backup", to=folder / "data" / "backups")
    made_here = Path(capsys.readouterr().out.strip())
    call_command("backup", "--list")
    assert f"second place: {made_here.name}" in capsys.readouterr().out
    made_here.unlink()
    User.objects.all().delete()
    (settings.MEDIA_ROOT / "take").unlink()
    gc.collect()  # a connection of a test before this one, of a thread that has ended
    dumps.refuse_other_connections(patience=60)
    call_command("restore", f"{place}/{made_here.name}" if place.startswith("s3:") else made_here.name)
    assert User.objects.get() == user
    assert (settings.MEDIA_ROOT / "take").read_bytes() == bytes(range(256)) * 1000


@pytest.mark.django_db(transaction=True)
def test_the_rule_holds_in_the_second_place_too(place: str, folder: Path) -> None:
    there = second_place.place(place)
    whole = backup.make_backup(folder / "data" / "backups")
    for day in DAYS[:5]:
        daily = folder / name_of(day)
        daily.write_bytes(whole.read_bytes())
        second_place.send(daily, there, Keep(days=2))
    second_place.send(whole, there, Keep(days=2))
    assert there.names() == sorted([name_of(DAYS[3]), name_of(DAYS[4]), whole.name])


def test_what_a_store_changed_on_the_way_is_noticed(place: str, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = folder / name_of(DAYS[0])
    path.write_bytes(b"as it was written")
    digest = second_place._digest
    seen: list[int] = []

    def first_wrong(chunks: Iterator[bytes]) -> str:
        seen.append(1)
        return digest(chunks)[::-1] if len(seen) == 1 else digest(chunks)

    monkeypatch.setattr(second_place, "_digest", first_wrong)
    with pytest.raises(BackupError, match="expected SHA-256"):
        second_place.place(place).put(path)


@pytest.mark.parametrize(
    ("where", "words"),
    [
        ("/nowhere/at/all", "is the disk mounted"),
        ("s3://no-such-bucket/x", "failed: .*(NoSuchBucket|does not exist)"),
    ],
)
def test_a_place_that_is_not_there_says_so(
    folder: Path, store: str, monkeypatch: pytest.MonkeyPatch, where: str, words: str
) -> None:
    for name, value in {"S3_URL": store, "S3_KEY": "key", "S3_SECRET": "secret"}.items():
        monkeypatch.setenv(f"TOPFORM_BACKUP_{name}", value)
    path = folder / name_of(DAYS[0])
    path.write_bytes(b"x")
    with pytest.raises(BackupError, match=words):
        second_place.send(path, second_place.place(where), Keep(days=1))
