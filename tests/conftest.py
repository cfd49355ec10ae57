"""Fixtures for every test."""

from __future__ import annotations

import os

import pytest
from hypothesis import HealthCheck, settings

settings.register_profile(
    "short",
    max_examples=40,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.function_scoped_fixture],
)
settings.register_profile("long", settings.get_profile("short"), max_examples=10_000)
settings.load_profile(os.environ.get("TOPFORM_HYPOTHESIS", "short"))

OF_A_DATABASE = frozenset({"db", "transactional_db", "live_server", "django_db_setup"})


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """On PostgreSQL only what touches the database is run: the rest was run once already, and no database changes it."""
    if os.environ.get("TOPFORM_TEST_DB") != "postgres":
        return
    needed = [
        item
        for item in items
        if item.get_closest_marker("django_db") or OF_A_DATABASE & set(getattr(item, "fixturenames", ()))
    ]
    config.hook.pytest_deselected(items=[item for item in items if item not in set(needed)])
    items[:] = needed
