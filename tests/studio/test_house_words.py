"""No form speaks in the framework's words."""

from __future__ import annotations

import importlib
import re
from collections.abc import Iterator
from typing import Any

import pytest
from django import forms
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import IntegrityError, transaction
from django.forms.forms import BaseForm
from django.urls import reverse

from studio.forms import EnsembleForm, NewPersonForm, TermForm
from studio.models import Ensemble, Term, User
from tests import factories

MODULES = (
    "studio.forms",
    "studio.entry.forms",
    "studio.entry.library",
    "tunes.forms",
    "tunes.by_ear.views",
    "tunes.recordings.forms",
    "tunes.checks.forms",
    "tunes.lead_sheets.forms",
    "drills.forms",
    "drills.views.packs",
    "assessments.forms",
    "api.forms",
)
THEIRS = re.compile(
    r"This field|Enter a|Enter the|Ensure |Select a valid|submitted|Null characters|Constraint|already exists|is violated|valid value"
)
RUBBISH: tuple[Any, ...] = ("", "x" * 5000, "-7", "1e9", "1.5.5", "9" * 20, "a\0b", "nobody")
SEVERAL: tuple[Any, ...] = (["nobody", "-1"], [])


def kinds(base: type[BaseForm] = BaseForm) -> Iterator[type[BaseForm]]:
    for kind in base.__subclasses__():
        if kind.__module__.partition(".")[0] in ("studio", "tunes", "drills", "assessments", "api"):
            yield kind
        yield from kinds(kind)


def all_fields() -> list[Any]:
    for module in MODULES:
        importlib.import_module(module)
    found = {(f"{kind.__module__}.{kind.__name__}.{name}", kind, name) for kind in kinds() for name in kind.base_fields}  # type: ignore[attr-defined]
    return [
        pytest.param(kind.base_fields[name], id=label) for label, kind, name in sorted(found, key=lambda row: row[0])
    ]  # type: ignore[attr-defined]


@pytest.mark.django_db
@pytest.mark.parametrize("field", all_fields())
def test_a_field_complains_in_the_words_of_the_house(field: forms.Field) -> None:
    said = []
    values = RUBBISH
    if isinstance(field, forms.FileField):
        values = (*RUBBISH, SimpleUploadedFile("empty.wav", b""))
    elif isinstance(field, forms.MultipleChoiceField | forms.ModelMultipleChoiceField):
        values = (*RUBBISH, *SEVERAL)
    for value in values:
        try:
            if isinstance(field, forms.ModelChoiceField) and field.queryset is None:
                continue
            field.clean(value, None) if isinstance(field, forms.FileField) else field.clean(value)  # type: ignore[call-arg]
        except forms.ValidationError as error:
            said += error.messages
    assert [words for words in said if THEIRS.search(words)] == []


@pytest.mark.django_db
@pytest.mark.parametrize("email", ["taken@example.org", "Taken@Example.org"])
def test_a_taken_address_is_told_once(email: str) -> None:
    director = factories.make_director()
    factories.make_user(email="taken@example.org")
    form = NewPersonForm({"name": "New", "email": email}, by=director)
    assert form.errors == {"email": ["Somebody has this address already; look among the people."]}


@pytest.mark.django_db
def test_the_database_still_holds_its_rule() -> None:
    User.objects.create(email="a@example.org", name="A")
    with pytest.raises(IntegrityError), transaction.atomic():
        User.objects.create(email="A@example.org", name="B")


@pytest.mark.django_db
def test_what_may_stand_once_only() -> None:
    ensemble = factories.make_ensemble("Octet")
    twice = EnsembleForm({"name": "Octet", "term": ensemble.term_id}, instance=Ensemble())
    term = TermForm({"name": ensemble.term.name, "starts": "2030-01-01", "ends": "2030-02-01"}, instance=Term())
    said = [message for form in (twice, term) for messages in form.errors.values() for message in messages]
    assert len(said) == 2
    assert [words for words in said if THEIRS.search(words)] == []


@pytest.mark.django_db
def test_the_page_says_it_once(client: Any) -> None:
    client.force_login(factories.make_director())
    factories.make_user(email="taken@example.org")
    page = client.post(reverse("studio:person_new"), {"name": "New", "email": "taken@example.org"}).content.decode()
    assert "Constraint" not in page
    assert page.count("Somebody has this address already") == 1
