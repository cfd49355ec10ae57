"""What to do today, in the minutes a player has. Pure: no database, no clock of its own.

Each rule is a row of `RULES` with its reason; `plan` follows them in that order. Nothing is counted up: a day without
practice leaves no trace here, because work is ordered by its own date and never by the days that were missed.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, field, replace

HEAR, SING, ANSWER, PLAY, BRING_BACK = "hear", "sing", "answer", "play", "bring back"
VERBS = (HEAR, SING, ANSWER, PLAY, BRING_BACK)
WORDS = {HEAR: "Hear", SING: "Sing", ANSWER: "Answer", PLAY: "Play", BRING_BACK: "Bring back"}
CHOICES = (10, 20, 40)  # minutes
SOON = 7  # days: what is due later waits while something else is open
FADES = 21  # days after which a tune that was learned and not touched since is brought back
WEEK = 7
MOST_OF_A_KIND = 3


@dataclass(frozen=True)
class Rule:
    """One rule of the plan: what it does, and why."""

    id: str
    says: str
    why: str


RULES = (
    Rule("overdue", "What is overdue comes first and is never dropped.", "Somebody waits for it."),
    Rule("due", "Then what is due within a week, the earliest date first.", "So nothing has to be done the night before."),
    Rule("missed", "Bars that were missed come before bars that went well.", "They are where the work is."),
    Rule(
        "fades",
        "What was known and has not been touched for long comes back before it is gone.",
        "Recalling something shortly before it is forgotten keeps it longest (Cepeda et al., Psychological Bulletin 132, "
        "2006).",
    ),
    Rule(
        "mixed",
        "Each kind of work comes once before any comes twice, and tunes take turns.",
        "Mixed practice is kept better than blocked practice in several studies (Carter and Grahn, Frontiers in Psychology "
        "7:1251, 2016), though not in all.",
    ),
    Rule("order", "Hear, sing, answer, play, bring back: always in that order.", "The ear leads the hand; common practice, no source."),
    Rule("whole", "A phrase is never cut.", "Music is remembered by phrases; common practice, no source."),
    Rule("fits", "What does not fit into the minutes waits until tomorrow.", "Nothing is added up: a missed day costs nothing."),
)  # fmt: skip


@dataclass(frozen=True)
class Work:
    """One thing that could be done. `name` tells it apart from day to day; `due` is a day or None; `weak` says that its bars
    were missed; `rest` are days since it was last touched, where that matters. `url` leads to it; `posts` says that it is
    begun by a form."""

    name: str
    verb: str
    tune: int
    title: str
    what: str
    why: str
    minutes: int
    url: str
    due: dt.date | None = None
    weak: bool = False
    rest: int | None = None
    posts: bool = False
    fields: tuple[tuple[str, str], ...] = ()

    @property
    def word(self) -> str:
        return WORDS[self.verb]


@dataclass(frozen=True)
class Planned:
    """One line of the plan. `overdue` and `days` (to its date, negative when it is past) are worked out for the day."""

    work: Work
    overdue: bool = False
    days: int | None = None
    rule: str = ""


@dataclass(frozen=True)
class Plan:
    """The lines of a day in their order, their minutes, and how much waits."""

    lines: tuple[Planned, ...] = ()
    left: int = 0
    out: tuple[Work, ...] = field(default=())  # left out by the player until tomorrow

    @property
    def minutes(self) -> int:
        return sum(line.work.minutes for line in self.lines)


def plan(works: Iterable[Work], minutes: int, today: dt.date, left_out: Collection[str] = ()) -> Plan:
    """The plan of one day.

    >>> day = dt.date(2030, 3, 4)
    >>> late = Work("a", ANSWER, 1, "One", "", "", 8, "", due=dt.date(2030, 3, 2))
    >>> new = Work("b", HEAR, 2, "Two", "", "", 4, "")
    >>> [line.work.name for line in plan([new, late], 10, day).lines], plan([new, late], 12, day).minutes
    (['a'], 12)
    """
    rows = list({work.name: work for work in works}.values())
    waiting = sorted((w for w in rows if w.name not in left_out), key=lambda work: _rank(work, today))
    chosen = [work for work in waiting if _overdue(work, today)]
    spent = sum(work.minutes for work in chosen)
    rest = [work for work in waiting if work not in chosen]
    while rest:
        taken = _next(rest, chosen, minutes - spent)
        if taken is None:
            break
        rest.remove(taken)
        chosen.append(taken)
        spent += taken.minutes
    lines = sorted((_planned(work, today) for work in chosen), key=lambda line: VERBS.index(line.work.verb))
    return Plan(tuple(lines), len(rest), tuple(work for work in rows if work.name in left_out))


def _next(rest: Sequence[Work], chosen: Sequence[Work], minutes: int) -> Work | None:
    """The next thing that fits: of the kind that has come least, of a tune that has not come yet, in order of rank."""
    fitting = [work for work in rest if work.minutes <= minutes and _count(chosen, work.verb) < MOST_OF_A_KIND]
    tunes = {work.tune for work in chosen}
    return min(
        fitting, key=lambda work: (_count(chosen, work.verb), work.tune in tunes, rest.index(work)), default=None
    )


def _count(chosen: Sequence[Work], verb: str) -> int:
    return sum(work.verb == verb for work in chosen)


def _overdue(work: Work, today: dt.date) -> bool:
    return work.due is not None and work.due < today


def _rank(work: Work, today: dt.date) -> tuple[object, ...]:
    rule = _rule(work, today)
    order = ("overdue", "due", "missed", "fades", "")
    return (order.index(rule), work.due or dt.date.max, -(work.rest or 0), work.title, work.name)


def _rule(work: Work, today: dt.date) -> str:
    """Which rule brings a thing up."""
    if _overdue(work, today):
        return "overdue"
    if work.due is not None and (work.due - today).days <= SOON:
        return "due"
    if work.weak:
        return "missed"
    return "fades" if work.rest is not None and work.rest >= 0 else ""


def _planned(work: Work, today: dt.date) -> Planned:
    days = (work.due - today).days if work.due else None
    return Planned(work, _overdue(work, today), days, _rule(work, today))


def until_tomorrow(left_out: dict[str, str], today: dt.date) -> dict[str, str]:
    """What a player left out and still waits: rows whose day has not come yet.

    >>> until_tomorrow({"a": "2030-03-05", "b": "2030-03-04"}, dt.date(2030, 3, 4))
    {'a': '2030-03-05'}
    """
    return {name: day for name, day in left_out.items() if day > today.isoformat()}


@dataclass(frozen=True)
class Day:
    """One day of the week ahead, with what falls on it: (text, detail)."""

    date: dt.date
    lines: tuple[tuple[str, str], ...] = ()


def week(
    falls: Iterable[tuple[dt.date, str, str]], today: dt.date
) -> tuple[tuple[Day, ...], tuple[tuple[dt.date, str], ...]]:
    """Seven days from today with what falls on each, and what comes after them, the nearest first (two at most)."""
    rows = sorted(falls)
    days = tuple(
        Day(day, tuple((text, detail) for date, text, detail in rows if date == day))
        for day in (today + dt.timedelta(days=n) for n in range(WEEK))
    )
    after = [(date, text) for date, text, _ in rows if date >= today + dt.timedelta(days=WEEK)]
    return days, tuple(after[:2])


def whole_phrases(first: int, last: int, phrases: Sequence[tuple[int, int]], most: int = 16) -> tuple[int, int]:
    """Bars widened to whole phrases (or sections): those that they touch, as long as that stays below `most` bars.

    >>> whole_phrases(3, 6, [(1, 4), (5, 8), (9, 12)])
    (1, 8)
    >>> whole_phrases(3, 3, [])
    (3, 3)
    """
    touched = [phrase for phrase in phrases if phrase[0] <= last and phrase[1] >= first]
    if not touched:
        return first, last
    wide = min(first, touched[0][0]), max(last, touched[-1][1])
    return wide if wide[1] - wide[0] < most else (first, last)


def with_minutes(work: Work, minutes: int) -> Work:
    """The same work in other minutes."""
    return replace(work, minutes=max(1, minutes))
