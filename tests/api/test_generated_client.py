"""A client that a general-purpose generator makes of the schema (openapi-python-client) runs a journey and reads every list.

It is what another system's programmer would do first: nothing of the client is written by hand, so a shape that is not
described as it is sent fails here.
"""

from __future__ import annotations

import datetime as dt
import importlib
import inspect
import json
import os
import pkgutil
import re
import subprocess
import sys
import uuid
from collections.abc import Iterator
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import httpx
import pytest
from django.core.signals import request_finished, request_started
from django.core.wsgi import get_wsgi_application
from django.db import close_old_connections
from drf_spectacular.generators import SchemaGenerator

from api.scopes import SCOPE_IDS
from api.tokens import make_token
from assessments.models import PlannedTune
from studio.models import User
from tests import factories

pytestmark = pytest.mark.skipif(
    os.environ.get("TOPFORM_TEST_DB") == "postgres", reason="what is described is the same on both databases"
)
# What a file is called in the schema and the generator does not know: bytes.
BYTES = ("audio/*", "application/vnd.recordare.musicxml+xml", "application/x-ndjson")
CONFIG = json.dumps({"post_hooks": [], "content_type_overrides": dict.fromkeys(BYTES, "application/octet-stream")})


@pytest.fixture(scope="module")
def client(tmp_path_factory: pytest.TempPathFactory) -> Iterator[SimpleNamespace]:
    """The generated package, imported: its `api`, `models`, `client`."""
    folder: Path = tmp_path_factory.mktemp("generated")
    name = f"topform_client_{uuid.uuid4().hex[:8]}"
    (folder / "schema.json").write_text(json.dumps(SchemaGenerator().get_schema(request=None, public=True)))
    (folder / "config.json").write_text(CONFIG)
    command = ["-m", "openapi_python_client", "generate", "--meta", "none", "--path", str(folder / "schema.json")]
    more = ["--config", str(folder / "config.json"), "--output-path", str(folder / name)]
    done = subprocess.run([sys.executable, *command, *more], capture_output=True, text=True, check=False)
    assert (done.returncode, "WARNING" in done.stdout) == (0, False), done.stdout + done.stderr
    sys.path.insert(0, str(folder))
    try:
        parts = {part: importlib.import_module(f"{name}.{part}") for part in ("api", "models", "client")}
        yield SimpleNamespace(**parts)
    finally:
        sys.path.remove(str(folder))


@pytest.fixture
def calls(client: SimpleNamespace) -> Iterator[Any]:
    """`calls(person)` gives `call(name, …)`: a generated function by its name, called as that person; its parsed answer."""
    functions = {
        module.name.rpartition(".")[2]: module.name
        for module in pkgutil.walk_packages(client.api.__path__, f"{client.api.__name__}.")
        if not module.ispkg
    }
    for signal in (request_started, request_finished):  # as Django's own test client: the connection is the test's
        signal.disconnect(close_old_connections)
    opened = []

    def of(person: User) -> Any:
        _, key = make_token(owner=person, name="generated", scopes=sorted(SCOPE_IDS), days=1)
        made = client.client.AuthenticatedClient(base_url="http://testserver", token=key)
        headers = {"Authorization": f"Bearer {key}"}
        web = httpx.Client(
            base_url="http://testserver",
            transport=httpx.WSGITransport(app=get_wsgi_application()),
            headers=headers,  # type: ignore[arg-type]
        )
        made.set_httpx_client(web)
        opened.append(web)

        def call(name: str, *args: Any, expect: int = 200, **kwargs: Any) -> Any:
            answer = importlib.import_module(functions[name]).sync_detailed(*args, client=made, **kwargs)
            assert answer.status_code == expect, (name, answer.content[:500])
            return answer.parsed

        call.names = sorted(functions)  # type: ignore[attr-defined]
        call.module = lambda name: importlib.import_module(functions[name])  # type: ignore[attr-defined]
        return call

    yield of
    for web in opened:
        web.close()
    for signal in (request_started, request_finished):
        signal.connect(close_old_connections)


@pytest.mark.django_db
def test_from_a_chart_to_the_ledger(client: SimpleNamespace, calls: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("api.views.changes.PAUSE", dt.timedelta(0))
    shapes, ensemble = client.models, factories.make_ensemble("Combo")
    teacher, director = calls(factories.make_instructor(ensemble)), calls(factories.make_director())
    ada = factories.make_user("Ada Quill", school_id="S-17")
    player = calls(ada)
    (found,) = director("people_list", school_id="S-17").results
    chair = director(
        "ensembles_chairs_create", ensemble.pk, body=shapes.ChairInRequest(school_id=found.school_id), expect=201
    )
    assert (chair.person.id, chair.role) == (ada.pk, "player")
    tune = teacher("tunes_create", body=shapes.TuneInRequest(title="Made by a client", key="F"), expect=201)
    text = "key: F major\n| Gm7 C7 | Fmaj7 |"
    sent = shapes.VersionInRequest(name="by ear", text=text)
    revision = teacher("tunes_versions_create", tune.id, body=sent, expect=201)
    steps = [shapes.StepInRequest(kind=shapes.StepKindEnum(kind)) for kind in ("function", "sign-off")]
    work = shapes.AssignmentInRequest(ensemble=ensemble.pk, revision=revision.id, title="Learn it", steps=steps)
    made = teacher("assignments_create", body=work, expect=201)
    quiz, signing = made.steps
    attempt = player("steps_attempts_create", quiz.id)
    written = [
        shapes.SaveInRequest(question=question.id, text="2 minor 7", sequence=1) for question in attempt.questions[:1]
    ]
    saved = player(
        "attempts_answers_update", attempt.id, body=shapes.SavesInRequest(client=uuid.uuid4(), saves=written)
    )
    assert [row.outcome for row in saved.results] == ["saved"]
    player("attempts_hand_in_create", attempt.id)
    (waiting,) = teacher("review_list").results
    assert (waiting.id, waiting.player.id) == (attempt.id, ada.pk)
    heard = shapes.SignOffInRequest(players=[ada.pk], evidence="Played it")
    teacher("steps_sign_offs_create", signing.id, body=heard, expect=201)
    (row,) = teacher("ensembles_ledger_list", ensemble.pk).results
    assert (row.player.id, row.tunes[0].tune) == (ada.pk, tune.id)
    changed = director("changes_retrieve", kind=shapes.ChangesRetrieveKind("sign_off"))
    assert [one.gone for one in changed.results] == [False]
    refused = player("people_list", school_id="S-17", expect=403)
    assert (refused.status, refused.code.value) == (403, "not-permitted")


@pytest.mark.django_db
def test_every_list_is_read_as_it_is_described(client: SimpleNamespace, calls: Any) -> None:
    """A page of typed rows from each list that there is; those of somebody's own are empty and still a page."""
    ensemble = factories.make_ensemble()
    teacher, player = factories.make_instructor(ensemble), factories.make_player(ensemble)
    work = factories.make_assignment(ensemble, by=teacher)
    attempt = factories.make_attempt(work.steps.get(), player, answers={"function:0": "1"}, hand_in=True)
    factories.make_recording(work.tune)
    PlannedTune.objects.create(ensemble=ensemble, tune=work.tune, position=1)
    ids = {
        "ensembles": ensemble.pk, "assignments": work.pk, "attempts": attempt.pk, "players": player.pk, "tunes": work.tune_id,
        "versions": work.revision.version_id, "revisions": work.revision_id, "steps": attempt.step_id,
        "idioms": factories.make_idiom().pk, "recordings": work.tune.recordings.get().pk,
    }  # fmt: skip
    lead, play = calls(teacher), calls(player)
    rows = {}
    for name in (name for name in lead.names if name.endswith("_list")):
        wanted = inspect.signature(lead.module(name).sync_detailed).parameters
        head = re.match(r"[a-z]+", name)
        assert head
        if "id" in wanted and head[0] not in ids:
            continue  # of a take, a solo, a line: their own tests read them
        call = play if name in ("steps_listening_list", "assignments_steps_list") else lead
        kwargs = {"tune": work.tune_id} if name == "players_evidence_list" else {}
        kind = "listening" if name == "steps_listening_list" else ""
        expect = 409 if kind else 200  # the step asks for something else
        page = call(name, *([ids[head[0]]] if "id" in wanted else []), expect=expect, **kwargs)
        rows[name] = len(page.results) if expect == 200 else 0
    assert len(rows) >= 35
    assert {name for name, count in rows.items() if count} >= {
        "assignments_list", "attempts_list", "ensembles_chairs_list", "ensembles_list", "ensembles_ledger_list",
        "ensembles_plan_list", "idioms_list", "marking_rules_list", "people_list", "review_list", "terms_list", "tunes_list",
        "tunes_recordings_list", "tunes_versions_list", "versions_revisions_list",
    }  # fmt: skip
