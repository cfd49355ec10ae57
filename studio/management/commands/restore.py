"""`manage.py restore ARCHIVE`: put a backup back; what was there is moved aside."""

from __future__ import annotations

from argparse import ArgumentParser
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError

from studio import presence, second_place, statistics
from studio.bootstrap import Stop
from studio.dumps import BackupError
from studio.restoring import restore
from studio.update import bring_up_to_date


class Command(BaseCommand):
    help = "Put a backup back. Stop the site first."
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument(
            "archive", help="a file, or the name of an archive in the second place (s3://… or its folder)"
        )
        parser.add_argument(
            "--incomplete",
            action="store_true",
            help="an archive of version 0.1.0: put it back although files are missing that its database names",
        )

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            archive = second_place.local(str(options["archive"]), settings.DATA_DIR / "backups")
            with presence.alone(settings.DATA_DIR, "the restore"):
                aside = restore(archive, say=self.stderr.write, incomplete=options["incomplete"])
                bring_up_to_date(self.stderr.write, keep_archive=False)
                statistics.refresh()
        except (BackupError, Stop, OSError) as error:
            raise CommandError(str(error)) from error
        self.stdout.write(f"Restored. What was there before is in {aside}")
