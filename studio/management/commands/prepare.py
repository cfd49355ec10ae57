"""`manage.py prepare`: what a start does to the database, by itself: archive, migrate, check."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError

from studio import presence, space
from studio.bootstrap import Stop
from studio.update import bring_up_to_date


class Command(BaseCommand):
    help = "Bring the database up to this version; an archive is kept first. `serve` and `demo` do it by themselves."
    requires_system_checks: list[str] = []

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            with presence.one_start(settings.DATA_DIR):
                bring_up_to_date(self.stdout.write)
                space.reserve()
        except Stop as stop:
            raise CommandError(str(stop)) from stop
        self.stdout.write("The database is ready.")
