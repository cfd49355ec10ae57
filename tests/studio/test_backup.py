"""Backup while people write, loss of everything, restore: nothing missing."""
from __future__ import annotations

import json
import sqlite3
import subprocess
import sys
import tarfile
import threading
from pathlib import Path

import pytest
from django.conf import settings
from django.core.management import call_command
from django.db import connection

from studio import backup
from studio.models import Notice, User
from tests import factories

pytestmark = pytest.mark.django_db(transaction=True)
ROOT = Path(settings.BASE_DIR)


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A data folder of its own, with one handed-in file."""
    media = tmp_path / "media"
    media.mkdir()
    (media / "take.wav").write_bytes(bytes(range(256)) * 40)
    monkeypatch.setattr(settings, "DATA_DIR", tmp_path)
    monkeypatch.setattr(settings, "MEDIA_ROOT", media)
    return tmp_path


def test_everything_comes_back(folder: Path) -> None:
    users = [factories.make_user(f"Person {number}") for number in range(5)]
    archive = backup.make_backup(folder / "backups")
    assert archive.stat().st_mode & 0o077 == 0
    User.objects.all().delete()
    (folder / "media" / "take.wav").write_bytes(b"")
    factories.make_user("Made after the backup")
    aside = backup.restore(archive)
    assert list(User.objects.order_by("pk").values_list("pk", "name")) == [(user.pk, user.name) for user in users]
    assert (folder / "media" / "take.wav").read_bytes() == bytes(range(256)) * 40
    assert (aside / "media" / "take.wav").read_bytes() == b""
    assert any(aside.iterdir())


def test_a_backup_made_during_writes_holds_every_row_committed_before_it(folder: Path) -> None:
    user = factories.make_user()
    stop, started = threading.Event(), threading.Event()
    written: list[int] = []

    def write() -> None:
        try:
            while not stop.is_set():
                written.append(Notice.objects.create(user=user, kind="t", text=str(len(written))).pk)
                started.set()
        finally:
            connection.close()

    writer = threading.Thread(target=write)
    writer.start()
    try:
        assert started.wait(10)
        before = list(written)
        archive = backup.make_backup(folder / "backups")
    finally:
        stop.set()
        writer.join()
    backup.restore(archive)
    kept = set(Notice.objects.values_list("pk", flat=True))
    assert set(before) <= kept
    assert len(kept) < len(written) or kept == set(written)


def rebuilt(archive: Path, target: Path, *, manifest: dict[str, object] | None = None, database: bytes | None = None) -> Path:
    """The archive with another manifest or database."""
    work = target.parent / "work"
    with tarfile.open(archive) as tar:
        tar.extractall(work, filter="data")
    if manifest:
        whole = json.loads((work / "manifest.json").read_text()) | manifest
        (work / "manifest.json").write_text(json.dumps(whole))
    if database is not None:
        (work / "database").write_bytes(database)
    with tarfile.open(target, "w:gz") as tar:
        for path in work.iterdir():
            tar.add(path, path.name)
    return target


@pytest.mark.parametrize(("change", "words"), [
    ({"manifest": {"migrations": ["studio.9999_from_the_future"]}}, "newer version"),
    ({"manifest": {"engine": "oracle"}}, "holds a oracle database"),
    ({"database": b"SQLite format 3\0 damaged"}, "checksum"),
])
def test_archives_that_must_not_be_put_back(folder: Path, tmp_path: Path, change, words: str) -> None:  # type: ignore[no-untyped-def]
    user = factories.make_user()
    archive = rebuilt(backup.make_backup(folder / "backups"), tmp_path / "changed.tar.gz", **change)
    with pytest.raises(backup.BackupError, match=words):
        backup.restore(archive)
    assert User.objects.get() == user
    assert (folder / "media" / "take.wav").exists()


@pytest.mark.parametrize("content", [b"", b"not an archive", b"\x1f\x8b\x08\x00broken"])
def test_files_that_are_no_archives(folder: Path, content: bytes) -> None:
    path = folder / "file.tar.gz"
    path.write_bytes(content)
    with pytest.raises(backup.BackupError, match="not a backup"):
        backup.restore(path)


def test_a_member_that_climbs_out_is_refused(folder: Path, tmp_path: Path) -> None:
    good = backup.make_backup(folder / "backups")
    evil = tmp_path / "evil.tar.gz"
    with tarfile.open(good) as source, tarfile.open(evil, "w:gz") as tar:
        for member in source.getmembers():
            tar.addfile(member, source.extractfile(member) if member.isfile() else None)
        (tmp_path / "payload").write_text("x")
        tar.add(tmp_path / "payload", "../../escaped")
    with pytest.raises(backup.BackupError, match="damaged"):
        backup.restore(evil)
    assert not (folder.parent / "escaped").exists()


def test_only_old_daily_archives_are_pruned(folder: Path) -> None:
    made = [backup.make_backup(folder / "backups", reason=reason) for reason in ("daily", "by-hand", "daily", "daily")]
    backup.prune(folder / "backups", keep=2)
    assert sorted((folder / "backups").iterdir()) == sorted(made[1:])


def test_the_commands(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    user = factories.make_user()
    call_command("backup", to=folder / "kept")
    archive = Path(capsys.readouterr().out.strip())
    User.objects.all().delete()
    call_command("restore", archive)
    assert User.objects.get() == user


def test_why_a_copy_is_no_backup(tmp_path: Path) -> None:
    """The file of a database in WAL mode alone misses committed rows: the reason for the backup interface."""
    code = (
        "import sqlite3,sys,os\n"
        "c=sqlite3.connect(sys.argv[1]); c.execute('pragma journal_mode=wal'); c.execute('create table t(x)')\n"
        "c.commit(); c.execute('pragma wal_checkpoint(truncate)'); c.execute('insert into t values(1)'); c.commit(); os._exit(0)\n"
    )
    live = tmp_path / "live.sqlite3"
    subprocess.run([sys.executable, "-c", code, str(live)], check=True)
    copied = tmp_path / "copied.sqlite3"
    copied.write_bytes(live.read_bytes())
    assert sqlite3.connect(copied).execute("select count(*) from t").fetchone() == (0,)
    saved = sqlite3.connect(tmp_path / "saved.sqlite3")
    sqlite3.connect(live).backup(saved)
    assert saved.execute("select count(*) from t").fetchone() == (1,)
