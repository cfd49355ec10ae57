"""The end of a person: their own things are deleted, what counts for the programme stays under nobody's name.

The row of the account stays as a nameless one, so that marks, sign-offs and the statistics made of them keep what they point
at. It cannot sign in, has no address, and nothing leads back to the person.
"""

from __future__ import annotations

import operator
import re
from collections.abc import Iterator
from functools import partial, reduce
from typing import Any

from django.apps import apps
from django.contrib.sessions.models import Session
from django.db import models, transaction
from django.utils import timezone

from studio.audit import record
from studio.models import AuditEntry, Programme, User
from studio.privacy.declared import NAMES_IN, TABLE, Declared, Fate
from studio.services.roles import take_chair

NOBODY = "somebody"


class CannotErase(ValueError):
    """The person cannot be erased now; the message says why and what to do first."""


def former_name(person: User) -> str:
    """What stands in place of a name."""
    return f"Former member {person.pk}"


@transaction.atomic
def erase(*, person_id: int, by: User | None) -> None:
    """Erase a person; for good. `by` None: the programme's rule. Raises `CannotErase`; twice is the same as once."""
    person = User.objects.select_for_update().get(pk=person_id)
    if person.erased:
        return
    if by is not None and by.pk == person.pk:
        raise CannotErase("You cannot erase yourself: another director can.")
    if person.is_director:
        raise CannotErase("A director is not erased: take the director's rights away first.")
    name, email = person.name, person.email
    _leave(person, by)
    for row in TABLE:
        _apply(row, person)
    _forget_names(name, email)
    _sign_out(person)
    _nobody(person)
    years = Programme.current().keep_years
    record(
        AuditEntry.Kind.ERASURE,
        "Erased" if by else f"Erased by the rule, {years} years after leaving",
        by=by,
        about=person,
    )


def _leave(person: User, by: User | None) -> None:
    """Chairs of terms that have not ended are given up: nobody waits for work of nobody, and the seat is free. Those of ended
    terms stay, for their statistics."""
    for chair in person.memberships.filter(ensemble__term__ends__gte=timezone.localdate()).select_related(
        "ensemble__term"
    ):
        take_chair(chair=chair, by=by)


def _apply(row: Declared, person: User) -> None:
    if row.fate is Fate.KEEP:
        return
    rows = row.rows(person)
    for storage, name in list(_files(row, rows)):
        transaction.on_commit(partial(storage.delete, name))
    if row.fate is Fate.DELETE:
        rows.delete()
    elif row.blank:
        rows.update(**{name: _empty(row.table._meta.get_field(name)) for name in row.blank})


def _files(row: Declared, rows: Any) -> Iterator[tuple[Any, str]]:
    names = [name for name in row.files if row.fate is Fate.DELETE or name in row.blank]
    if names:
        for found in rows.only("pk", *names):
            for file in (getattr(found, name) for name in names):
                if file:
                    yield file.storage, file.name


def _empty(field: Any) -> Any:
    """What an emptied column holds."""
    if field.null:
        return None
    return field.get_default() if isinstance(field, models.JSONField) else ""


def _forget_names(*words: str) -> None:
    """Where the site wrote the name or address itself."""
    whole = re.compile("|".join(rf"(?<!\w){re.escape(word)}(?!\w)" for word in words if word))
    for model, column in NAMES_IN:
        rows = apps.get_model(model)._base_manager
        wanted = reduce(operator.or_, (models.Q(**{f"{column}__contains": word}) for word in words if word))
        for pk, text in list(rows.filter(wanted).values_list("pk", column)):
            rows.filter(pk=pk).update(**{column: whole.sub(NOBODY, text)})


def _sign_out(person: User) -> None:
    for session in Session.objects.iterator():
        if session.get_decoded().get("_auth_user_id") == str(person.pk):
            session.delete()


def _nobody(person: User) -> None:
    person.name, person.email = former_name(person), f"former-{person.pk}@nobody.invalid"
    person.instrument, person.theme, person.school_id = "", "", ""
    person.is_active = person.is_staff = person.is_superuser = person.wants_digest = False
    person.second_factor, person.factor_asked = False, None
    person.last_login, person.digest_sent, person.erased = None, None, timezone.now()
    person.set_unusable_password()
    person.save()
