"""`manage.py setup_link`: the one-time link by which the first director makes an account."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand

from studio.services.setup import setup_path


class Command(BaseCommand):
    help = "Print the set-up link of a site that has no director yet."

    def handle(self, *args: Any, **options: Any) -> None:
        path = setup_path()
        if path:
            self.stdout.write(
                f"Nobody has an account yet. Make the director's here; the link works once:\n  {settings.SITE_URL}{path}"
            )
        else:
            self.stdout.write(f"The site has a director: {settings.SITE_URL}")
