"""A provider of OpenID Connect in a thread of the tests (oidc-provider-mock, on authlib), which can also be made to lie."""

from __future__ import annotations

import json
import logging
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Any

import flask
import jwt
import requests
from cryptography.hazmat.primitives.asymmetric import rsa
from oidc_provider_mock import app
from werkzeug.serving import make_server

CLIENT = "topform-at-school"
Lie = Callable[[dict[str, Any], Any], str]
"""From the true claims and the provider's own key to the token that is sent instead."""


@dataclass
class Provider:
    """What the tests say to it. `lie`: sent instead of the token; `moved`: the path that sends on; `seen`: what the site
    asked of it; `followed`: where it went although it was only sent on."""

    issuer: str
    moved: str = ""
    followed: list[str] = field(default_factory=list)
    lie: Lie | None = None
    seen: list[dict[str, str]] = field(default_factory=list)

    def knows(self, sub: str, **claims: Any) -> None:
        """A person of the school."""
        requests.put(f"{self.issuer}/users/{sub}", json=claims, timeout=5).raise_for_status()

    def enter(self, address: str, sub: str) -> str:
        """What the person's browser does there: sign in, and follow back to the site. The address to which it is sent."""
        answer = requests.post(address, data={"sub": sub}, allow_redirects=False, timeout=5)
        assert answer.status_code == 302, answer.text
        return answer.headers["Location"]


@contextmanager
def running() -> Iterator[Provider]:
    """The provider, until the end of the block."""
    site = app()
    server = make_server("localhost", 0, site, threaded=True)
    provider = Provider(f"http://localhost:{server.server_port}")

    @site.before_request
    def send_on() -> Any:
        path = flask.request.path
        if "moved" in flask.request.args:
            provider.followed.append(path)
        elif path == provider.moved:
            return flask.redirect(f"{path}?moved=1", 307)
        return None

    @site.before_request
    def note() -> None:
        if flask.request.path == "/oauth2/authorize":
            provider.seen.append(flask.request.args.to_dict())

    @site.after_request
    def lie(response: flask.Response) -> flask.Response:
        if flask.request.path == "/oauth2/token" and provider.lie and "id_token" in (response.json or {}):
            told = response.json
            claims = jwt.decode(told["id_token"], options={"verify_signature": False})
            own = flask.g.oidc_provider_mock_storage.jwk
            told["id_token"] = provider.lie(claims, own)
            response.set_data(json.dumps(told))
        return response

    logging.getLogger("werkzeug").setLevel(logging.ERROR)
    thread = threading.Thread(target=server.serve_forever, args=(0.05,), daemon=True)
    thread.start()
    try:
        yield provider
    finally:
        server.shutdown()
        server.server_close()
        thread.join(5)


def signed(claims: dict[str, Any], key: Any) -> str:
    """The claims, signed by the provider's own key."""
    return jwt.encode(claims, jwt.PyJWK(key.as_dict(is_private=True) | {"alg": "RS256"}).key, algorithm="RS256")


def _public(key: Any) -> bytes:
    return json.dumps(key.as_dict(is_private=False)).encode()


def _changed(**changes: Any) -> Lie:
    return lambda claims, key: signed(claims | changes, key)


def _without(name: str) -> Lie:
    return lambda claims, key: signed({claim: value for claim, value in claims.items() if claim != name}, key)


def _broken(claims: dict[str, Any], key: Any) -> str:
    head, body, _signature = signed(claims, key).split(".")
    _head, _body, other = signed(claims | {"sub": "other"}, key).split(".")
    return f"{head}.{body}.{other}"


# What OpenID Connect Core 1.0, section 3.1.3.7, tells a site to refuse, and the attacks on tokens that RFC 8725 names.
LIES: dict[str, Lie] = {
    "another issuer": _changed(iss="https://elsewhere.example"),
    "another audience": _changed(aud="another-site"),
    "two audiences, issued for the other": _changed(aud=[CLIENT, "another-site"], azp="another-site"),
    "expired": lambda claims, key: signed(claims | {"iat": time.time() - 900, "exp": time.time() - 300}, key),
    "without an end": _without("exp"),
    "another nonce": _changed(nonce="of-another-sign-in"),
    "no nonce": _without("nonce"),
    "nobody": _changed(sub=""),
    "alg none": lambda claims, key: jwt.encode(claims, "", algorithm="none"),
    "the public key as a password": lambda claims, key: jwt.encode(claims, _public(key), algorithm="HS256"),
    "another key": lambda claims, key: jwt.encode(
        claims, rsa.generate_private_key(public_exponent=65537, key_size=2048), algorithm="RS256"
    ),
    "a signature of other words": _broken,
    "no token": lambda claims, key: "",
    "rubbish": lambda claims, key: "a.b.c",
    "about somebody else than the provider tells": _changed(sub="boss"),
}
