"""`manage.py send_digest`: the daily letters now. The worker also sends them, from TOPFORM_DIGEST_HOUR on."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand
from django.utils import timezone

from studio.middleware import programme_zone
from studio.models import Programme
from studio.notices import send_digests


class Command(BaseCommand):
    help = "Mail everyone what is new for them, at most one letter a day each."

    def handle(self, *args: Any, **options: Any) -> None:
        with timezone.override(programme_zone(Programme.current().time_zone)):
            self.stdout.write(f"{send_digests()} letters sent.")
