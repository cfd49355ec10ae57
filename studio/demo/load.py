"""Loads the invented demo programme: people first, then what every app adds."""

from __future__ import annotations

from collections.abc import Callable

PASSWORD = "demo-programme"


def load_if_empty(say: Callable[[str], None] = print) -> bool | None:
    """Load the demo into an empty site: True. Already the demo: False. A real programme: None."""
    from studio import statistics
    from studio.demo.compose import compose
    from studio.models import Programme, User

    if User.objects.exists():
        return False if Programme.current().is_demo else None
    say("Loading the demo programme ...")
    compose()
    statistics.refresh()
    return True


def sign_in_lines() -> list[str]:
    from studio.demo.people import SHOWN
    from studio.models import User

    names = dict(User.objects.filter(email__in=[email for email, _ in SHOWN]).values_list("email", "name"))
    return [f"{role:11} {email:32} {names[email]}" for email, role in SHOWN if email in names]
