"""Figures for the machine room: off by default, for the bearer of the token, in the open text format, without names.

The text is read by `prometheus_client`'s parser of OpenMetrics 1.0, which is not ours.
"""

from __future__ import annotations

import datetime as dt
import json
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings
from django.db import DatabaseError
from django.test import Client
from django.utils import timezone
from prometheus_client.openmetrics.parser import text_string_to_metric_families

from studio import exposition, metrics
from studio.models import Housekeeping, Job, WorkerBeat
from tests import factories

TOKEN = "a-token-of-the-machine-room"


@pytest.fixture
def client(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Client:
    monkeypatch.setattr(settings, "DATA_DIR", tmp_path)
    monkeypatch.setattr(settings, "METRICS_TOKEN", TOKEN)
    monkeypatch.setattr(settings, "MIDDLEWARE", ["studio.metrics.CountingMiddleware", *settings.MIDDLEWARE])
    monkeypatch.setattr(metrics, "COUNTS", metrics.Counts())
    monkeypatch.setattr(metrics, "EVERY", 0.0)
    return Client()


def read(client: Client) -> dict[tuple[str, tuple[tuple[str, str], ...]], float]:
    answer = client.get("/metrics", headers={"authorization": f"Bearer {TOKEN}"})
    assert answer.status_code == 200
    assert answer.headers["Content-Type"] == "application/openmetrics-text; version=1.0.0; charset=utf-8"
    families = text_string_to_metric_families(answer.content.decode())
    return {
        (sample.name, tuple(sorted(sample.labels.items()))): sample.value for one in families for sample in one.samples
    }


def test_for_the_bearer_of_the_token_alone(client: Client, db: None, monkeypatch: pytest.MonkeyPatch) -> None:
    client.force_login(factories.make_director())
    given = ["", "Bearer", "Bearer x", f"Bearer {TOKEN}x", f"Basic {TOKEN}", TOKEN, "Bearer ähnlich"]
    answers = [client.get("/metrics", headers={"authorization": words}) for words in given]
    assert [answer.status_code for answer in answers] == [401] * len(given)
    assert answers[0].headers["WWW-Authenticate"].startswith("Bearer")
    assert client.get(f"/metrics?token={TOKEN}").status_code == 401
    assert client.get("/metrics", headers={"authorization": f"bearer {TOKEN}"}).status_code == 200
    assert client.post("/metrics", headers={"authorization": f"Bearer {TOKEN}"}).status_code == 405
    monkeypatch.setattr(settings, "METRICS_TOKEN", "")
    assert client.get("/metrics", headers={"authorization": "Bearer "}).status_code == 404


def test_what_was_done_is_counted(client: Client, db: None, tmp_path: Path) -> None:
    client.get("/livez")
    client.get("/nowhere/")
    client.force_login(factories.make_user())
    client.post("/theme", {"theme": "dark"})
    client.post("/livez")
    # Another process, which has ended, and something that is not ours.
    other = {"requests|GET 2xx": 100} | {f"within|{bound}": 90 for bound in metrics.BOUNDS}
    (tmp_path / "metrics" / "other-7-ab.json").write_text(json.dumps(other))
    (tmp_path / "metrics" / "torn.json").write_text('{"requests|')
    Job.objects.create(kind="t", created=timezone.now() - dt.timedelta(minutes=3))
    WorkerBeat.objects.create(name="one", at=timezone.now())
    WorkerBeat.objects.create(name="gone", at=timezone.now() - dt.timedelta(hours=3))
    done = dt.datetime(2026, 3, 1, 4, 0, tzinfo=dt.UTC)
    Housekeeping.objects.create(name="backup", done=done, failures=2, failed=timezone.now())
    (tmp_path / "backups").mkdir()
    (tmp_path / "backups" / "topform-x-daily.zip").write_bytes(b"x" * 1000)
    found = read(client)

    def of(family: str, /, **labels: str) -> float:
        return found[f"topform_{family}", tuple(sorted(labels.items()))]

    assert of("requests_total", method="GET", status="2xx") == 101
    assert of("requests_total", method="GET", status="4xx") == 1
    assert of("requests_total", method="POST", status="3xx") == 1
    assert (of("saves_total", outcome="saved"), of("saves_total", outcome="refused")) == (1, 1)
    assert of("request_seconds_bucket", le="+Inf") == of("request_seconds_count") == 104
    assert of("request_seconds_bucket", le="0.05") >= 90
    assert (of("jobs", state="waiting"), of("jobs", state="failed"), of("workers")) == (1, 0, 1)
    assert 170 < of("oldest_job_seconds") < 240
    assert (of("backup_timestamp_seconds", place="here"), of("backups"), of("backup_bytes")) == (
        done.timestamp(),
        1,
        1000,
    )
    assert of("round_failures", part="backup") == 2
    assert of("check", name="database") == 0
    assert of("disk_free_bytes", folder="data") > 0
    assert of("database_bytes") > 0
    assert not any("@" in value for _, labels in found for _, value in labels)


def test_what_cannot_be_read_is_left_out(client: Client, db: None, monkeypatch: pytest.MonkeyPatch) -> None:
    def away(*_: Any) -> Any:
        raise DatabaseError("gone")

    monkeypatch.setattr(exposition, "_jobs", away)
    names = {name for name, _ in read(client)}
    assert "topform_jobs" not in names
    assert {"topform_backups", "topform_check"} <= names
    Housekeeping.objects.create(name='a "name"\nof \\two lines')
    assert ("topform_round_failures", (("part", 'a "name"\nof \\two lines'),)) in read(client)
