"""Moving house: there and back with every row, counter and file; out into an open archive and in again, equal.

Both ways are tried on the real databases; a place that is not empty, a row that is not taken and a file that is not as it
was written are refused, and nothing has changed then.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import shutil
import zipfile
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import pytest
from django.apps import apps
from django.conf import settings
from django.core.management import CommandError, call_command
from django.db import connection, connections, transaction
from django.db.migrations.recorder import MigrationRecorder
from hypothesis import example, given
from hypothesis import strategies as st

from studio.archive import ArchiveError
from studio.audit import record
from studio.models import Job, Message, Notice, Programme, User
from studio.moving import engines, open_archive, rows
from studio.moving.rows import Count, MoveError
from tests import factories
from tests.studio.test_backup import SOUND, end_what_others_left

pytestmark = pytest.mark.django_db(transaction=True)
sqlite_only = pytest.mark.skipif("connection.vendor != 'sqlite'", reason="it goes into SQLite in either run")
postgres_only = pytest.mark.skipif("connection.vendor != 'postgresql'", reason="both databases are there in this run")


@pytest.fixture
def house(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A data folder of its own, and a programme that has a little of everything that is awkward to carry."""
    monkeypatch.setattr(settings, "DATA_DIR", tmp_path)
    monkeypatch.setattr(settings, "MEDIA_ROOT", tmp_path / "media")
    Programme.objects.create(name="Écoles réunies ♭ 5", time_zone="Pacific/Auckland")
    ensemble = factories.make_ensemble("Octet")
    leader, player = factories.make_instructor(ensemble, "Ada"), factories.make_player(ensemble, "Bo")
    factories.make_version(factories.make_tune("Low Water"))
    message = Message.objects.create(ensemble=ensemble, by=leader, text="Bring it\nby heart.", token="0" * 32)
    message.to.set([player])
    Job.objects.create(owner=leader, kind="t", payload={"b": [1.0, -0.0, 1e22, None, "♯"], "a": {"z": 1, "é": 2}})
    record("login", "Signed in", by=player)
    gone = factories.make_user("Gone")
    record("role", "A key that is given once", by=leader)
    gone.delete()
    place = tmp_path / "media" / "submissions" / "1"
    place.mkdir(parents=True)
    (place / "take").write_bytes(SOUND)
    (place / "nothing").write_bytes(b"")
    return tmp_path


def held(alias: str = "default", leave_out: frozenset[str] = frozenset()) -> dict[str, Count]:
    return {model._meta.label: rows.count(model, alias) for model in rows.tables(leave_out=leave_out)}


@pytest.fixture(scope="module")
def tables_only(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("tables") / "topform.sqlite3"


@pytest.fixture
def there(tables_only: Path, tmp_path: Path) -> Path:
    """A data folder with tables and no rows, as a site that was never set up. Made once, by the models: migrations have
    tests of their own."""
    if not tables_only.exists():
        _make_tables(tables_only.parent)
    (tmp_path / "there").mkdir()
    return Path(shutil.copy(tables_only, tmp_path / "there")).parent


def _make_tables(folder: Path) -> None:
    applied = MigrationRecorder(connection).applied_migrations()
    with engines.opened("blank", engines.sqlite_of(folder)) as made:
        made.disable_constraint_checking()  # SQLite makes tables only while it does not look at foreign keys
        with made.schema_editor() as editor:
            for model in apps.get_models():
                if model._meta.managed and not model._meta.proxy:
                    editor.create_model(model)
        recorder = MigrationRecorder(made)
        recorder.ensure_schema()
        recorder.migration_qs.bulk_create([recorder.Migration(app=app, name=name) for app, name in applied])


@contextlib.contextmanager
def living_in(folder: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """The site works with another data folder, on SQLite."""
    with monkeypatch.context() as patch:
        patch.setattr(settings, "DATA_DIR", folder)
        patch.setattr(settings, "MEDIA_ROOT", folder / "media")
        with engines.opened("there", engines.sqlite_of(folder)) as there, engines.as_the_site(there):
            yield


@postgres_only
def test_there_and_back(house: Path, there: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """PostgreSQL → SQLite → PostgreSQL by the command: every table the same, every file, and no key is given twice."""
    before, last = held(), engines.counters(connection)
    end_what_others_left()
    call_command("move", "to-sqlite", "--to", str(there))
    with engines.opened("look", engines.sqlite_of(there)) as found:
        assert held("look") == before
        assert {table: engines.counters(found).get(table, 0) for table in last} == last
    assert (there / "media/submissions/1/take").read_bytes() == SOUND
    assert (there / "media/submissions/1/nothing").read_bytes() == b""
    end_what_others_left()
    with pytest.raises(CommandError, match=r"is not empty.*TOPFORM_DB_NAME names it"):  # the old one still stands there
        call_command("move", "to-postgresql", "--from", str(there))
    assert held() == before
    with connection.cursor() as cursor:
        cursor.execute("TRUNCATE " + ", ".join(model._meta.db_table for model in rows.tables()) + " RESTART IDENTITY")
    (house / "media").rename(house / "media-before")
    end_what_others_left()
    with _long_name(there) as pk, pytest.raises(CommandError, match=rf"studio\.User {pk} \(name has 121 characters"):
        call_command("move", "to-postgresql", "--from", str(there))
    assert not User.objects.exists()
    end_what_others_left()
    call_command("move", "to-postgresql", "--from", str(there))
    assert held() == before
    assert engines.counters(connection) == last
    assert factories.make_user("Next").pk > max(User.objects.filter(name="Bo").get().pk, last["studio_user"])
    assert (house / "media/submissions/1/take").read_bytes() == SOUND
    assert not (there / "topform.sqlite3").exists()
    (left,) = there.glob("topform-moved-*.sqlite3")
    told = capsys.readouterr().out
    assert "the same in both" in told
    assert f"kept as {left}" in told
    with pytest.raises(CommandError, match=f"{left.name} is what was left. Start the site with TOPFORM_DB_HOST set"):
        call_command("move", "to-postgresql", "--from", str(there))


@contextlib.contextmanager
def _long_name(folder: Path) -> Iterator[int]:
    """SQLite holds a name that is longer than its column, which PostgreSQL refuses."""
    with engines.opened("wrong", engines.sqlite_of(folder)):
        user = User.objects.using("wrong").get(name="Bo")
        User.objects.using("wrong").filter(pk=user.pk).update(name="x" * 121)
    yield user.pk
    with engines.opened("wrong", engines.sqlite_of(folder)):
        User.objects.using("wrong").filter(pk=user.pk).update(name="Bo")


def test_an_open_archive_comes_back_equal(
    house: Path, there: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Export, import into an empty site (from PostgreSQL also into the other database), export: the same files."""
    first, second = tmp_path / "first.zip", tmp_path / "second.zip"
    Notice.objects.create(user=User.objects.get(name="Bo"), kind="t", text='A line\u2028in two, \U0001f3b7, \\ and "')
    (house / "media" / "kept").mkdir()
    (house / "media" / "kept" / "x").write_bytes(b"of a form that was refused")
    written = open_archive.write(first, say=print)
    assert first.stat().st_mode & 0o077 == 0
    before = held(leave_out=open_archive.LEFT_OUT)
    with living_in(there, monkeypatch):
        open_archive.read(first, say=print)
        assert held(leave_out=open_archive.LEFT_OUT) == before
        assert (there / "media/submissions/1/take").read_bytes() == SOUND
        again = open_archive.write(second, say=print)
        with pytest.raises(MoveError, match="is not empty"):
            open_archive.read(first, say=print)
    assert again["files"] == written["files"]
    assert "media/kept/x" not in written["files"]
    with zipfile.ZipFile(first) as opened:
        [chart] = [name for name in opened.namelist() if name.startswith("musicxml/charts/")]
        score = ElementTree.fromstring(opened.read(chart))  # ours: written a moment ago
        described = json.loads(opened.read("tables.json"))
    assert score.tag == "score-partwise"
    assert len(score.findall("part/measure")) == 4
    for label, about in described.items():  # nothing that stays points at what is left out
        pointed = {column["points_at"] for column in about["columns"].values() if "points_at" in column}
        assert pointed <= set(described), label


def _line(change: Callable[[dict[str, Any]], Any]) -> Callable[[dict[str, bytes]], None]:
    def damage(files: dict[str, bytes]) -> None:
        row = json.loads(files["tables/studio.Term.jsonl"])
        change(row)
        files["tables/studio.Term.jsonl"] = json.dumps(row).encode() + b"\n"

    return damage


def _described(change: Callable[[dict[str, Any]], Any]) -> Callable[[dict[str, bytes]], None]:
    def damage(files: dict[str, bytes]) -> None:
        about = json.loads(files["tables.json"])
        change(about)
        files["tables.json"] = json.dumps(about).encode()

    return damage


def _manifest(**words: Any) -> Callable[[dict[str, bytes]], None]:
    def damage(files: dict[str, bytes]) -> None:
        files["manifest.json"] = json.dumps(json.loads(files["manifest.json"]) | words).encode()

    return damage


HOSTILE: list[tuple[str, Callable[[dict[str, bytes]], object], str]] = [
    ("another row", _line(lambda row: row.update(name="Other")), "what was read back is not what"),
    ("no date", _line(lambda row: row.update(starts="soon")), "studio.Term.starts cannot be 'soon'"),
    ("a row of text", lambda files: files.update({"tables/studio.Term.jsonl": b'"x"\n'}), "line 1 cannot be read"),
    ("no JSON", lambda files: files.update({"tables/studio.Term.jsonl": b"{\n"}), "line 1 cannot be read"),
    ("a name missing", _line(lambda row: row.pop("ends")), "line 1 cannot be read"),
    ("a table too many", _described(lambda about: about.update({"studio.Other": {}})), "studio.Other"),
    ("another column", _described(lambda about: about["studio.Term"]["columns"].pop("ends")), "its columns"),
    ("a newer version", _manifest(migrations=["studio.9999_later"]), "newer version"),
    ("an older version", _manifest(migrations=["studio.0001_initial"]), "older version"),
    ("a file outside", lambda files: files.update({"media/../../x": b""}), "damaged"),
    ("a file of no kind", lambda files: files.update({"program.py": b""}), "damaged"),
    ("another kind", _manifest(kind="something"), "no archive of a programme"),
]  # fmt: skip


@sqlite_only
def test_what_is_not_as_it_should_be_changes_nothing(
    house: Path, there: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    sound, wrong = tmp_path / "sound.zip", tmp_path / "wrong.zip"
    open_archive.write(sound, say=print)
    with living_in(there, monkeypatch):
        empty = held("there", frozenset({"auth.Permission", "contenttypes.ContentType"}))
        for what, damage, words in HOSTILE:
            rewrite(sound, wrong, damage)
            with pytest.raises((MoveError, ArchiveError), match=words):
                open_archive.read(wrong, say=print)
            assert held("there", frozenset({"auth.Permission", "contenttypes.ContentType"})) == empty, what
            assert not any((there / "media").glob("**/*")), what
        wrong.write_bytes(sound.read_bytes()[:-100])
        with pytest.raises(ArchiveError, match="cut off"):
            open_archive.read(wrong, say=print)
        open_archive.read(sound, say=print)  # and the sound one is still taken


def rewrite(source: Path, target: Path, damage: Callable[[dict[str, bytes]], object]) -> None:
    """The archive with something wrong inside, every checksum made anew: somebody who knows the format did it."""
    with zipfile.ZipFile(source) as opened:
        files = {name: opened.read(name) for name in opened.namelist()}
    damage(files)
    manifest = json.loads(files.pop("manifest.json"))
    files.pop("manifest.sha256")
    manifest["files"] = {
        name: {"sha256": hashlib.sha256(content).hexdigest(), "size": len(content)} for name, content in files.items()
    }
    files["manifest.json"] = json.dumps(manifest).encode()
    files["manifest.sha256"] = hashlib.sha256(files["manifest.json"]).hexdigest().encode()
    with zipfile.ZipFile(target, "w") as made:
        for name, content in files.items():
            made.writestr(name, content)


JSON = st.recursive(
    st.none()
    | st.booleans()
    | st.integers(-(2**53), 2**53)
    | st.floats(allow_nan=False, allow_infinity=False)
    | st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\x00")),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text("abé♭", max_size=3), inner, max_size=3),
    max_leaves=8,
)


@example(payload=[1.7976931348623157e308, 5e-324, -0.0, 2**63], message="")
@given(payload=JSON, message=st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\x00"), max_size=50))
def test_a_row_is_the_same_in_either_database(payload: Any, message: str) -> None:
    """Whatever JSON and text a row holds, what is read back has the digest of what was given."""
    with transaction.atomic():
        model = apps.get_model("studio.Job")
        job = Job(kind="t", payload=payload, message=message)
        row = [rows.plain(getattr(job, field.attname)) for field in rows.columns(model)]
        row[0] = 77
        rows.insert(model, [row], connections["default"], lambda *_: None)
        wanted = rows.Digest()
        wanted.add(row)
        assert rows.count(model, "default") == wanted.count()
        transaction.set_rollback(True)
