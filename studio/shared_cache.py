"""The cache that all processes share, in the database, and honest about it.

Django's own says "not added" both when a key is there and when the database refused the write. Limits count in this cache:
with the database locked for a few seconds, "not added" was read as "too many tries" and a sign-in was answered with 429.
Here a refused write is an error like any other of the database (`studio.faults` answers 503).
"""

from __future__ import annotations

from typing import Any

from django.core.cache.backends.db import DatabaseCache
from django.db import OperationalError, connections, router


class HonestDatabaseCache(DatabaseCache):
    """`DatabaseCache` whose writes raise OperationalError when the database is busy, away or full."""

    def _base_set(self, mode: str, key: str, value: Any, *args: Any, **kwargs: Any) -> bool:
        refused: list[OperationalError] = []

        def watch(execute: Any, sql: str, params: Any, many: bool, context: Any) -> Any:
            try:
                return execute(sql, params, many, context)
            except OperationalError as error:
                refused.append(error)
                raise

        with connections[router.db_for_write(self.cache_model_class)].execute_wrapper(watch):
            written = bool(super()._base_set(mode, key, value, *args, **kwargs))  # type: ignore[misc]
        if refused and not written:
            raise refused[0]
        return written
