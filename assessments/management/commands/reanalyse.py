"""`manage.py reanalyse`: read every chart again that another engine has read, and say what changes."""

from __future__ import annotations

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand

from assessments.services import reanalysis
from tunes.engine import version
from tunes.services.reanalysis import stale_revisions


class Command(BaseCommand):
    help = "Read charts again after an update. The worker does it by itself in the background; this does it now and reports."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--background", action="store_true", help="put it in the worker's queue instead")

    def handle(self, *args: Any, **options: Any) -> None:
        count = stale_revisions().count()
        if options["background"]:
            job = reanalysis.start_if_stale()
            self.stdout.write(
                f"{count} charts wait for the worker."
                if job
                else "Nothing to put in the queue: it is done, or waits already."
            )
            return
        reports = reanalysis.reanalyse()
        for line in reanalysis.result_of(reports)["report"]:
            self.stdout.write(line)
        self.stdout.write(
            f"{count} charts read again with engine {version()}; the labels of {sum(bool(row.change.labels) for row in reports)} changed."
        )
