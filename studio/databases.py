"""The database settings: SQLite in the data folder by default, PostgreSQL when `TOPFORM_DB_HOST` is set."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from studio import env

# Measured: with the defaults, one write in four of six busy processes ended in "database is locked".
# WAL, IMMEDIATE and a wait of five seconds together ended all of them. FULL waits for the disk at every commit (3 ms here):
# with NORMAL what was acknowledged since the last checkpoint is gone when the power goes (`tests/bench/power.py`).
SQLITE_OPTIONS: dict[str, Any] = {
    "timeout": 5,
    "transaction_mode": "IMMEDIATE",
    "init_command": "PRAGMA journal_mode=WAL; PRAGMA synchronous=FULL;",
}

POSTGRES_TIMEOUTS = "-c statement_timeout=15000 -c lock_timeout=5000 -c idle_in_transaction_session_timeout=30000"
POOL_PATIENCE = 1.0  # seconds that a request waits for a connection
# How soon a machine that does not answer at all counts as gone: libpq's settings, in seconds (the last in milliseconds).
POSTGRES_AWAY: dict[str, Any] = {
    "connect_timeout": 2,
    "keepalives_idle": 10,
    "keepalives_interval": 2,
    "keepalives_count": 2,
    "tcp_user_timeout": 5000,
}


def sqlite(path: Path) -> dict[str, Any]:
    """Settings for the SQLite file at `path`. The disk must be local and the machine the only one."""
    return {"ENGINE": "django.db.backends.sqlite3", "NAME": path, "OPTIONS": dict(SQLITE_OPTIONS)}


def postgres(host: str) -> dict[str, Any]:
    """Settings for PostgreSQL at `host` (a name, or the folder of its socket)."""
    options: dict[str, Any] = {"options": POSTGRES_TIMEOUTS} | POSTGRES_AWAY
    if mode := env.text("TOPFORM_DB_SSLMODE"):
        options["sslmode"] = mode
    pool_size = env.number("TOPFORM_DB_POOL", 8)
    if pool_size:
        # Pages answer within two seconds when the database is away, and the pool looks again at every request.
        options["pool"] = {"min_size": 1, "max_size": pool_size, "timeout": POOL_PATIENCE, "reconnect_timeout": 5}
    return {
        "ENGINE": "django.db.backends.postgresql",
        "HOST": host,
        "PORT": env.text("TOPFORM_DB_PORT"),
        "NAME": env.text("TOPFORM_DB_NAME", "topform"),
        "USER": env.text("TOPFORM_DB_USER", "topform"),
        "PASSWORD": env.text("TOPFORM_DB_PASSWORD"),
        "CONN_MAX_AGE": 0,  # the pool keeps connections open
        "CONN_HEALTH_CHECKS": True,
        "OPTIONS": options,
    }


def from_environment(data_dir: Path) -> dict[str, Any]:
    """The one database of the site."""
    host = env.text("TOPFORM_DB_HOST")
    return postgres(host) if host else sqlite(data_dir / "topform.sqlite3")
