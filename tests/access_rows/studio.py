"""Who gets which page of the programme."""
from __future__ import annotations

from tests.access import DIRECTOR, EVERYONE, MEMBERS, SIGN_IN, Access, roles

ROWS = [
    Access("livez", get=EVERYONE),
    Access("readyz", get=EVERYONE),
    Access("studio:home", get=roles(SIGN_IN, others=302)),
    Access("studio:welcome", get=MEMBERS),
    Access("studio:theme", post=roles(302, others=302), data=lambda w: {"theme": "dark"}),
    Access("studio:people", get=DIRECTOR),
]
