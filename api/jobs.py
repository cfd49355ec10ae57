"""What the worker does for other systems."""

from __future__ import annotations

import datetime as dt

from api.campus.lti import login, marks
from api.models import CourseLink
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
add_part(Part(name="launches", words="Forgetting old launches", run=login.clear_old, every=DAY))
