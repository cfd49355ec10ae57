"""Whatever a program sends: no answer of 500, and only answers that the schema declares (schemathesis)."""

from __future__ import annotations

import os
from collections.abc import Iterator
from typing import Any

import pytest
import schemathesis
from django.core.signals import request_finished, request_started
from django.core.wsgi import get_wsgi_application
from django.db import close_old_connections
from django.test import Client
from drf_spectacular.generators import SchemaGenerator
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from schemathesis.specs.openapi.checks import (
    content_type_conformance,
    response_schema_conformance,
    status_code_conformance,
)

from api.pages import _groups
from api.scopes import SCOPE_IDS
from api.tokens import make_token
from tests import factories
from tests.access import World
from tests.test_access import built_world, world

__all__ = ["built_world", "world"]  # the fixtures

CASES = 600 if os.environ.get("TOPFORM_HYPOTHESIS") == "long" else 18
ROLES = st.sampled_from(["player", "instructor", "director"])
schema = schemathesis.openapi.from_dict(SchemaGenerator().get_schema(request=None, public=True))
EXPECTED = {400, 401, 403, 404, 405, 409, 415, 422, 429}


@pytest.fixture(autouse=True)
def connection_kept() -> Iterator[None]:
    """As Django's own test client does: a finished request must not close the test's connection."""
    for signal in (request_started, request_finished):
        signal.disconnect(close_old_connections)
    yield
    for signal in (request_started, request_finished):
        signal.connect(close_old_connections)


@pytest.fixture
def keys(world: World, monkeypatch: pytest.MonkeyPatch) -> dict[str, str]:
    """A token for each role over objects that exist, so that calls get past their first check."""
    monkeypatch.setattr("api.security.PerToken.rate", None, raising=False)
    monkeypatch.setattr("api.security.PerTokenHeavy.THROTTLE_RATES", {"heavy": None})
    return {role: found["Authorization"] for role, found in world["tokens"].items()}


@schema.parametrize()
@schema.given(role=ROLES)
@settings(max_examples=CASES, deadline=None, suppress_health_check=list(HealthCheck))
def test_nothing_sent_is_a_500(case: Any, role: str, keys: dict[str, str]) -> None:
    answer = case.call(app=get_wsgi_application(), headers={"Authorization": keys[role], "Accept-Encoding": "identity"})
    assert answer.status_code < 500, (case.as_curl_command(), answer.text[:400])
    assert answer.status_code in EXPECTED | {200, 201, 204}
    checks = [status_code_conformance, content_type_conformance, response_schema_conformance]
    if "ndjson" in str(answer.headers.get("content-type")):
        checks.remove(response_schema_conformance)  # many JSON texts, which the checker reads as one
    if answer.status_code != 405:  # a method that the call does not have is in no description
        case.validate_response(answer, checks=checks)


def test_every_call_says_what_it_does() -> None:
    """The readable page lists every call of the schema, each with a summary."""
    calls = [call for _, calls in _groups() for call in calls]
    paths = schema.raw_schema["paths"]
    assert len(calls) == sum(len(item) for item in paths.values())
    assert [call.path for call in calls if not call.summary] == []


@pytest.mark.django_db
def test_a_nul_is_refused_in_words() -> None:
    ensemble = factories.make_ensemble()
    _, key = make_token(owner=factories.make_instructor(ensemble), name="x", scopes=sorted(SCOPE_IDS), days=1)
    for body in (
        {"title": "a\x00b"},
        {"title": 5 * "x" * 100},
        {"title": None},
        [],
        {"title": "x", "tempo_low": 10**12},
    ):
        answer = Client().post(
            "/api/v1/tunes", body, content_type="application/json", headers={"Authorization": f"Bearer {key}"}
        )
        assert answer.status_code == 400, body
