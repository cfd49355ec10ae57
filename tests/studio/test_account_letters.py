"""Letters about accounts: each says in its subject from which programme it comes, in the words of this site."""

from __future__ import annotations

import re

import pytest
from django.test import Client
from django.urls import reverse

from studio.models import Programme
from tests import factories

pytestmark = pytest.mark.django_db


def test_the_letters_of_a_password_reset(mailoutbox) -> None:  # type: ignore[no-untyped-def]
    Programme.objects.create(name="Harbour Jazz")
    user, client = factories.make_user(), Client()
    client.post(reverse("account_reset_password"), {"email": user.email})
    link = re.search(r"https?://[^/]+(/\S+)", mailoutbox[0].body)
    assert link
    form = client.get(link[1], follow=True)
    password = "three calm violet herons"
    client.post(form.redirect_chain[-1][0], {"password1": password, "password2": password}, follow=True)
    assert [letter.subject for letter in mailoutbox] == [
        "Harbour Jazz: choose a new password",
        "Harbour Jazz: your password was changed",
    ]
    assert client.login(email=user.email, password=password) or client.login(username=user.email, password=password)
