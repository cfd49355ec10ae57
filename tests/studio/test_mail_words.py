"""What is said of letters is true: sent when a server took them, otherwise where they lie and how to hand over the links."""

from __future__ import annotations

from pathlib import Path

import pytest
from django.test import Client
from django.urls import reverse

from studio import mail
from studio.jobs import run_job, start_job
from studio.models import Invitation
from tests import factories

pytestmark = pytest.mark.django_db


@pytest.fixture
def director() -> Client:
    client = Client()
    client.force_login(factories.make_director())
    return client


@pytest.fixture
def no_server(settings: object, tmp_path: Path) -> None:
    settings.EMAIL_BACKEND, settings.EMAIL_FILE_PATH = mail.FILES, tmp_path / "letters"  # type: ignore[attr-defined]


def page_of_job(client: Client) -> str:
    owner = factories.make_director()
    factories.make_user("Nils", password="")
    type(owner).objects.filter(name="Nils").update(password="!")
    job = start_job(owner, "invitations")
    run_job.call(job.pk)
    client.force_login(owner)
    return client.get(reverse("studio:job", args=[job.pk])).content.decode()


def test_a_server_took_them() -> None:
    page = page_of_job(Client())
    assert "1 letter sent." in page
    assert Invitation.objects.get().mailed is not None


def test_no_server_took_them(no_server: None) -> None:
    client = Client()
    page = page_of_job(client)
    assert "nothing was sent" in page
    assert "letters</code>" in page
    assert "sent." not in page
    row = Invitation.objects.get()
    assert row.mailed is None
    links = client.get(reverse("studio:open_links")).content.decode()
    assert row.token in links
    assert reverse("studio:open_links") in page


def test_one_person_without_a_server(director: Client, no_server: None) -> None:
    user = factories.make_user("Nils")
    said = director.post(reverse("studio:invite", args=[user.pk]), follow=True).content.decode()
    assert "nothing was sent" in said
    assert "it was not mailed" in said
    assert user.invitations.get().token in said


def test_a_forgotten_password_without_a_server(no_server: None) -> None:
    said = Client().get(reverse("account_reset_password_done")).content.decode()
    assert "Ask the director" in said
    assert "on its way" not in said
