"""`manage.py serve`: the site on one machine, web server and worker, until Ctrl-C."""

from __future__ import annotations

import os
import signal
import sys
from argparse import ArgumentParser
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand
from django.db import DatabaseError

from studio import launch, presence, space
from studio.bootstrap import Stop
from studio.services.setup import setup_path
from studio.update import bring_up_to_date


class Command(BaseCommand):
    help = "Start the site: prepares the data folder and the database, then runs web server and worker."
    requires_system_checks: list[str] = []
    stdout: Any

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--host", default="127.0.0.1", help="address to listen on (0.0.0.0: every one)")
        parser.add_argument("--port", type=int, default=8000)
        parser.add_argument("--processes", type=int, default=2, help="web server processes")
        parser.add_argument("--threads", type=int, default=8, help="threads of each")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            with presence.one_start(settings.DATA_DIR):
                self.serve(options)
        except Stop as stop:
            raise SystemExit(str(stop)) from stop

    def serve(self, options: dict[str, Any]) -> None:
        """Everything that may go wrong first, then the two servers."""
        host, port = options["host"], options["port"]
        launch.check_port(host, port)
        servers = launch.Servers(host, port, options["processes"], options["threads"])
        os.environ.setdefault("TOPFORM_URL", servers.address)
        bring_up_to_date(self.say)
        if not space.reserve():
            self.say(f"The disk of {settings.DATA_DIR} is nearly full: no space can be held in reserve.")
        self.fill()
        launch.prepare_static()

        def end(signum: int, frame: object) -> None:
            servers.stopping = True

        for number in (signal.SIGINT, signal.SIGTERM):
            signal.signal(number, end)
        try:
            servers.start()
            self.greet(servers.address)
            servers.watch()
        finally:
            self.say("Stopping ...")
            servers.stop()
        self.say("Stopped. Everything is saved.")

    def fill(self) -> None:
        """What the empty site starts with: nothing here, the demo programme in `demo`."""

    def greet(self, address: str) -> None:
        """Say where the site is and what to do next."""
        self.say(f"\nTopform runs at {address}   (Ctrl-C stops it)")
        self.say(f"Its data is in {settings.DATA_DIR}")
        try:
            path = setup_path()
        except DatabaseError as error:  # it may go away at any time; the site waits for it
            self.say(f"The database does not answer just now: {str(error).strip().splitlines()[0]}")
            return
        if path:
            self.say(f"\nNobody has an account yet. Make the director's here; the link works once:\n  {address}{path}")

    def say(self, line: str) -> None:
        self.stdout.write(line)
        sys.stdout.flush()
