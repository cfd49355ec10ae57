"""The site's own settings with one more address (see `tests.bench.bare`)."""

from __future__ import annotations

from studio.settings import *  # noqa: F403

ROOT_URLCONF = "tests.bench.bare"
