"""Coming in by the school's own sign-in, against a provider that runs; and what does not come in."""

from __future__ import annotations

import io
import re
import time
from collections.abc import Iterator
from dataclasses import replace
from typing import Any
from urllib.parse import parse_qs, urlsplit

import pytest
from allauth.socialaccount.models import SocialAccount
from django.core.cache import cache
from django.core.management import call_command
from django.test import Client
from django.urls import reverse

from studio import addresses, env
from studio.entry import factor, rules, school_rules
from studio.entry.school import School, SchoolRule, from_environment
from studio.models import AuditEntry, ClaimRule, Membership, Notice, Programme, User
from studio.services.invitations import invite, link
from tests import factories, openid_provider
from tests.openid_provider import CLIENT, LIES, Provider


@pytest.fixture(scope="module")
def server() -> Iterator[Provider]:
    with openid_provider.running() as provider:
        yield provider


@pytest.fixture
def provider(server: Provider, settings: Any, db: None) -> Provider:
    cache.clear()
    server.lie = None
    server.seen.clear()
    server.moved = ""
    Programme.objects.create(name="Harbour Jazz")
    settings.SCHOOL_SIGN_IN = School(server.issuer, CLIENT, "secret", roster_claim="staff_number")
    return server


def come(
    provider: Provider, sub: str, *, client: Client | None = None, to: str = "", **claims: Any
) -> tuple[Client, Any]:
    """One whole sign-in: to the provider, in there, back. The client, and the last answer of the site."""
    if claims:
        provider.knows(sub, **claims)
    client = client or Client()
    sent = client.get(reverse("school_start"), {"next": to} if to else {})
    assert sent.status_code == 302, sent.content
    return client, client.get(provider.enter(sent.url, sub))


def is_in(client: Client) -> bool:
    return client.get(reverse("studio:account")).status_code == 200


def ours(user: User, **more: Any) -> dict[str, Any]:
    return {"email": user.email, "email_verified": True, "name": user.name} | more


def decide(**asked: bool) -> None:
    school_rules.decide(asked=vars(SchoolRule()) | asked, by=None)


def test_the_way_there_and_back(provider: Provider) -> None:
    ada = factories.make_user("Ada Quill", email="Ada@example.org")
    client, answer = come(provider, "ada", to="/me/data/", **ours(ada, email="ADA@Example.org"))
    assert (answer.status_code, answer.url, is_in(client)) == (302, "/me/data/", True)
    asked = provider.seen[0]
    assert asked["response_type"] == "code"
    assert asked["code_challenge_method"] == "S256"
    assert len(asked["nonce"]) > 20
    assert len(asked["state"]) >= 16
    assert asked["redirect_uri"] == "http://testserver/account/school/back/"
    assert Notice.objects.filter(user=ada, kind="school").count() == 1
    # From then on the number of the provider counts, whatever the address.
    again, _answer = come(provider, "ada", **ours(ada, email="other@example.org", email_verified=False))
    assert is_in(again)
    texts = list(AuditEntry.objects.filter(about=ada).order_by("pk").values_list("text", flat=True))
    assert texts == ["Tied to the school's sign-in", "Signed in", "Signed in"]
    kept = SocialAccount.objects.get()
    assert (kept.extra_data, len(kept.uid)) == ({"given": []}, 64)  # nothing of what the provider told
    # Never to another site.
    client, answer = come(provider, "ada", to="https://elsewhere.example/")
    assert answer.url == "/"


@pytest.mark.parametrize("lie", LIES)
def test_a_token_that_does_not_hold_lets_nobody_in(provider: Provider, lie: str) -> None:
    ada = factories.make_user(email="ada@example.org")
    boss = factories.make_director("Boss")
    provider.knows("boss", **ours(boss))
    provider.lie = LIES[lie]
    client, answer = come(provider, "ada", **ours(ada))
    assert (answer.status_code, is_in(client)) == (401, False)
    assert b"did not work" in answer.content
    assert not SocialAccount.objects.exists()


def test_who_may_stay_in_for_hours_signs_in_anew_at_the_school(provider: Provider) -> None:
    """OpenID Connect Core 1.0, 3.1.2.1 (max_age) and 3.1.3.7 (auth_time); OWASP ASVS 5.0, 7.6.1."""
    ada = factories.make_user(email="ada@example.org")
    come(provider, "ada", **ours(ada))
    assert "max_age" not in provider.seen.pop()
    Programme.objects.update(sign_in_rules={"director": {"hours": 8}, "player": {"hours": 24}})
    cases: list[tuple[Any, bool]] = [(0, True), (7.9 * 3600, True), (9 * 3600, False), (None, True)]
    for ago, let_in in cases:
        provider.lie = lambda claims, key, ago=ago: openid_provider.signed(
            claims | {"auth_time": ago if ago is None else time.time() - ago}, key
        )
        client, _answer = come(provider, "ada")
        assert (ago, is_in(client)) == (ago, let_in)
        assert provider.seen[-1]["max_age"] == "28800"


def test_nobody_is_signed_in_by_a_page_of_elsewhere(provider: Provider) -> None:
    """Fetch metadata (W3C): a browser says who sent it. OWASP ASVS 5.0, 7.6.2."""
    for site, sent in (("cross-site", False), ("same-site", False), ("same-origin", True), ("none", True)):
        answer = Client().get(reverse("school_start"), {"next": "/me/"}, headers={"Sec-Fetch-Site": site})
        assert answer.url.startswith(provider.issuer) if sent else answer.url == "/account/login/?next=%2Fme%2F", site


def test_no_answer_of_the_provider_sends_the_site_on(provider: Provider) -> None:
    """OWASP ASVS 5.0, 15.3.2: requests to others follow no redirect."""
    ada = factories.make_user(email="ada@example.org")
    provider.knows("ada", **ours(ada))
    for path in ("/.well-known/openid-configuration", "/jwks", "/oauth2/token", "/userinfo"):
        cache.clear()  # what it says of itself is remembered
        provider.moved, client = path, Client()
        answer = client.get(reverse("school_start"))
        if answer.status_code == 302:
            answer = client.get(provider.enter(answer.url, "ada"))
        assert (path, answer.status_code, is_in(client), provider.followed) == (path, 401, False, [])


def test_an_answer_for_another_sign_in(provider: Provider) -> None:
    """State and code belong to one browser and one use (RFC 6749, section 10.12)."""
    ada = factories.make_user(email="ada@example.org")
    provider.knows("ada", **ours(ada))
    mine, thief = Client(), Client()
    back = provider.enter(mine.get(reverse("school_start")).url, "ada")
    code = parse_qs(urlsplit(back).query)["code"][0]
    path = reverse("school_callback")
    for client, query in (
        (thief, urlsplit(back).query),
        (thief, ""),
        (mine, f"code={code}&state=made-up"),
        (mine, f"code={code}"),
        (mine, "error=access_denied&state=made-up"),
    ):
        assert client.get(f"{path}?{query}").status_code == 401
        assert not is_in(client)
    assert mine.get(back).status_code == 302
    assert is_in(mine)
    assert mine.get(back).status_code == 401  # once
    left = Client()
    state = parse_qs(urlsplit(left.get(reverse("school_start")).url).query)["state"][0]
    assert left.get(f"{path}?error=access_denied&state={state}").url == reverse("account_login")


def test_a_provider_that_is_away_or_calls_itself_otherwise(provider: Provider, settings: Any) -> None:
    for issuer in ("http://localhost:9", provider.issuer.replace("localhost", "127.0.0.1")):
        settings.SCHOOL_SIGN_IN = replace(settings.SCHOOL_SIGN_IN, issuer=issuer)
        answer = Client().get(reverse("school_start"))
        if answer.status_code == 302:  # it answers there, under that very name: another provider, another number
            assert issuer in answer.url
        else:
            assert (answer.status_code, b"did not work" in answer.content) == (401, True)


# Who is meant: what the provider tells, and whether that opens the account of Ada (a director).
CLAIMS: list[tuple[str, dict[str, Any], bool]] = [
    ("a verified address", {"email": "ada@example.org", "email_verified": True}, True),
    ("the word for true", {"email": "ada@example.org", "email_verified": "true"}, True),
    ("an address that is not verified", {"email": "ada@example.org", "email_verified": False}, False),
    ("the word for false", {"email": "ada@example.org", "email_verified": "false"}, False),
    ("nothing said of the address", {"email": "ada@example.org"}, False),
    ("another address", {"email": "ada@example.com", "email_verified": True}, False),
    ("no address", {}, False),
    ("several addresses", {"email": ["ada@example.org"], "email_verified": True}, False),
    ("her school id", {"staff_number": "S-17"}, True),
    ("her school id as a number", {"staff_number": 17}, False),
    ("an empty school id", {"staff_number": "", "email": "x@example.org", "email_verified": True}, False),
    (
        "her address, another school id",
        {"email": "ada@example.org", "email_verified": True, "staff_number": "S-18"},
        False,
    ),
    (
        "her school id, another address",
        {"email": "x@example.org", "email_verified": True, "staff_number": "S-17"},
        True,
    ),
]


def test_who_is_meant(provider: Provider) -> None:
    ada = factories.make_user("Ada", email="ada@example.org", is_director=True, school_id="S-17")
    factories.make_user("No number")
    wrong = []
    for number, (case, claims, opens) in enumerate(CLAIMS):
        SocialAccount.objects.all().delete()
        client, answer = come(provider, f"person-{number}", **{"name": "Somebody", **claims})
        if (answer.status_code, client.session.get("_auth_user_id")) != ((302, str(ada.pk)) if opens else (403, None)):
            wrong.append((case, answer.status_code))
    assert wrong == []
    assert User.objects.count() == 2


def test_the_school_id_of_the_claim_is_kept_and_counts_from_then_on(provider: Provider) -> None:
    ada = factories.make_director("Ada")
    assert is_in(come(provider, "ada", **ours(ada), staff_number="S-20")[0])
    ada.refresh_from_db()
    assert ada.school_id == "S-20"
    SocialAccount.objects.all().delete()
    assert is_in(come(provider, "ada-anew", name="Ada", staff_number="S-20")[0])
    assert not is_in(come(provider, "long", name="Ada", staff_number="S-20" + "0" * 80)[0])


def test_somebody_whose_address_nobody_knew_comes_in_by_the_school_id(provider: Provider) -> None:
    for number, claims, then in (
        ("S-1", {}, ""),
        ("S-2", {"email": "two@example.org", "email_verified": False}, ""),
        ("S-3", {"email": "Three@example.org", "email_verified": True}, "three@example.org"),
    ):
        waits = factories.make_user(f"Person {number}", email=addresses.unknown(), school_id=number)
        client, _answer = come(provider, f"sub {number}", name="Somebody", staff_number=number, **claims)
        assert is_in(client), number
        waits.refresh_from_db()
        assert (waits.address, "invalid" in client.get("/me/").content.decode()) == (then, False), number


def test_a_stranger_does_not_get_an_account_that_is_tied(provider: Provider) -> None:
    boss = factories.make_director("Dora")
    assert is_in(come(provider, "dora", **ours(boss))[0])
    client, answer = come(provider, "stranger", **ours(boss))
    assert (answer.status_code, is_in(client)) == (403, False)
    assert b"tied to another account of the school" in answer.content
    assert AuditEntry.objects.filter(about=boss, text__contains="refused: another account").count() == 1
    other = Client()
    other.force_login(factories.make_director("Second"))
    other.post(reverse("studio:untie", args=[boss.pk]))
    assert is_in(come(provider, "stranger", **ours(boss))[0])


def test_domains_that_the_school_vouches_for(provider: Provider, settings: Any) -> None:
    settings.SCHOOL_SIGN_IN = replace(settings.SCHOOL_SIGN_IN, domains=("school.example",))
    inside, outside = factories.make_user(email="a@school.example"), factories.make_user(email="a@not-school.example")
    assert is_in(come(provider, "in", **ours(inside))[0])
    assert not is_in(come(provider, "out", **ours(outside))[0])


def test_people_who_are_not_known(provider: Provider) -> None:
    claims = {"email": "nils@example.org", "email_verified": True, "name": "Nils <b>New</b>", "staff_number": "S-99"}
    client, answer = come(provider, "nils", **claims)
    assert answer.status_code == 403
    assert b"nobody in the programme has the address nils@example.org" in answer.content
    decide(create=True)
    client, answer = come(provider, "nils")
    nils = User.objects.get(email="nils@example.org")
    assert (nils.name, nils.school_id, nils.is_director, nils.has_usable_password()) == (
        "Nils <b>New</b>",
        "S-99",
        False,
        False,
    )
    assert is_in(client)
    assert b"<b>New" not in client.get(reverse("studio:account")).content
    User.objects.filter(pk=nils.pk).update(is_active=False)
    closed, answer = come(provider, "nils")
    assert (answer.status_code, b"closed" in answer.content, is_in(closed)) == (403, True, False)
    assert come(provider, "unsure", email="u@example.org", email_verified=False)[1].status_code == 403


def test_roles_by_the_table(provider: Provider) -> None:
    ensemble, other = factories.make_ensemble("Octet"), factories.make_ensemble("Trio")
    ada, boss = factories.make_user("Ada", instrument="trumpet"), factories.make_director("Dora")
    for claim, value, role, where in (
        ("groups", "octet", "player", ensemble),
        ("groups", "staff", "instructor", other),
        ("affiliation", "head", "director", None),
    ):
        ClaimRule.objects.create(claim=claim, value=value, role=role, ensemble=where)

    def held(**claims: Any) -> tuple[bool, set[tuple[str, str]]]:
        come(provider, "ada", **ours(ada), **claims)
        ada.refresh_from_db()
        return ada.is_director, set(ada.memberships.values_list("ensemble__name", "role"))

    assert held(groups=["octet", "chess"]) == (False, {("Octet", "player")})
    assert ada.memberships.get().instrument == "trumpet"
    assert held(groups="staff", affiliation="head") == (True, {("Trio", "instructor")})
    assert held(groups=["octets"], affiliation=["header"]) == (False, set())
    Membership.objects.create(user=ada, ensemble=ensemble, role="player")  # by hand: never taken by claims
    assert held(groups=["octet"]) == held(groups=[]) == (False, {("Octet", "player")})
    assert held(affiliation=["head"])[0] is True
    User.objects.filter(pk=boss.pk).update(is_director=False)
    assert held(affiliation=[])[0] is True  # the last director stays one
    texts = AuditEntry.objects.filter(about=ada, kind="role").values_list("text", flat=True)
    assert sum("claims" in text for text in texts) == len(texts) == 7


def test_a_second_factor_at_the_school(provider: Provider) -> None:
    ada = factories.make_user(email="ada@example.org")
    asked = {role: {"factor": True, "grace": 0, "hours": None} for role in rules.ROLES}
    factor.set_rules(asked=asked, by=factories.make_director())
    assert not is_in(come(provider, "ada", **ours(ada))[0])
    assert is_in(come(provider, "ada", amr=["pwd", "mfa"])[0])  # RFC 8176, section 2
    assert not is_in(come(provider, "ada", amr="mfa of old")[0])
    decide(counts=True)
    assert is_in(come(provider, "ada")[0])
    assert not is_in(Client())


def test_the_sites_own_sign_in_switched_off(provider: Provider) -> None:
    boss, ada = factories.make_director("Dora"), factories.make_user("Ada")
    client = come(provider, "dora", **ours(boss))[0]
    other = Client()
    other.force_login(factories.make_director("Second"))
    page = reverse("studio:school")
    refused = other.post(page, {"create": "on"})
    assert refused.status_code == 422
    assert b"First sign in by the school yourself" in refused.content
    assert client.post(page, {"create": "on"}).status_code == 302

    def tries() -> list[int]:
        visitor, mine = Client(), {"login": ada.email, "password": factories.PASSWORD}
        letter = re.sub("^http://[^/]+", "", link(invite(ada, by=boss)))
        return [
            visitor.post(reverse("account_login"), mine).status_code,
            visitor.post(reverse("mfa_login_webauthn"), {}).status_code,
            visitor.post(reverse("account_reset_password"), {"email": ada.email}).status_code,
            visitor.post(letter, {"password": "seven violet herons"}).status_code,
        ]

    assert tries() == [403] * 4
    shown = Client().get(reverse("account_login")).content.decode()
    assert "Sign in with the school" in shown
    assert "password" not in shown.partition("<main")[2].partition("quiet")[0]
    out = io.StringIO()
    call_command("rescue", boss.email, stdout=out)
    path = re.search(r"http://[^/]+(/\S+)", out.getvalue())
    rescued = Client()
    rescued.post(path[1] if path else "", {"password": "seven violet herons"})
    assert is_in(rescued)
    call_command("rescue", boss.email, passwords=True, stdout=io.StringIO())
    assert 403 not in tries()


def test_the_directors_table(provider: Provider) -> None:
    client, ensemble = Client(), factories.make_ensemble("Octet")
    client.force_login(factories.make_director())
    page = reverse("studio:school")
    assert client.post(page, {"claim": "groups", "value": "band", "role": "player"}).status_code == 422
    row = {"claim": "groups", "value": "band", "role": "player", "ensemble": ensemble.pk}
    assert [client.post(page, row).status_code for _ in range(2)] == [302, 422]
    assert (
        client.post(
            page, {"claim": "groups", "value": "heads", "role": "director", "ensemble": ensemble.pk}
        ).status_code
        == 302
    )
    assert {one.gives for one in ClaimRule.objects.all()} == {f"player:{ensemble.pk}", "director"}
    client.post(reverse("studio:claim_remove", args=[ClaimRule.objects.get(role="director").pk]))
    texts = list(AuditEntry.objects.filter(kind="setting").values_list("text", flat=True))
    assert texts[::-1] == [
        f"Claim added: groups = band: plays in {ensemble.in_term}",
        "Claim added: groups = heads: is a director",
        "Claim removed: groups = heads: is a director",
    ]


@pytest.mark.parametrize(
    ("given", "wrong"),
    [
        ({"ISSUER": "https://id.school.example/", "CLIENT": "x", "DOMAINS": "@School.example"}, ""),
        ({"ISSUER": "https://id.school.example"}, "Give both"),
        ({"ISSUER": "http://id.school.example", "CLIENT": "x"}, "https://"),
        ({}, ""),
    ],
)
def test_what_the_environment_names(given: dict[str, str], wrong: str, monkeypatch: pytest.MonkeyPatch) -> None:
    for name, value in given.items():
        monkeypatch.setenv(f"TOPFORM_OIDC_{name}", value)
    if wrong:
        with pytest.raises(env.SettingError, match=wrong):
            from_environment()
    elif given:
        found = from_environment()
        assert found == School("https://id.school.example", "x", "", domains=("school.example",))
    else:
        assert from_environment() is None
