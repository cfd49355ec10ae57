"""Fixtures for every test."""

from __future__ import annotations

import os

from hypothesis import HealthCheck, settings

settings.register_profile(
    "short",
    max_examples=40,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.function_scoped_fixture],
)
settings.register_profile("long", settings.get_profile("short"), max_examples=10_000)
settings.load_profile(os.environ.get("TOPFORM_HYPOTHESIS", "short"))
