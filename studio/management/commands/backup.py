"""`manage.py backup`: one archive of everything, while the site runs."""
from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError

from studio.backup import BackupError, make_backup


class Command(BaseCommand):
    help = "Write a backup of the database and of all files into one archive."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--to", type=Path, default=settings.DATA_DIR / "backups", help="folder for the archive")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            self.stdout.write(str(make_backup(options["to"])))
        except (BackupError, OSError) as error:
            raise CommandError(str(error)) from error
