"""What the database knows of the sizes of its tables, from which it plans every search.

A database that counted its tables while they were empty plans for a handful of rows: fresh counts after anything that
writes many (a restore, the demo), and once a day.
"""

from __future__ import annotations

from django.db import connection


def refresh() -> None:
    """Count anew: PostgreSQL samples every table (seconds, no lock that a reader or writer feels), SQLite those that
    have changed much since the last time (`PRAGMA optimize`, bounded by an analysis limit of its own)."""
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute("ANALYZE")
        else:
            cursor.execute("PRAGMA analysis_limit=1000")
            cursor.execute("PRAGMA optimize=0x10002")
