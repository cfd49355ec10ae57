"""The handbook of the site: one page a task, for players, instructors and directors, linked from where the task is.

The words are data (`instructors`, `players`). In them `*Label*` is what stands on a page and `[words](route)` leads to a
page that needs no number; `tests/studio/test_handbook.py` holds both against the site.
"""

from studio.handbook.instructors import FOR_INSTRUCTORS
from studio.handbook.players import FOR_PLAYERS
from studio.handbook.task import Task

TASKS: tuple[Task, ...] = FOR_PLAYERS + FOR_INSTRUCTORS
BY_SLUG: dict[str, Task] = {task.slug: task for task in TASKS}


def task_on(route: str, *, teaches: bool) -> Task | None:
    """The task of a page, by its route; instructors get their own where both have one."""
    found = [task for task in TASKS if route in task.routes]
    return next((task for task in found if task.teaches == teaches), next(iter(found), None)) if found else None


def found_by(words: str, *, teaches: bool) -> list[Task]:
    """The tasks whose title or text holds every word; those of the reader's own kind first."""
    wanted = words.lower().split()
    found = [task for task in TASKS if all(word in task.words for word in wanted)]
    return sorted(found, key=lambda task: task.teaches != teaches)
