"""Faults of the machine: what is answered, and that nothing typed is lost. Never a 500."""

from __future__ import annotations

import contextlib
import json
import os
import resource
import sqlite3
import stat
import urllib.error
import uuid
from collections.abc import Iterator
from pathlib import Path

import pytest
from django.conf import settings
from django.core.cache import cache
from django.core.files.base import ContentFile
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import InterfaceError, OperationalError, connection
from django.test import Client, RequestFactory

from assessments.services.hand_in import start_attempt
from studio import bootstrap, faults, space
from studio.models import User
from studio.storage import PrivateFiles
from tests import factories, postgres, sounds
from tests.studio.test_start import Site

pytestmark = pytest.mark.django_db(transaction=True)
sqlite_only = pytest.mark.skipif("connection.vendor != 'sqlite'", reason="locks and sizes of SQLite's file")


@contextlib.contextmanager
def locked() -> Iterator[None]:
    """Another program holds the write lock of the database."""
    with connection.cursor() as cursor:
        cursor.execute("PRAGMA busy_timeout = 100")  # the site waits five seconds
    other = sqlite3.connect(connection.settings_dict["NAME"], isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    try:
        yield
    finally:
        other.execute("ROLLBACK")
        other.close()


@contextlib.contextmanager
def full() -> Iterator[None]:
    """The database may not grow by a page, and holds no free one: SQLite says that the disk is full."""
    with connection.cursor() as cursor:
        free, size = (cursor.execute(f"PRAGMA {name}").fetchone()[0] for name in ("freelist_count", "page_size"))
        cursor.execute("CREATE TABLE filler (bytes BLOB)")
        cursor.execute("INSERT INTO filler VALUES (zeroblob(%s))", [free * size])
        pages = cursor.execute("PRAGMA page_count").fetchone()[0]
        cursor.execute(f"PRAGMA max_page_count = {pages}")
    try:
        yield
    finally:
        with connection.cursor() as cursor:
            cursor.execute("PRAGMA max_page_count = 1073741823")
            cursor.execute("DROP TABLE filler")


@contextlib.contextmanager
def largest_file(size: int) -> Iterator[None]:
    """No file of this process may grow past `size` bytes: the system itself refuses the write."""
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (size, hard))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))


@pytest.fixture
def kept_open(monkeypatch: pytest.MonkeyPatch, client: Client) -> Client:
    """A client that answers as a server would, on one connection so that its settings last."""
    monkeypatch.setattr("django.db.close_old_connections", lambda **kwargs: None)
    client.raise_request_exception = False
    return client


@pytest.fixture
def writing(kept_open: Client) -> tuple[Client, str, str]:
    """A player in a quiz: the client, where answers are saved, the first question."""
    ensemble = factories.make_ensemble()
    step = factories.make_assignment(ensemble).steps.get()
    player = factories.make_player(ensemble)
    kept_open.force_login(player)
    attempt = start_attempt(step=step, player=player)
    return kept_open, f"/work/attempts/{attempt.pk}/save/", step.quiz.ids[0]


def save(writing: tuple[Client, str, str], text: str, sequence: int = 1):  # type: ignore[no-untyped-def]
    client, url, question = writing
    body = {"client": str(uuid.UUID(int=7)), "saves": [{"q": question, "text": text, "seq": sequence, "base": 0}]}
    return client.post(url, json.dumps(body), content_type="application/json")


@sqlite_only
@pytest.mark.parametrize(("fault", "status"), [(locked, 503), (full, 507)])
def test_a_save_is_answered_so_that_the_page_sends_it_again(
    writing: tuple[Client, str, str],
    fault,
    status: int,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,  # type: ignore[no-untyped-def]
) -> None:
    monkeypatch.setattr(settings, "DATA_DIR", tmp_path)
    (tmp_path / "reserve").write_bytes(b"x")
    text = "5 of 2 " * 300 if fault is full else "5 of 2"
    with fault():
        answer = save(writing, text[:200])
        for sequence in range(2, 400):  # until the pages that are there are used up
            if answer.status_code != 200:
                break
            answer = save(writing, f"{sequence}", sequence)
    assert answer.status_code == status
    assert answer.headers["Retry-After"] == "5"
    assert "Not saved" in answer.json()["detail"]
    assert (tmp_path / "reserve").exists() == (status == 503)
    assert save(writing, "5 of 2", 1000).status_code == 200


@sqlite_only
def test_a_form_that_could_not_be_saved_comes_back_with_what_was_typed(kept_open: Client) -> None:
    user = factories.make_user("Old Name")
    kept_open.force_login(user)
    typed = {"name": 'A <b>"new"</b> name', "instrument": "", "theme": "", "csrfmiddlewaretoken": "abc"}
    with locked():
        answer = kept_open.post("/me/", typed)
    page = answer.content.decode()
    assert answer.status_code == 503
    assert 'name="name" hidden>\nA &lt;b&gt;&quot;new&quot;&lt;/b&gt; name</textarea>' in page
    assert '<form method="post" action="/me/" data-again="5">' in page  # the page sends it again by itself
    assert User.objects.get().name == "Old Name"
    assert kept_open.post("/me/", typed).status_code == 302
    assert User.objects.get().name == typed["name"]


def test_a_password_is_never_on_the_page(rf: RequestFactory) -> None:
    request = rf.post("/account/login/", {"login": "a@x.example", "password": "three plain words"})
    page = faults.response(request, faults.AWAY).content.decode()
    assert "three plain" not in page
    assert "Go back in your browser" in page


# --- uploads


@pytest.fixture
def sending(kept_open: Client) -> tuple[Client, str]:
    ensemble = factories.make_ensemble()
    step = factories.make_assignment(ensemble, kinds=("hand-in",)).steps.get()
    kept_open.force_login(factories.make_player(ensemble))
    return kept_open, f"/work/steps/{step.pk}/"


def upload(sending: tuple[Client, str], size: int = 0):  # type: ignore[no-untyped-def]
    client, url = sending
    sound = SimpleUploadedFile("take.wav", sounds.tone(2) + bytes(size), content_type="audio/wav")
    return client.post(url, {"token": str(uuid.UUID(int=3)), "note": "bar 17 is late", "file": sound})


def test_a_file_for_which_there_is_no_room_is_not_taken_and_the_note_is_kept(
    sending: tuple[Client, str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(space, "free_bytes", lambda folder=None: space.RESERVE)
    answer = upload(sending)
    page = answer.content.decode()
    assert answer.status_code == 507
    assert "bar 17 is late" in page
    assert 'type="file" name="file"' in page
    monkeypatch.undo()
    assert upload(sending).status_code == 302


def test_a_disk_that_is_full_in_the_middle_of_an_upload(sending: tuple[Client, str]) -> None:
    """The system refuses the temporary file's next block, before any view is reached."""
    with largest_file(3 << 20):
        answer = upload(sending, size=4 << 20)
    assert answer.status_code == 507
    assert upload(sending).status_code == 302


def test_a_file_that_was_cut_short_does_not_stay(tmp_path: Path) -> None:
    storage = PrivateFiles(location=tmp_path)
    with largest_file(100_000), pytest.raises(OSError):
        storage.save("submissions/1/take", ContentFile(bytes(300_000)))
    assert [path for path in tmp_path.rglob("*") if path.is_file()] == []
    kept = Path(storage.path(storage.save("submissions/1/take", ContentFile(bytes(300_000)))))
    assert stat.S_IMODE(kept.stat().st_mode) == 0o600
    assert stat.S_IMODE(kept.parent.stat().st_mode) == 0o700


# --- which errors are whose


def sqlite_error(code: int) -> OperationalError:
    cause = sqlite3.OperationalError("x")
    cause.sqlite_errorcode = code
    error = OperationalError("x")
    error.__cause__ = cause
    return error


def postgres_error(state: str | None) -> OperationalError:
    cause = Exception("x")
    cause.sqlstate = state  # type: ignore[attr-defined]
    error = OperationalError("x")
    error.__cause__ = cause
    return error


# Result codes: https://www.sqlite.org/rescode.html; SQLSTATE: PostgreSQL's manual, appendix A.
WHOSE = [
    (sqlite_error(5), 503),
    (sqlite_error(261), 503),
    (sqlite_error(13), 507),
    (sqlite_error(14), 503),
    (sqlite_error(1), None),
    (postgres_error("53100"), 507),
    (postgres_error("57P01"), 503),
    (postgres_error("57014"), 503),
    (postgres_error("40P01"), 503),
    (postgres_error(None), 503),
    (postgres_error("42P01"), None),
    (InterfaceError("closed"), 503),
    (OSError(28, "full"), 507),
    (OSError(13, "denied"), None),
    (ValueError("ours"), None),
    (None, None),
]


@pytest.mark.parametrize(("error", "status"), WHOSE)
def test_whose_fault_it_is(error: BaseException | None, status: int | None) -> None:
    found = faults.fault_of(error)
    assert (found.status if found else None) == status


# --- PostgreSQL that is stopped and started again


def test_a_database_that_goes_away_and_comes_back(tmp_path: Path) -> None:
    host = postgres.start()
    extra = {"TOPFORM_DB_HOST": host, "TOPFORM_DB_NAME": "postgres"}
    site = Site(tmp_path, "serve", **extra).wait()
    try:
        assert site.get("/account/login/")[0] == 200
        postgres.control(host, "stop", "-m", "immediate")
        for path, words in (
            ("/readyz", '"database": "cannot be reached"'),
            ("/account/login/", "cannot reach its data"),
        ):
            status, said = _ask(site, path)
            assert (status, words in said) == (503, True)
        assert _ask(site, "/livez")[0] == 200
        postgres.control(host, "start")
        for _ in range(60):
            if _ask(site, "/account/login/")[0] == 200:
                break
        assert '"database": "ok"' in site.get("/readyz")[1]
    finally:
        site.stop()


def _ask(site: Site, path: str) -> tuple[int, str]:
    try:
        return site.get(path)
    except urllib.error.HTTPError as error:
        return error.code, error.read().decode()


# --- the data folder


def test_the_folder_is_closed_to_other_accounts_and_nobody_elses_files_are_touched(tmp_path: Path) -> None:
    (tmp_path / "media" / "a").mkdir(parents=True)
    ours = [tmp_path / name for name in ("topform.sqlite3", "topform.sqlite3-wal", "media/a/take", "secret_key")]
    other = tmp_path / "program"
    for path in [*ours, other]:
        path.touch()
        path.chmod(0o755)
    tmp_path.chmod(0o755)
    before = os.umask(0o022)
    try:
        bootstrap.keep_private(tmp_path)
        (tmp_path / "media" / "new").touch()
    finally:
        os.umask(before)
    assert {stat.S_IMODE(path.stat().st_mode) for path in [*ours, tmp_path / "media" / "new"]} == {0o600}
    assert {stat.S_IMODE(path.stat().st_mode) for path in (tmp_path, tmp_path / "media", tmp_path / "media" / "a")} == {
        0o700
    }
    assert stat.S_IMODE(other.stat().st_mode) == 0o755


def test_a_folder_of_everybody_is_left_open(tmp_path: Path) -> None:
    tmp_path.chmod(0o1777)
    before = os.umask(0o022)
    try:
        bootstrap.keep_private(tmp_path)
    finally:
        os.umask(before)
    assert stat.S_IMODE(tmp_path.stat().st_mode) == 0o1777


def test_the_reserve_is_real_and_comes_back(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(settings, "DATA_DIR", tmp_path)
    assert space.reserve()
    blocks = (tmp_path / "reserve").stat().st_blocks * 512
    assert blocks >= space.RESERVE
    assert space.give_back()
    assert not space.give_back()
    monkeypatch.setattr(space, "free_bytes", lambda folder=None: 2 * space.RESERVE)
    assert not space.reserve()
    assert list(tmp_path.iterdir()) == []


@sqlite_only
def test_a_sign_in_while_the_database_is_locked_is_no_429(kept_open: Client) -> None:
    """The limits count in the database: "cannot count" is not "too many"."""
    user = factories.make_user("Ada")
    typed = {"login": user.email, "password": factories.PASSWORD}
    with locked():
        answer = kept_open.post("/account/login/", typed)
        assert (answer.status_code, answer.headers.get("Retry-After")) == (503, "5")
        assert factories.PASSWORD not in answer.content.decode()
        with pytest.raises(OperationalError):
            cache.add("counted", 1)
    assert cache.add("counted", 1)
    assert not cache.add("counted", 2)  # a key that is there is no fault
    assert kept_open.post("/account/login/", typed).status_code == 302
