"""Going to the school's sign-in and coming back: OpenID Connect by the account library, stricter in five points.

Every token's signature is verified; a nonce ties it to this sign-in; the proof key for the code (RFC 7636) is always sent;
nothing of the address that starts it reaches the provider; and who signed in there longer ago than a role may stay in is asked
anew. Who is meant by an answer is decided in `studio.entry.match`.
"""

from __future__ import annotations

import hashlib
import logging
import secrets
from typing import Any
from urllib.parse import urlencode

import requests
from allauth.account.utils import get_next_redirect_url
from allauth.core.exceptions import ImmediateHttpResponse
from allauth.socialaccount.adapter import DefaultSocialAccountAdapter, get_adapter
from allauth.socialaccount.models import SocialAccount, SocialApp, SocialLogin
from allauth.socialaccount.providers.base import AuthError
from allauth.socialaccount.providers.oauth2.client import OAuth2Error
from allauth.socialaccount.providers.oauth2.utils import generate_code_challenge
from allauth.socialaccount.providers.oauth2.views import OAuth2CallbackView
from allauth.socialaccount.providers.openid_connect.views import OpenIDConnectOAuth2Adapter
from allauth.utils import build_absolute_uri
from django.conf import settings
from django.contrib import messages
from django.core.cache import cache
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse

from studio.entry import match, rules, tokens
from studio.entry.school import School
from studio.models import Programme, User

log = logging.getLogger(__name__)
PROVIDER = "school"
REMEMBERED = 300  # seconds: what the provider says of itself, and its keys


def _school() -> School:
    """The provider of the settings; without one these addresses do not exist."""
    if settings.SCHOOL_SIGN_IN is None:
        raise Http404
    return settings.SCHOOL_SIGN_IN


class SchoolAdapter(OpenIDConnectOAuth2Adapter):
    """The provider's addresses, its token, the person in it."""

    def __init__(self, request: HttpRequest) -> None:
        super().__init__(request, PROVIDER)
        self.state: dict[str, Any] = {}

    def _fetched(self, address: str) -> dict[str, Any]:
        """A JSON object of the provider, remembered for some minutes."""
        name = "oidc:" + hashlib.sha256(address.encode()).hexdigest()
        found: dict[str, Any] | None = cache.get(name)
        if found is None:
            with get_adapter().get_requests_session() as session:
                answer = session.get(address)
                answer.raise_for_status()
                found = answer.json()
            if not isinstance(found, dict):
                raise OAuth2Error(f"{address} holds no JSON object")
            cache.set(name, found, REMEMBERED)
        return found

    @property
    def openid_config(self) -> dict[str, Any]:
        said = self._fetched(f"{_school().issuer}/.well-known/openid-configuration")
        # OpenID Connect Discovery 1.0, section 4.3: they must be the same.
        if str(said.get("issuer", "")).rstrip("/") != _school().issuer:
            raise OAuth2Error(f"the provider calls itself {said.get('issuer')!r}")
        if missing := {"authorization_endpoint", "token_endpoint", "jwks_uri"} - set(said):
            raise OAuth2Error(f"the provider does not say its {', '.join(sorted(missing))}")
        return said

    def get_callback_url(self, request: HttpRequest, app: SocialApp) -> str:
        return str(build_absolute_uri(request, reverse("school_callback"), self.redirect_uri_protocol))

    def complete_login(self, request: HttpRequest, app: SocialApp, token: Any, **kwargs: Any) -> SocialLogin:
        school, said = _school(), self.openid_config
        sent = self.state.get("data") or {}
        try:
            claims = tokens.verified(
                str(kwargs["response"].get("id_token") or ""),
                keys=self._fetched(said["jwks_uri"]),
                issuer=said["issuer"],
                client_id=school.client_id,
                nonce=str(sent.get("nonce") or secrets.token_urlsafe()),
                max_age=int(sent.get("max_age") or 0),
            )
        except tokens.TokenRefused as error:
            raise OAuth2Error(f"the token was refused: {error}") from error
        claims = self._more(said, token.token, claims) | claims
        number = hashlib.sha256(f"{said['issuer']}\n{claims['sub']}".encode()).hexdigest()
        # The library writes what stands here over what it keeps.
        kept = SocialAccount.objects.filter(provider=PROVIDER, uid=number).values_list("extra_data", flat=True).first()
        account = SocialAccount(provider=PROVIDER, uid=number, extra_data=kept or {})
        login = SocialLogin(user=User(), account=account, provider=self.get_provider())
        login.claims = claims
        return login

    def _more(self, said: dict[str, Any], access: str, claims: dict[str, Any]) -> dict[str, Any]:
        """What the provider tells besides the token, if it is about the same person (Core 1.0, section 5.3.2)."""
        if not said.get("userinfo_endpoint"):
            return {}
        more = self._fetch_user_info(access)
        if not isinstance(more, dict) or more.get("sub") != claims["sub"]:
            raise OAuth2Error("the provider told of two people")
        return more


class SchoolAccounts(DefaultSocialAccountAdapter):
    """Who comes in by the school's sign-in."""

    def list_apps(self, request: Any, provider: Any = None, client_id: Any = None) -> list[SocialApp]:
        school = settings.SCHOOL_SIGN_IN
        if school is None or provider not in (None, PROVIDER, "openid_connect"):
            return []
        more = {"server_url": school.issuer, "scope": list(school.scopes), "hidden": False}
        kind = {"provider": "openid_connect", "provider_id": PROVIDER, "name": school.name}
        return [SocialApp(client_id=school.client_id, secret=school.secret, settings=more, **kind)]

    def get_requests_session(self) -> requests.Session:
        """The library's, without following: a secret and a code are told to the addresses that the provider names, and to no
        other one that an answer sends on to (OWASP ASVS 5.0, 15.3.2). Raises TooManyRedirects, which is a failed sign-in."""
        session: requests.Session = super().get_requests_session()
        session.max_redirects = 0
        return session

    def is_open_for_signup(self, request: HttpRequest, sociallogin: SocialLogin) -> bool:
        return False  # `match` has made the account by then, where the director lets it

    def pre_social_login(self, request: HttpRequest, sociallogin: SocialLogin) -> None:
        try:
            match.settle(sociallogin.account, sociallogin.claims, school=_school())
        except match.NotLetIn as refused:
            words = {
                "heading": refused.heading,
                "advice": str(refused),
                "url": reverse("account_login"),
                "link": "Back",
            }
            raise ImmediateHttpResponse(render(request, "studio/error.html", words, status=403)) from refused
        sociallogin.user = sociallogin.account.user

    def on_authentication_error(
        self, request: HttpRequest, provider: Any, error: Any = None, exception: Any = None, extra_context: Any = None
    ) -> None:
        if error == AuthError.CANCELLED:
            messages.info(request, "Signing in was left.")
            raise ImmediateHttpResponse(redirect("account_login"))
        if exception is not None:
            log.warning("Sign-in by %s failed: %s", _school().issuer, exception)
        raise ImmediateHttpResponse(failed(request))


def failed(request: HttpRequest) -> HttpResponse:
    """The page for an answer that does not hold, or none at all."""
    words = {
        "heading": "The school’s sign-in did not work",
        "advice": "Its answer was too old, was meant for another page, or did not come. Try again; if it stays so, tell whoever runs the programme.",
        "url": reverse("account_login"),
        "link": "Try again",
    }
    return render(request, "studio/error.html", words, status=401)


class Callback(OAuth2CallbackView):
    """Back from the provider: the state of this sign-in goes to the adapter, which looks for its nonce."""

    adapter: SchoolAdapter

    def _get_state(self, request: HttpRequest, provider: Any) -> Any:
        state, response = super()._get_state(request, provider)
        self.adapter.state = state or {}
        return state, response


def start(request: HttpRequest) -> HttpResponse:
    """To the provider, by a press on a page of this site or an address that somebody typed. Who is sent here by another site
    gets the page with the button: nobody is signed in without meaning it (OWASP ASVS 5.0, 7.6.2)."""
    school = _school()
    if request.headers.get("Sec-Fetch-Site", "none") not in ("none", "same-origin"):
        to = urlencode({"next": request.GET.get("next", "")})
        return redirect(f"{reverse('account_login')}?{to}")
    adapter = SchoolAdapter(request)
    provider = adapter.get_provider()
    proof, nonce = generate_code_challenge(), secrets.token_urlsafe(24)
    verifier = proof.pop("code_verifier")
    try:
        client = adapter.get_client(request, provider.app)
        address = adapter.authorize_url
    except (OAuth2Error, requests.RequestException) as error:
        log.warning("Sign-in by %s cannot start: %s", school.issuer, error)
        return failed(request)
    to = get_next_redirect_url(request)
    more = {"nonce": nonce} | _not_older()
    client.state = provider.stash_redirect_state(request, "login", to, more, pkce_code_verifier=verifier)
    return redirect(client.get_redirect_url(address, provider.get_scope(), proof | more))


def _not_older() -> dict[str, str]:
    """How long ago people may have signed in at the provider, where a role may stay in for so long only. Nobody knows yet who
    comes, so the shortest rule is asked for: else one press would begin again what has just ended (ASVS 5.0, 7.6.1)."""
    longest = rules.longest(rules.read(Programme.current().sign_in_rules).values())
    return {"max_age": str(int(longest.total_seconds()))} if longest else {}


def callback(request: HttpRequest) -> HttpResponse:
    """Back from the provider."""
    _school()
    response: HttpResponse = Callback.adapter_view(SchoolAdapter(request))(request)
    return response
