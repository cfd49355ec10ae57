"""From a roster that was read to people and chairs: first the plan that is shown, then, on demand, the writing."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from django.contrib.auth.hashers import make_password
from django.db import transaction

from studio.audit import record_each
from studio.happenings import Kind, happened_each
from studio.models import AuditEntry, Ensemble, Membership, Term, User
from studio.roster import RosterRow


@dataclass(frozen=True)
class Planned:
    """One row and what writing it would do, in words for the preview; no words: nothing changes."""

    row: RosterRow
    changes: tuple[str, ...]

    @property
    def is_new_person(self) -> bool:
        return "new person" in self.changes

    @property
    def is_new_chair(self) -> bool:
        return "new chair" in self.changes


def plan(rows: Iterable[RosterRow], term: Term) -> tuple[Planned, ...]:
    """What `write` would do now. Three queries, whatever the number of rows."""
    rows = tuple(rows)
    users = _users(rows)
    chairs = _chairs(rows, term)
    return tuple(
        Planned(row, _changes(row, users.get(row.email), chairs.get((row.email, row.ensemble)))) for row in rows
    )


def _users(rows: tuple[RosterRow, ...]) -> dict[str, User]:
    return {user.email: user for user in User.objects.filter(email__in={row.email for row in rows})}


def _chairs(rows: tuple[RosterRow, ...], term: Term) -> dict[tuple[str, str], Membership]:
    found = Membership.objects.filter(ensemble__term=term, user__email__in={row.email for row in rows})
    return {(chair.user.email, chair.ensemble.name): chair for chair in found.select_related("user", "ensemble")}


def _changes(row: RosterRow, user: User | None, chair: Membership | None) -> tuple[str, ...]:
    changes = []
    if user is None:
        changes.append("new person")
    elif user.name != row.name:
        changes.append(f"name was {user.name}")
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
    """Make the people and chairs of the rows, change what differs; returns the new people. Repeating it changes nothing."""
    rows = tuple(rows)
    with transaction.atomic():
        Term.objects.select_for_update().get(pk=term.pk)  # one roster at a time
        before = _users(rows)
        first = {row.email: row for row in reversed(rows)}
        nobody = make_password(None)
        new = [
            User(email=email, name=row.name, instrument=row.instrument, password=f"{nobody}{number}")
            for number, (email, row) in enumerate(first.items())
            if email not in before
        ]
        User.objects.bulk_create(new)
        record_each(AuditEntry.Kind.ROLE, [(user, "Added to the programme by the roster") for user in new])
        renamed = [user for email, user in before.items() if _take_over(user, first[email])]
        User.objects.bulk_update(renamed, ["name", "instrument"])
        _write_chairs(rows, term)
    return new


def _take_over(user: User, row: RosterRow) -> bool:
    """Put the roster's name on the account, and the instrument if there is none; True if that changed anything."""
    before = (user.name, user.instrument)
    user.name, user.instrument = row.name, user.instrument or row.instrument
    return before != (user.name, user.instrument)


def _write_chairs(rows: tuple[RosterRow, ...], term: Term) -> None:
    users, chairs = _users(rows), _chairs(rows, term)
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
