"""`manage.py move to-postgresql | to-sqlite`: the whole programme into the other database, compared row by row."""

from __future__ import annotations

import contextlib
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from django.db import connection

from studio import dumps, presence
from studio.bootstrap import Stop
from studio.dumps import BackupError
from studio.moving import engines
from studio.moving.move import House, Moved, move, put_away
from studio.moving.rows import MoveError


class Command(BaseCommand):
    help = (
        "Move the programme to PostgreSQL (TOPFORM_DB_HOST and so on name it, in both directions) or back to SQLite. "
        "Stop the site first; the new place must be empty."
    )
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("direction", choices=["to-postgresql", "to-sqlite"])
        parser.add_argument("--from", dest="old", type=Path, help="data folder of the old place (TOPFORM_DATA)")
        parser.add_argument("--to", dest="new", type=Path, help="data folder of the new place (TOPFORM_DATA)")

    def handle(self, *args: Any, **options: Any) -> None:
        if connection.vendor != "postgresql":
            raise CommandError("Name PostgreSQL first: TOPFORM_DB_HOST, and _NAME, _USER, _PASSWORD where they differ.")
        old, new = (here(options[side] or settings.DATA_DIR) for side in ("old", "new"))
        to_sqlite = options["direction"] == "to-sqlite"
        try:
            self.look(old, new, to_sqlite)
            with contextlib.ExitStack() as locks:
                for folder in dict.fromkeys([old, new]):
                    locks.enter_context(presence.alone(folder, "the move"))
                dumps.refuse_other_connections()
                moved = move(house(old, to_sqlite), house(new, not to_sqlite), say=self.stderr.write)
                away = None if to_sqlite else put_away(old / "topform.sqlite3")
        except (MoveError, BackupError, Stop, OSError) as error:
            raise CommandError(str(error)) from error
        self.report(moved, away, new, to_sqlite)

    def look(self, old: Path, new: Path, to_sqlite: bool) -> None:
        """What can be seen before anything is opened."""
        if not to_sqlite and not (old / "topform.sqlite3").is_file():
            raise MoveError(f"{old} has no topform.sqlite3. " + _why_not(old))
        new.mkdir(parents=True, exist_ok=True, mode=0o700)

    def report(self, moved: Moved, away: Path | None, new: Path, to_sqlite: bool) -> None:
        for label, count in moved.tables.items():
            if count.rows:
                self.stdout.write(f"{label:38} {count.rows:>9} rows  {count.digest[:16]}  the same in both")
        self.stdout.write(f"{moved.files} files, {moved.bytes} bytes")
        for name in moved.missing:
            self.stderr.write(f"a row names a file that was missing before: {name}")
        named = "with" if away else "without"
        self.stdout.write(
            "Everything is in the new place. Next:\n"
            f"  1. Start the site {named} TOPFORM_DB_HOST in its environment"
            f"{', as for this command' if away else ''}, and with TOPFORM_DATA={new}.\n"
            "  2. Ask /readyz, sign in, and look at a ledger that you know.\n"
            "  3. python3 manage.py backup, there: older archives are of the old place.\n"
            f"  4. The old place is {f'kept as {away}' if away else 'as it was, in PostgreSQL'}, with everybody's data: "
            "delete it when you are content."
        )


def _why_not(folder: Path) -> str:
    """What to do about a data folder without a database."""
    moved = sorted(folder.glob("topform-moved-*.sqlite3"))
    if not moved:
        return "--from names the data folder that the programme is in."
    return (
        f"It was moved already: {moved[-1].name} is what was left. Start the site with TOPFORM_DB_HOST set. "
        "To move it once more, name an empty PostgreSQL database and rename that file to topform.sqlite3 first."
    )


def here(folder: Path) -> Path:
    """The site's own data folder under the one name that locks know it by."""
    return settings.DATA_DIR if folder.resolve() == settings.DATA_DIR.resolve() else folder


def house(folder: Path, postgresql: bool) -> House:
    """One side; files of this site's own folder may lie elsewhere (TOPFORM_MEDIA)."""
    database = dict(connection.settings_dict) if postgresql else engines.sqlite_of(folder)
    return House(
        database=database, media=settings.MEDIA_ROOT if folder == settings.DATA_DIR else folder / "media", data=folder
    )
