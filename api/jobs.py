"""What the worker does for other systems."""

from __future__ import annotations

import datetime as dt

from api.campus.lti import login, marks
from api.campus.webhooks import sending
from api.changes import look
from api.models import ChangeState, CourseLink, Hook
from studio.rounds import DAY, Part, add_part

MINUTE = dt.timedelta(minutes=1)


def _marks(now: dt.datetime) -> None:
    marks.refresh(now)
    marks.send_waiting(now)


add_part(
    Part(
        name="course marks",
        words="Sending marks to courses",
        run=_marks,
        every=MINUTE,
        wanted=lambda: CourseLink.objects.filter(assignment__isnull=False).exists(),
    )
)
add_part(
    Part(
        name="changes",
        words="Looking for changes",
        run=look,
        every=5 * MINUTE,
        wanted=lambda: ChangeState.objects.exists(),  # once somebody has asked
    )
)
add_part(Part(name="launches", words="Forgetting old launches", run=login.clear_old, every=DAY))
add_part(
    Part(
        name="webhooks",
        words="Telling other systems",
        run=sending.send_waiting,
        every=dt.timedelta(seconds=20),
        wanted=lambda: Hook.objects.filter(ended=None, off=None).exists(),
    )
)
add_part(Part(name="old messages", words="Forgetting old webhook messages", run=sending.clear_old, every=DAY))
