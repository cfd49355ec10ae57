"""Set-up, invitations, people, terms, ensembles, account: each page with what goes wrong."""

from __future__ import annotations

import datetime as dt
import re

import pytest
from django.test import Client
from django.utils import timezone

from studio.models import Ensemble, Invitation, Membership, Programme, Term, User
from studio.services.invitations import InvitationClosed, accept, invite
from studio.services.setup import SetupError, set_up, setup_path
from tests import factories

pytestmark = pytest.mark.django_db
SETUP = {
    "programme_name": "North Hall",
    "time_zone": "Europe/Oslo",
    "name": "Dora",
    "email": "Dora@North.example",
    "password": "three plain words",
}


@pytest.fixture
def director(client: Client) -> User:
    user = factories.make_director("Dora Director")
    client.force_login(user)
    return user


# --- set-up


def test_setup_makes_the_programme_and_its_director_once(client: Client) -> None:
    path = setup_path()
    assert path
    assert client.get(path).status_code == 200
    assert client.post(path, SETUP).status_code == 302
    director = User.objects.get()
    assert (director.email, director.is_director, Programme.current().name) == (
        "dora@north.example",
        True,
        "North Hall",
    )
    assert client.get("/people/").status_code == 200  # signed in
    assert setup_path() is None
    assert client.get(path).status_code == 404
    assert client.post(path, SETUP).status_code == 404


def test_a_wrong_setup_link_is_nothing(client: Client) -> None:
    setup_path()
    assert client.get("/setup/wrong/").status_code == 404


@pytest.mark.parametrize(
    ("field", "value", "words"),
    [
        ("password", "short", "at least 10 characters"),
        ("password", "password123", "too common"),
        ("email", "dora", "Write a whole address"),
        ("time_zone", "Moon/Base", "is not in it"),
        ("name", "", "required"),
    ],
)
def test_setup_says_what_is_wrong_and_keeps_the_rest(client: Client, field: str, value: str, words: str) -> None:
    path = setup_path() or ""
    response = client.post(path, SETUP | {field: value})
    assert response.status_code == 422
    assert words in response.content.decode()
    assert "North Hall" in response.content.decode()
    assert setup_path() == path


def test_two_people_at_the_setup_link_make_one_director() -> None:
    token = (setup_path() or "").split("/")[2]
    data = {"programme_name": "A", "time_zone": "UTC", "name": "A", "password": "three plain words"}
    set_up(token=token, email="a@x.example", **data)
    with pytest.raises(SetupError):
        set_up(token=token, email="b@x.example", **data)
    assert User.objects.count() == 1


# --- invitations


def test_an_invitation_is_mailed_and_followed_once(client: Client, director: User, mailoutbox) -> None:  # type: ignore[no-untyped-def]
    user = factories.make_user("Nils", password=None)
    client.post(f"/people/{user.pk}/invite")
    address = re.search(r"http://localhost:8000(/invitation/\S+)", mailoutbox[0].body)
    assert address
    guest = Client()
    assert guest.get(address[1]).status_code == 200
    assert guest.post(address[1], {"password": "short"}).status_code == 422
    response = guest.post(address[1], {"password": "three plain words"})
    assert response.headers["Location"] == "/me/"
    assert guest.get("/me/").status_code == 200
    assert Client().get(address[1]).status_code == 410
    user.refresh_from_db()
    assert user.check_password("three plain words")


@pytest.mark.parametrize(
    "change",
    [
        lambda invitation: Invitation.objects.update(expires=timezone.now() - dt.timedelta(seconds=1)),
        lambda invitation: Invitation.objects.update(used=timezone.now()),
        lambda invitation: invite(invitation.user, by=None),
        lambda invitation: User.objects.filter(pk=invitation.user.pk).update(is_active=False),
    ],
    ids=["expired", "used", "replaced", "closed account"],
)
def test_dead_links(change) -> None:  # type: ignore[no-untyped-def]
    invitation = invite(factories.make_user(password=None), by=None)
    change(invitation)
    with pytest.raises(InvitationClosed):
        accept(invitation.token, password="three plain words")


def test_a_refused_letter_is_said_and_the_link_shown(
    client: Client, director: User, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(self: object) -> int:
        raise OSError("no mail server")

    monkeypatch.setattr("django.core.mail.EmailMessage.send", refuse)
    user = factories.make_user("Nils", password=None)
    page = client.post(f"/people/{user.pk}/invite", follow=True).content.decode()
    assert "did not take the letter" in page
    assert Invitation.objects.get().token in page


def test_everyone_waiting_is_invited_in_the_background(client: Client, director: User, mailoutbox) -> None:  # type: ignore[no-untyped-def]
    for _ in range(3):
        factories.make_user(password=None)
    page = client.post("/people/invite", follow=True).content.decode()
    assert "3 letters sent" in page
    assert len(mailoutbox) == 3


# --- people


def test_people_are_searched(client: Client, director: User) -> None:
    combo = factories.make_ensemble("Tuesday Combo")
    factories.make_player(combo, "Ada Quill")
    factories.make_user("Bo Quist")

    def names(query: str) -> set[str]:
        page = client.get("/people/?" + query).content.decode()
        return set(re.findall(r'<th scope="row"><a [^>]+>([^<]+)</a>', page))

    assert names("q=quill") == {"Ada Quill"}
    assert names("q=tuesday+ada") == {"Ada Quill"}
    assert names("q=bo") == {"Bo Quist", "Ada Quill"}  # "Combo" holds "bo"
    assert names("q=nobody") == set()
    assert names("show=waiting") == set()


def test_people_take_the_same_queries_with_10_and_400(
    client: Client, director: User, django_assert_max_num_queries
) -> None:  # type: ignore[no-untyped-def]
    combo = factories.make_ensemble("Combo")
    counts = []
    for size in (10, 400):
        for _ in range(size - Membership.objects.count()):
            factories.make_player(combo)
        for path in (
            "/people/",
            f"/ensembles/{combo.pk}/",
            f"/people/terms/{combo.term_id}/",
            "/people/terms/",
            "/me/",
            "/notices/",
            "/ensembles/",
        ):
            with django_assert_max_num_queries(15) as queries:
                assert client.get(path).status_code == 200
            counts.append((path, len(queries)))
    half = len(counts) // 2
    assert counts[:half] == counts[half:]


def test_a_person_is_added_by_hand(client: Client, director: User) -> None:
    client.post("/people/new/", {"name": "New Person", "email": "NEW@x.example", "instrument": "flute"})
    user = User.objects.get(email="new@x.example")
    assert (user.name, user.instrument, user.has_usable_password()) == ("New Person", "flute", False)
    again = client.post("/people/new/", {"name": "Other", "email": "new@X.example"})
    assert again.status_code == 422
    assert "has this address already" in again.content.decode()


def test_a_director_cannot_lock_themselves_out(client: Client, director: User) -> None:
    data = {"name": "Dora", "email": director.email, "is_active": "on"}
    response = client.post(f"/people/{director.pk}/", data)
    assert response.status_code == 422
    director.refresh_from_db()
    assert director.is_director


def test_a_closed_account_cannot_sign_in(client: Client, director: User) -> None:
    user = factories.make_user()
    client.post(f"/people/{user.pk}/", {"name": user.name, "email": user.email})
    other = Client()
    other.post("/account/login/", {"login": user.email, "password": factories.PASSWORD})
    assert other.get("/me/").status_code == 302


# --- terms and ensembles


def test_term_and_ensemble(client: Client, director: User) -> None:
    client.post("/people/terms/", {"name": "Spring", "starts": "2030-01-01", "ends": "2030-05-01"})
    term = Term.objects.get()
    client.post("/ensembles/new/", {"name": "Combo", "term": term.pk})
    combo = Ensemble.objects.get()
    user = factories.make_user("Ada Quill")
    client.post(f"/ensembles/{combo.pk}/chairs", {"person": "ada quill", "role": "player", "instrument": "flute"})
    chair = Membership.objects.get()
    assert (chair.user, chair.instrument) == (user, "flute")
    client.post(f"/ensembles/{combo.pk}/chairs/{chair.pk}/remove")
    assert not Membership.objects.exists()
    assert User.objects.filter(pk=user.pk).exists()


def test_a_term_cannot_end_before_it_starts(client: Client, director: User) -> None:
    response = client.post("/people/terms/", {"name": "Odd", "starts": "2030-05-01", "ends": "2030-01-01"})
    assert response.status_code == 422
    assert "lies before the first (1 May 2030)" in response.content.decode()


@pytest.mark.parametrize(
    ("person", "words"),
    [
        ("nobody@x.example", "Nobody in the programme"),
        ("Quill", "Several people fit"),
        ("Bo Quist", "has a chair in Combo already"),
        ("", "required"),
    ],
)
def test_a_chair_for_whom(client: Client, director: User, person: str, words: str) -> None:
    combo = factories.make_ensemble("Combo")
    factories.make_player(combo, "Bo Quist")
    factories.make_user("Ada Quill")
    factories.make_user("Ann Quill")
    response = client.post(f"/ensembles/{combo.pk}/chairs", {"person": person, "role": "player"})
    assert response.status_code == 422
    assert words in response.content.decode()


# --- account, theme, passwords


def test_the_account_page_saves(client: Client) -> None:
    user = factories.make_user("Ada")
    client.force_login(user)
    client.post("/me/", {"name": "Ada Quill", "instrument": "trumpet", "theme": "dark"})
    user.refresh_from_db()
    assert (user.name, user.instrument, user.theme, user.wants_digest) == ("Ada Quill", "trumpet", "dark", False)
    assert client.post("/me/", {"name": "Ada", "instrument": "kazoo"}).status_code == 422
    assert client.post("/me/", {"name": "Ada", "is_director": "on"}).status_code == 302
    user.refresh_from_db()
    assert not user.is_director


def test_a_visitor_keeps_the_theme_in_a_cookie(client: Client) -> None:
    client.post("/theme", {"theme": "dark", "next": "https://elsewhere.example/"})
    assert 'data-theme="dark"' in client.get("/account/login/").content.decode()
    assert client.post("/theme", {"theme": "dark", "next": "https://elsewhere.example/"}).headers["Location"] == "/"


def test_a_password_is_reset_by_letter(client: Client, mailoutbox) -> None:  # type: ignore[no-untyped-def]
    user = factories.make_user("Ada")
    client.post("/account/password/reset/", {"email": user.email})
    address = re.search(r"http://\S+(/account/password/reset/\S+)", mailoutbox[0].body)
    assert address
    page = client.get(address[1], follow=True)
    form = page.request["PATH_INFO"]
    client.post(form, {"password1": "other plain words", "password2": "other plain words"})
    user.refresh_from_db()
    assert user.check_password("other plain words")


def test_a_reset_for_an_unknown_address_tells_nothing_and_mails_nothing(client: Client, mailoutbox) -> None:  # type: ignore[no-untyped-def]
    response = client.post("/account/password/reset/", {"email": "nobody@x.example"}, follow=True)
    assert "If an account has that address" in response.content.decode()
    assert mailoutbox == []


def test_forty_people_behind_one_address_may_sign_in_at_once() -> None:
    people = [factories.make_user() for _ in range(40)]
    for user in people:
        response = Client().post("/account/login/", {"login": user.email, "password": factories.PASSWORD})
        assert response.status_code == 302, response.content.decode()


def test_guessing_at_one_account_is_stopped() -> None:
    user = factories.make_user()
    answers = [
        Client().post("/account/login/", {"login": user.email, "password": f"wrong {number}"}).content.decode()
        for number in range(7)
    ]
    assert "Too many wrong passwords from here" in answers[-1]


@pytest.mark.parametrize("part", ["", "/people/roster/", "/people/99999/", "/ensembles/99999/", "/people/terms/99999/"])
def test_foreign_and_missing_things_answer_404_to_the_director(client: Client, director: User, part: str) -> None:
    if part.endswith("99999/"):
        assert client.get(part).status_code == 404
    else:
        assert client.get(part or "/").status_code == 302


@pytest.mark.parametrize(
    ("sent", "status", "kept"),
    [
        ({"role": "player", "instrument": "alto-sax"}, 302, ("player", "alto-sax")),
        ({"role": "instructor", "instrument": ""}, 302, ("instructor", "")),
        ({"role": "player", "instrument": "kazoo"}, 422, ("player", "flute")),
        ({"role": "king", "instrument": "flute"}, 422, ("player", "flute")),
    ],
)
def test_a_chair_changes_its_instrument_or_role(
    client: Client, sent: dict[str, str], status: int, kept: tuple[str, str]
) -> None:
    ensemble = factories.make_ensemble()
    factories.make_player(ensemble, instrument="flute")
    chair = Membership.objects.get()
    client.force_login(factories.make_director())
    address = f"/ensembles/{ensemble.pk}/chairs/{chair.pk}"
    assert address in client.get(f"/ensembles/{ensemble.pk}/").content.decode()
    assert client.post(address, sent).status_code == status
    chair.refresh_from_db()
    assert (chair.role, chair.instrument) == kept


@pytest.mark.parametrize("address", ["/people/", "/api/lti/", "/api/webhooks/", "/api/services/"])
def test_pages_about_other_systems_stand_with_people(address: str) -> None:
    client = Client()
    client.force_login(factories.make_director())
    marked = re.findall(r'aria-current="page">([^<]+)<', client.get(address).content.decode())
    assert marked == ["People"]
