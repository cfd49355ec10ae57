"""`manage.py worker`: does background jobs; between them sweeps, sends the daily letters, keeps backups."""

from __future__ import annotations

import logging
import os
import socket
import threading
from argparse import ArgumentParser
from typing import Any

from django.core.management import call_command
from django.core.management.base import BaseCommand
from django.db import DatabaseError, close_old_connections

from studio.jobs import begin
from studio.rounds import make_round

log = logging.getLogger(__name__)
BEHIND = 10
"""How much a worker stands back behind web processes on the same machine (nice(2)): a page is waited for, a job is not."""


class Command(BaseCommand):
    help = "Run one background worker."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--round", type=float, default=15.0, help="seconds between rounds")

    def handle(self, *args: Any, **options: Any) -> None:
        if hasattr(os, "nice"):  # Windows has none
            os.nice(BEHIND)
        name = f"{socket.gethostname()}:{os.getpid()}"
        stop = threading.Event()
        rounds = threading.Thread(target=self.rounds, args=(name, options["round"], stop), daemon=True)
        rounds.start()
        try:
            begin()
            call_command(
                "db_worker", interval=0.5, verbosity=0, reload=False, startup_delay=False, worker_id=name[-64:]
            )
        finally:
            stop.set()
            rounds.join(timeout=10)

    def rounds(self, name: str, pause: float, stop: threading.Event) -> None:
        """The thread beside the jobs. A database that is away for a moment is waited for."""
        while True:
            try:
                make_round(name)
            except DatabaseError as error:
                log.warning("the round will be tried again: %s", error)
            close_old_connections()
            if stop.wait(pause):
                return
