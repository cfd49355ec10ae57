"""`manage.py restore ARCHIVE`: put a backup back; what was there is moved aside."""
from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError

from studio import presence
from studio.backup import BackupError, restore
from studio.bootstrap import Stop
from studio.update import bring_up_to_date


class Command(BaseCommand):
    help = "Put a backup back. Stop the site first."
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("archive", type=Path)

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            with presence.alone(settings.DATA_DIR, "the restore"):
                aside = restore(options["archive"])
                bring_up_to_date(self.stderr.write, keep_archive=False)
        except (BackupError, Stop) as error:
            raise CommandError(str(error)) from error
        self.stdout.write(f"Restored. What was there before is in {aside}")
