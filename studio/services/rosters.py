"""From a roster that was read to people and chairs: first the plan that is shown, then, on demand, the writing."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from django.contrib.auth.hashers import make_password
from django.db import transaction

from studio import addresses
from studio.audit import record_each
from studio.happenings import Kind, happened_each
from studio.models import AuditEntry, Ensemble, Membership, Term, User
from studio.roster import RosterRow
from studio.selectors import waiting_people
from studio.services.roster_people import Disputed, ids_of, known_people


@dataclass(frozen=True)
class Planned:
    """One row and what writing it would do, in words for the preview; no words: nothing changes."""

    row: RosterRow
    changes: tuple[str, ...]
    namesake: str = ""  # address, or school id, of somebody else of that name

    @property
    def is_new_person(self) -> bool:
        return "new person" in self.changes

    @property
    def is_new_chair(self) -> bool:
        return "new chair" in self.changes


def plan(rows: Iterable[RosterRow], term: Term) -> tuple[Planned, ...]:
    """What `write` would do now. Three queries, whatever the number of rows. A new person with the name of somebody who is
    here, and whom no row means, is told as such: often the same one with another address."""
    rows = tuple(rows)
    users, ids = known_people(rows).users, ids_of(rows)
    chairs, same = _chairs(users, term), _namesakes(rows, users)
    return tuple(
        Planned(
            row,
            _changes(row, ids.get(row.email, ""), users.get(row.email), chairs.get((row.email, row.ensemble))),
            "" if row.email in users else same.get(row.name, ""),
        )
        for row in rows
    )


def never_invited(rows: Iterable[RosterRow]) -> list[User]:
    """The people of the rows who are here, have no account yet and no invitation: two queries."""
    known = {user.pk for user in known_people(rows).users.values()}
    return list(waiting_people().filter(pk__in=known, invitations=None))


def _namesakes(rows: tuple[RosterRow, ...], users: dict[str, User]) -> dict[str, str]:
    """Name of a new person → the address of somebody of that name whom no row means."""
    new = {row.name for row in rows if row.email not in users}
    meant = {user.pk for user in users.values()}
    found = User.objects.filter(name__in=new, erased=None).exclude(pk__in=meant).order_by("-pk")
    return {user.name: user.address or f"the school id {user.school_id}" for user in found}


def _chairs(users: dict[str, User], term: Term) -> dict[tuple[str, str], Membership]:
    """(Address of the row, ensemble) → chair."""
    address = {user.pk: email for email, user in users.items()}
    found = Membership.objects.filter(ensemble__term=term, user__in=address)
    return {(address[chair.user_id], chair.ensemble.name): chair for chair in found.select_related("user", "ensemble")}


def _changes(row: RosterRow, number: str, user: User | None, chair: Membership | None) -> tuple[str, ...]:
    changes = []
    if user is None:
        changes.append("new person")
        if not row.address:
            changes.append("no address: no invitation yet")
    else:
        if user.name != row.name:
            changes.append(f"name was {user.name}")
        if row.address and user.email != row.address:
            changes.append(f"address was {user.address}" if user.address else "address added")
        if number and user.school_id != number:
            changes.append("school id added")
    if user is not None and not user.is_active:
        changes.append("account is closed and stays closed")
    if chair is None:
        changes.append("new chair")
    else:
        if chair.role != row.role:
            changes.append(f"was {chair.get_role_display().lower()}")
        if row.instrument and chair.instrument != row.instrument:
            changes.append(f"played {chair.instrument_name.lower()}" if chair.instrument else "instrument added")
        elif row.doubles and list(row.doubles) != chair.doubles:
            changes.append("doubles " + ("changed" if chair.doubles else "added"))
    return tuple(changes)


def write(rows: Iterable[RosterRow], term: Term) -> list[User]:
    """Make the people and chairs of the rows, change what differs; returns the new people. Repeating it changes nothing.
    Raises `Disputed` when a row means two people (`known_people` says which)."""
    rows = tuple(rows)
    with transaction.atomic():
        Term.objects.select_for_update().get(pk=term.pk)  # one roster at a time
        known, ids = known_people(rows), ids_of(rows)
        if known.problems:
            raise Disputed
        before = known.users
        first = {row.email: row for row in reversed(rows)}
        nobody = make_password(None)
        new = [
            User(
                email=row.address or addresses.unknown(),
                name=row.name,
                school_id=ids.get(email, ""),
                instrument=row.instrument,
                password=f"{nobody}{number}",
            )
            for number, (email, row) in enumerate(first.items())
            if email not in before
        ]
        User.objects.bulk_create(new)
        record_each(AuditEntry.Kind.ROLE, [(user, "Added to the programme by the roster") for user in new])
        moved = [
            (user, "E-mail address changed by the roster")
            for email, user in before.items()
            if first[email].address and user.email != email
        ]
        record_each(AuditEntry.Kind.ROLE, moved)
        changed = [user for email, user in before.items() if _take_over(user, first[email], ids.get(email, ""))]
        User.objects.bulk_update(changed, ["name", "email", "school_id", "instrument"])
        _write_chairs(rows, term)
    return new


def _take_over(user: User, row: RosterRow, number: str) -> bool:
    """Put the roster's name, address and school id on the account, and the instrument if there is none; True if that
    changed anything."""
    before = (user.name, user.email, user.school_id, user.instrument)
    user.name, user.email = row.name, row.address or user.email
    user.school_id, user.instrument = number or user.school_id, user.instrument or row.instrument
    return before != (user.name, user.email, user.school_id, user.instrument)


def _write_chairs(rows: tuple[RosterRow, ...], term: Term) -> None:
    users = known_people(rows).users
    chairs = _chairs(users, term)
    ensembles = {ensemble.name: ensemble for ensemble in Ensemble.objects.filter(term=term)}
    new, changed, said = [], [], []
    for row in rows:
        chair = chairs.get((row.email, row.ensemble))
        if chair is None:
            new.append(
                Membership(
                    user=users[row.email],
                    ensemble=ensembles[row.ensemble],
                    role=row.role,
                    instrument=row.instrument,
                    doubles=list(row.doubles),
                )
            )
            said.append(
                (new[-1].user, f"Chair given by the roster: {new[-1].get_role_display().lower()} in {row.ensemble}")
            )
            continue
        before = (chair.role, chair.instrument, chair.doubles)
        chair.role, chair.instrument = row.role, row.instrument or chair.instrument
        chair.doubles = list(row.doubles) or chair.doubles
        if before != (chair.role, chair.instrument, chair.doubles):
            changed.append(chair)
        if before[0] != chair.role:
            said.append(
                (chair.user, f"Role changed by the roster: {chair.get_role_display().lower()} in {row.ensemble}")
            )
    record_each(AuditEntry.Kind.ROLE, said)
    Membership.objects.bulk_create(new)
    Membership.objects.bulk_update(changed, ["role", "instrument", "doubles"])
    touched = sorted({chair.ensemble_id for chair in (*new, *changed)})
    happened_each(Kind.ROSTER, [{"ensemble": ensemble} for ensemble in touched])
