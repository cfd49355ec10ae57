"""`manage.py demo`: the site with the invented demo programme, in a data folder of its own."""

from __future__ import annotations

from django.conf import settings

from studio.bootstrap import Stop
from studio.demo.load import PASSWORD, load_if_empty, sign_in_lines
from studio.management.commands.serve import Command as Serve


class Command(Serve):
    help = "Start the site with the demo programme; a second start keeps everything."

    def fill(self) -> None:
        loaded = load_if_empty(say=self.say)
        if loaded is None:
            raise Stop(
                f"{settings.DATA_DIR} holds a real programme, so the demo stays out of it. "
                "Use `python3 manage.py serve`, or another folder: TOPFORM_DATA=/some/folder."
            )

    def greet(self, address: str) -> None:
        super().greet(address)
        self.say(f"\nSign in with one of these addresses; the password is always: {PASSWORD}")
        for line in sign_in_lines():
            self.say(f"  {line}")
