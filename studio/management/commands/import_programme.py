"""`manage.py import_programme FILE`: an open archive into an empty site."""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError

from studio import dumps, presence
from studio.archive import ArchiveError
from studio.bootstrap import Stop
from studio.dumps import BackupError
from studio.moving import open_archive
from studio.moving.rows import MoveError


class Command(BaseCommand):
    help = "Bring an open archive into an empty site. Stop the site first."
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", type=Path, help="an archive that export_programme wrote")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            settings.DATA_DIR.mkdir(parents=True, exist_ok=True, mode=0o700)
            with presence.alone(settings.DATA_DIR, "the import"):
                dumps.refuse_other_connections()
                found = open_archive.read(options["file"], say=self.stderr.write)
        except (MoveError, ArchiveError, BackupError, Stop, OSError) as error:
            raise CommandError(str(error)) from error
        self.stdout.write(
            f"Imported: {sum(found.values())} rows in {sum(1 for each in found.values() if each)} tables, compared with the archive."
        )
