"""The one way in which a version of the program meets a database: archive, migrate, check.

`serve`, `demo`, the container's `prepare` and `restore` all go through here.
"""

from __future__ import annotations

from collections.abc import Callable

from django.conf import settings
from django.core.management import call_command
from django.db import DatabaseError, connection
from django.db.migrations.executor import MigrationExecutor

from studio import presence, restoring
from studio.backup import BackupError, make_backup
from studio.bootstrap import Stop

Say = Callable[[str], object]


def bring_up_to_date(say: Say, *, keep_archive: bool = True) -> None:
    """Migrate the database, keeping an archive first when there is something to keep. Stop with one clear line if not."""
    where = connection.settings_dict["NAME"]
    try:
        if (settings.DATA_DIR / presence.JOURNAL).exists():
            with presence.alone(settings.DATA_DIR, "ending the restore"):
                restoring.finish(say)
        pending, applied = _plan(str(where))
        if pending and applied and keep_archive:
            say(f"A copy of the data is kept in {make_backup(settings.DATA_DIR / 'backups', reason='before-update')}.")
        if pending:
            say("Preparing the database ...")
        call_command("migrate", verbosity=0, interactive=False)
        call_command("createcachetable", verbosity=0)
        _check(str(where))
    except BackupError as error:
        raise Stop(f"The update was not begun: {error}") from error
    except DatabaseError as error:
        raise Stop(
            f"The database {where} cannot be used: {str(error).strip().splitlines()[0]}. It was left as it is. "
            "Move it away to start afresh, or restore a backup with `python3 manage.py restore`."
        ) from error


def _plan(where: str) -> tuple[bool, bool]:
    """Whether migrations are pending, and whether any was ever applied. Stop when the database is of a newer version."""
    executor = MigrationExecutor(connection)
    applied = set(executor.loader.applied_migrations)
    if newer := applied - set(executor.loader.disk_migrations):
        raise Stop(
            f"{where} was made by a newer version of the site (it has {'.'.join(sorted(newer)[0])}). "
            "Update the program, or restore a backup of this version. Nothing was changed."
        )
    return bool(executor.migration_plan(executor.loader.graph.leaf_nodes())), bool(applied)


def _check(where: str) -> None:
    """Nothing pending, and on SQLite no damaged page and no row that points nowhere; Stop otherwise."""
    executor = MigrationExecutor(connection)
    if executor.migration_plan(executor.loader.graph.leaf_nodes()):
        raise Stop(f"{where}: migrations are still pending after the update; start again.")
    if connection.vendor == "sqlite":
        with connection.cursor() as cursor:
            found = [row[0] for row in cursor.execute("PRAGMA quick_check(3)").fetchall()]
            orphans = cursor.execute("PRAGMA foreign_key_check").fetchall()
        if found != ["ok"] or orphans:
            wrong = "; ".join(found) if found != ["ok"] else f"{len(orphans)} rows point at rows that are gone"
            raise Stop(f"{where} is damaged: {wrong}. Restore a backup with `python3 manage.py restore`.")
