"""Backup while people write, loss of everything, restore: nothing missing; a damaged archive replaces nothing."""

from __future__ import annotations

import gzip
import hashlib
import io
import json
import random
import sqlite3
import subprocess
import sys
import tarfile
import threading
import zipfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from django.conf import settings
from django.core.management import CommandError, call_command
from django.db import connection
from hypothesis import given
from hypothesis import strategies as st

from studio import archive, backup, dumps, presence, restoring
from studio.archive import Archive, ArchiveError, is_safe_name
from studio.dumps import BackupError
from studio.held import NotHeld
from studio.models import Notice, User
from tests import factories

pytestmark = pytest.mark.django_db(transaction=True)
SOUND = random.Random(7).randbytes(200_000)  # packed content, as sound files are
sqlite_only = pytest.mark.skipif(
    "connection.vendor != 'sqlite'", reason="the first format's file names are read from SQLite"
)


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A data folder of its own, with three handed-in files."""
    media = tmp_path / "media"
    (media / "submissions" / "1").mkdir(parents=True)
    (media / "take.wav").write_bytes(bytes(range(256)) * 40)
    (media / "submissions" / "1" / "one").write_bytes(SOUND)
    (media / "submissions" / "1" / "two").write_bytes(b"")
    monkeypatch.setattr(settings, "DATA_DIR", tmp_path)
    monkeypatch.setattr(settings, "MEDIA_ROOT", media)
    return tmp_path


def end_what_others_left() -> None:
    """On PostgreSQL a restore refuses while anybody else is connected, be it a thread of a test that has ended."""
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute(
                "SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE datname = current_database() "
                "AND pid <> pg_backend_pid() AND backend_type = 'client backend'"
            )


def put_back(path: Path, **options: bool) -> Path:
    end_what_others_left()
    with presence.alone(settings.DATA_DIR, "the test"):
        return restoring.restore(path, say=print, **options)


def state(folder: Path) -> tuple[object, ...]:
    """Everything that a restore may replace."""
    files = {
        str(path.relative_to(folder)): path.read_bytes()
        for path in sorted((folder / "media").rglob("*"))
        if path.is_file()
    }
    return list(User.objects.order_by("pk").values_list("pk", "name")), files


def test_everything_comes_back(folder: Path) -> None:
    users = [factories.make_user(f"Person {number}") for number in range(5)]
    before = state(folder)
    made = backup.make_backup(folder / "backups")
    assert made.stat().st_mode & 0o077 == 0
    User.objects.all().delete()
    (folder / "media" / "take.wav").write_bytes(b"")
    (folder / "media" / "later").write_bytes(b"handed in after the backup")
    factories.make_user("Made after the backup")
    aside = put_back(made)
    assert state(folder) == before
    assert len(users) == 5
    assert (aside / "media" / "take.wav").read_bytes() == b""
    assert (aside / "media" / "later").read_bytes() == b"handed in after the backup"
    assert not list(folder.glob("restor*"))
    assert sorted(path.name for path in (folder / "backups").iterdir()) == [".writing", made.name]


@pytest.mark.skipif("connection.vendor != 'sqlite'", reason="a dump of PostgreSQL is streamed by its own program")
def test_the_database_goes_into_the_archive_without_a_copy_of_it_or_with_one_where_it_cannot_be_held(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    factories.make_user("Kept")
    seen: set[str] = set()

    def watch(*_: object) -> None:
        seen.update(path.name for room in (folder / "backups").glob(".unfinished-*") for path in room.iterdir())

    @contextmanager
    def never(path: Path) -> Iterator[sqlite3.Connection]:
        raise NotHeld(f"{path} is read by others")
        yield

    for held, files in ((dumps.held_still, {"archive"}), (never, {"archive", "snapshot"})):
        seen.clear()
        monkeypatch.setattr(dumps, "held_still", held)
        made = backup.make_backup(folder / "backups", tell=watch)
        assert seen == files
        User.objects.all().delete()
        put_back(made)
        assert User.objects.filter(name="Kept").exists()


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
        made = backup.make_backup(folder / "backups")
    finally:
        stop.set()
        writer.join()
    put_back(made)
    kept = set(Notice.objects.values_list("pk", flat=True))
    assert set(before) <= kept
    assert len(kept) < len(written) or kept == set(written)


def test_the_manifest_against_checksums_made_by_another_program(folder: Path) -> None:
    """The digests are those of coreutils' sha256sum, the sizes those of the file system."""
    made = backup.make_backup(folder / "backups")
    with Archive(made) as opened:
        for name in ("take.wav", "submissions/1/one", "submissions/1/two"):
            path = folder / "media" / name
            said = subprocess.run(["sha256sum", path], capture_output=True, text=True, check=True).stdout.split()[0]
            assert opened.manifest["files"][f"media/{name}"] == {"sha256": said, "size": path.stat().st_size}


# --- damage: (what is done to the archive, what the message says)


def three_bytes(path: Path, at: int | None = None) -> None:
    content = bytearray(path.read_bytes())
    at = len(content) // 2 if at is None else at
    content[at : at + 3] = bytes(byte ^ 0x5A for byte in content[at : at + 3])
    path.write_bytes(content)


def cut(path: Path) -> None:
    path.write_bytes(path.read_bytes()[:-1000])


def rebuild(path: Path, change: Callable[[dict[str, bytes]], object], *, sealed: bool = False) -> None:
    """The archive with other members; with `sealed`, the manifest's own checksum is made to fit."""
    with zipfile.ZipFile(path) as old:
        members = {name: old.read(name) for name in old.namelist()}
    change(members)
    if sealed:
        members["manifest.sha256"] = hashlib.sha256(members["manifest.json"]).hexdigest().encode()
    with zipfile.ZipFile(path, "w") as new:
        for name, content in members.items():
            new.writestr(name, content)


def without(name: str) -> Callable[[Path], None]:
    return lambda path: rebuild(path, lambda members: members.pop(name))


def with_member(name: str, content: bytes = b"x") -> Callable[[Path], None]:
    return lambda path: rebuild(path, lambda members: members.update({name: content}))


def listed(name: str) -> Callable[[Path], None]:
    """A member with a hostile name that the manifest lists, its checksum right."""

    def change(members: dict[str, bytes]) -> None:
        manifest = json.loads(members["manifest.json"])
        manifest["files"][name] = {"sha256": hashlib.sha256(b"x").hexdigest(), "size": 1}
        members["manifest.json"] = json.dumps(manifest).encode()
        members[name] = b"x"

    return lambda path: rebuild(path, change, sealed=True)


def manifest_with(**changes: object) -> Callable[[Path], None]:
    def change(members: dict[str, bytes]) -> None:
        members["manifest.json"] = json.dumps(json.loads(members["manifest.json"]) | changes).encode()

    return lambda path: rebuild(path, change, sealed=True)


def unsealed(members: dict[str, bytes]) -> None:
    members["manifest.json"] = members["manifest.json"].replace(b'"by-hand"', b'"by-hind"')


DAMAGE = {
    "three bytes in the middle": (three_bytes, "damaged"),
    "cut off": (cut, "cut off"),
    "a file is missing": (
        without("media/submissions/1/one"),
        "media/submissions/1/one: expected a file, found nothing",
    ),
    "the database is missing": (without("database"), "database: expected a file, found nothing"),
    "the manifest is missing": (without("manifest.json"), "manifest.json cannot be read"),
    "the seal is missing": (without("manifest.sha256"), "manifest.sha256 cannot be read"),
    "a file too many": (with_member("media/other"), "media/other: expected nothing"),
    "another content": (with_member("media/take.wav", b"y" * 10240), "media/take.wav: expected SHA-256"),
    "a longer content": (
        with_member("media/take.wav", b"y" * 20000),
        "media/take.wav: expected 10240 bytes, found more",
    ),
    "another manifest": (lambda path: rebuild(path, unsealed), "manifest.json: expected SHA-256"),
    "a name that climbs out": (listed("media/../../escaped"), "a name that leads elsewhere"),
    "a name from the root": (listed("/tmp/escaped"), "a name that leads elsewhere"),
    "a name of another system": (listed("media\\..\\escaped"), "a name that leads elsewhere"),
    "a drive": (listed("media/C:/escaped"), "a name that leads elsewhere"),
    "another top": (listed("topform.sqlite3"), "a name that leads elsewhere"),
    "a newer version": (manifest_with(migrations=["studio.9999_from_the_future"]), "newer version"),
    "another database": (manifest_with(engine="oracle"), "holds a oracle database"),
    "a manifest of nothing": (manifest_with(files={}), "does not know"),
}


@pytest.mark.parametrize("name", DAMAGE)
def test_a_damaged_archive_replaces_nothing_and_the_message_says_what_is_wrong(folder: Path, name: str) -> None:
    damage, words = DAMAGE[name]
    factories.make_user()
    made = backup.make_backup(folder / "backups")
    damage(made)
    (folder / "media" / "take.wav").write_bytes(b"changed since")
    before = state(folder)
    with pytest.raises(BackupError) as caught:
        put_back(made)
    assert words in str(caught.value)
    assert state(folder) == before
    assert sorted(path.name for path in folder.iterdir() if path.is_dir() and path.name != "running") == [
        "backups",
        "media",
    ]
    assert not (folder.parent / "escaped").exists()


def test_three_bytes_anywhere_are_found_or_change_nothing(folder: Path, tmp_path: Path) -> None:
    """Whatever three bytes are overwritten: either the archive is refused, or every file in it is as it was written."""
    made = backup.make_backup(folder / "backups")
    size = made.stat().st_size
    whole = made.read_bytes()
    refused = 0
    for number in range(120):
        at = random.Random(number).randrange(size - 3)
        made.write_bytes(whole)
        three_bytes(made, at)
        try:
            with Archive(made) as opened:
                problems = opened.check()
                names = set(opened.manifest["files"])
        except ArchiveError:
            refused += 1
            continue
        refused += bool(problems)
        assert problems or "media/submissions/1/one" in names
    assert refused > 100  # a few bytes of a ZIP are times and versions that nothing depends on


@given(st.text(max_size=30))
def test_no_name_leads_out_of_the_folder(name: str) -> None:
    if is_safe_name(f"media/{name}"):
        place = (Path("/data/media") / name).resolve()
        assert place.is_relative_to("/data/media")
        assert place != Path("/data/media")


def test_an_archive_that_is_not_what_was_written_never_gets_its_name(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A disk that loses bytes is noticed when the archive is read back."""
    close = archive.Writer.close

    def lose(self: archive.Writer, manifest: dict[str, object]) -> None:
        close(self, manifest)
        three_bytes(self.path)

    monkeypatch.setattr(archive.Writer, "close", lose)
    with pytest.raises(BackupError, match="read back"):
        backup.make_backup(folder / "backups")
    assert [path.name for path in (folder / "backups").iterdir()] == [".writing"]


@pytest.mark.parametrize(
    "content", [b"", b"not an archive", b"\x1f\x8b\x08\x00broken", b"PK\x03\x04", b"PK\x05\x06" + b"\0" * 18]
)
def test_files_that_are_no_archives(folder: Path, content: bytes) -> None:
    path = folder / "file.zip"
    path.write_bytes(content)
    with pytest.raises(BackupError, match=r"not a backup|damaged"):
        put_back(path)


# --- a restore that is cut short


@pytest.mark.parametrize("step", list(restoring.STEPS))
def test_a_restore_that_is_cut_short_is_finished_by_the_next_start(
    folder: Path, monkeypatch: pytest.MonkeyPatch, step: str
) -> None:
    factories.make_user("In the archive")
    before = state(folder)
    made = backup.make_backup(folder / "backups")
    User.objects.update(name="After the archive")
    (folder / "media" / "take.wav").write_bytes(b"after")

    class Killed(BaseException):
        pass

    def die(room: Path, aside: Path) -> None:
        raise Killed

    whole = restoring.STEPS[step]
    monkeypatch.setitem(restoring.STEPS, step, die)
    with pytest.raises(Killed):
        put_back(made)
    with presence.alone(folder, "a look"):
        pass
    presence.leave(folder)
    connection.close()
    with pytest.raises(Exception, match="cut short"):
        connection.ensure_connection()
    monkeypatch.setitem(restoring.STEPS, step, whole)
    call_command("prepare")
    assert state(folder) == before
    assert not (folder / presence.JOURNAL).exists()


# --- archives of version 0.1.0


def first_format(
    folder: Path, *, files: dict[str, bytes] | None = None, manifest: dict[str, object] | None = None
) -> Path:
    """An archive as version 0.1.0 wrote it: a compressed tar with manifest, database and media."""
    made = backup.make_backup(folder / "work")
    with zipfile.ZipFile(made) as opened:
        database, about = opened.read("database"), json.loads(opened.read("manifest.json"))
    about = (
        {key: value for key, value in about.items() if key not in {"files", "format"}}
        | {"sha256": hashlib.sha256(database).hexdigest()}
        | (manifest or {})
    )
    members = {"manifest.json": json.dumps(about).encode(), "database": database} | {
        f"media/{name}": content for name, content in (files or {"take.wav": SOUND}).items()
    }
    path = folder / "topform-2026-01-01-120000-000000-by-hand.tar.gz"
    with tarfile.open(path, "w:gz") as tar:
        for name, content in members.items():
            info = tarfile.TarInfo(name)
            info.size = len(content)
            tar.addfile(info, io.BytesIO(content))
    return path


def test_the_first_format_comes_back_with_a_warning(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    user = factories.make_user()
    old = first_format(folder)
    User.objects.all().delete()
    put_back(old)
    assert User.objects.get() == user
    assert (folder / "media" / "take.wav").read_bytes() == SOUND
    assert "no checksums" in capsys.readouterr().out


@pytest.mark.parametrize("where", [0.3, 0.5, 0.9, "tar"])
def test_the_first_format_damaged_in_the_middle_replaces_nothing(folder: Path, where: float | str) -> None:
    """The fault that was: bytes overwritten between two members look like the end of a tar, and the rest was left out."""
    factories.make_user()
    old = first_format(folder, files={"one": SOUND, "two": SOUND})
    if where == "tar":  # a damaged header inside a stream whose own checksum was not made to fit
        content = bytearray(gzip.decompress(old.read_bytes()))
        at = content.index(b"media/two")
        content[at : at + 512] = bytes(512)
        packed = bytearray(gzip.compress(bytes(content)))
        packed[-8:-4] = b"\1\2\3\4"
        old.write_bytes(packed)
    else:
        three_bytes(old, int(old.stat().st_size * float(where)))
    before = state(folder)
    with pytest.raises(BackupError, match=r"damaged|not a backup"):
        put_back(old)
    assert state(folder) == before


@pytest.mark.parametrize("name", ["../../escaped", "/tmp/escaped", "media/../../escaped"])
def test_the_first_format_with_a_name_that_climbs_out_is_refused(folder: Path, name: str) -> None:
    old = first_format(
        folder, files={f"../{name}" if not name.startswith("media/") else name.removeprefix("media/"): b"x"}
    )
    with pytest.raises(BackupError, match="damaged or not ours"):
        put_back(old)
    assert not (folder.parent / "escaped").exists()


@sqlite_only
def test_the_first_format_that_misses_a_named_file_asks(folder: Path) -> None:
    ensemble = factories.make_ensemble()
    step = factories.make_assignment(ensemble).steps.get()
    attempt = factories.make_attempt(step, factories.make_player(ensemble))
    attempt.submissions.create(file="submissions/9/gone")
    old = first_format(folder)
    with pytest.raises(BackupError, match=r"misses 1 files .*submissions/9/gone.*--incomplete"):
        put_back(old)
    put_back(old, incomplete=True)


# --- the commands


def test_the_commands(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    user = factories.make_user()
    call_command("backup", to=folder / "kept")
    said = capsys.readouterr()
    made = Path(said.out.strip())
    assert "reading back" in said.err
    call_command("backup", check=made)
    assert "is sound" in capsys.readouterr().out
    call_command("backup", to=folder / "kept", list=True)
    assert made.name in capsys.readouterr().out
    User.objects.all().delete()
    call_command("restore", str(made))
    assert User.objects.get() == user
    three_bytes(made)
    for words in (["backup", "--check", str(made)], ["restore", str(made)]):
        with pytest.raises(CommandError, match="damaged"):
            call_command(*words)


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
