"""Who of the programme a roster's rows mean: first by school id, then by e-mail address."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from django.db.models import Q

from studio.models import User
from studio.roster import RosterProblem, RosterRow


@dataclass(frozen=True)
class Known:
    """`users`: by the address of the row, people who are here already. `problems`: rows that mean two people at once, which
    are nobody's until somebody has looked."""

    users: dict[str, User]
    problems: tuple[RosterProblem, ...]

    @property
    def disputed(self) -> frozenset[int]:
        """Lines of the rows that cannot be written."""
        return frozenset(problem.line for problem in self.problems)


class Disputed(Exception):
    """A roster was to be written of which rows mean two people at once."""


def ids_of(rows: Iterable[RosterRow]) -> dict[str, str]:
    """Address → school id, of every row that has one: a person with two chairs may have it in one of them."""
    return {row.email: row.school_id for row in rows if row.school_id}


def known_people(rows: Iterable[RosterRow]) -> Known:
    """One query, whatever the number of rows."""
    rows = tuple(rows)
    ids = ids_of(rows)
    found = User.objects.filter(Q(email__in={row.email for row in rows}) | Q(school_id__in=set(ids.values())))
    by_email, by_id = {user.email: user for user in found}, {user.school_id: user for user in found if user.school_id}
    users: dict[str, User] = {}
    meant: dict[int, str] = {}
    problems = []
    for row in rows:
        number = ids.get(row.email, "")
        here, there = by_id.get(number), by_email.get(row.email)
        if here and there and here.pk != there.pk:
            problems.append(_two(row, number, here, there))
        elif here is None and there is not None and number and there.school_id:
            problems.append(_other(row, number, there))
        elif one := here or there:
            if meant.setdefault(one.pk, row.email) != row.email:
                problems.append(_again(row, one, meant[one.pk]))
            users[row.email] = one
    return Known(users, tuple(problems))


def _two(row: RosterRow, number: str, here: User, there: User) -> RosterProblem:
    message = f"The school id {number} is that of {here.name} ({here.address or 'no address'}), the address {row.email} that of {there.name}."
    return RosterProblem(row.line, message, "Correct one of the two in the row, or on the page of the person.")


def _again(row: RosterRow, one: User, address: str) -> RosterProblem:
    message = f"{row.said} and {address} are both {one.name} here."
    return RosterProblem(row.line, message, "Give all rows of one person the same address.")


def _other(row: RosterRow, number: str, there: User) -> RosterProblem:
    message = f"{row.said} is known here with the school id {there.school_id}, not {number}."
    return RosterProblem(row.line, message, "Correct it in the row, or on the page of the person.")
