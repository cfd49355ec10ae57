"""A platform that registers this site by itself: 1EdTech LTI Dynamic Registration 1.0 (sections from memory of the text).

The platform sends a director's browser here with the address of its own description and, mostly, a token that is good for one
registration. Nothing is fetched before the director, signed in here, has said so: the address comes from whoever made the link.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any
from urllib.parse import urlsplit

from django.db import IntegrityError, transaction

from api.campus import outward
from api.campus.lti.claims import DEEP_LINKING, RESOURCE, part, text_of
from api.campus.lti.services import LINES, MEMBERS, SCORES
from api.models import Platform
from studio.audit import record
from studio.models import AuditEntry, User

TOOL = "https://purl.imsglobal.org/spec/lti-tool-configuration"
LONGEST = 500  # characters of an address
LONGEST_TOKEN = 4000
ALGORITHM = "RS256"


class NotRegistered(Exception):
    """The two sides did not come together; says why, for the director."""


@dataclass(frozen=True)
class Offer:
    """What a platform says of itself (its OpenID configuration)."""

    issuer: str
    login_url: str
    token_url: str
    keys_url: str
    registration_url: str
    audience: str


def read_offer(url: str) -> Offer:
    """Fetch and check a platform's description. Raises `NotRegistered`, `outward.Unreachable`."""
    found = outward.call("GET", url, headers={"Accept": "application/json"})
    said = found.json() if found.good else None
    if not isinstance(said, dict):
        raise NotRegistered(f"The address of its description answers {found.status}, and with no description.")
    offer = Offer(
        issuer=text_of(said, "issuer"),
        login_url=_address(said, "authorization_endpoint"),
        token_url=_address(said, "token_endpoint"),
        keys_url=_address(said, "jwks_uri"),
        registration_url=_address(said, "registration_endpoint"),
        audience=text_of(said, "authorization_server", most=LONGEST),
    )
    # Whoever describes a platform must stand where the platform says it is: otherwise anybody could register under its name.
    if not offer.issuer or urlsplit(offer.issuer).hostname != urlsplit(url).hostname:
        raise NotRegistered("It calls itself by another name than that of the machine its description is on (issuer).")
    signs = said.get("id_token_signing_alg_values_supported")
    if isinstance(signs, list) and ALGORITHM not in signs:
        raise NotRegistered(f"It does not sign with {ALGORITHM}, the only way that is read here.")
    return offer


def _address(said: Mapping[str, Any], name: str) -> str:
    url = text_of(said, name, most=LONGEST)
    if not url:
        raise NotRegistered(f"Its description lacks an address ({name}).")
    if why := outward.refusal(url):
        raise NotRegistered(f"Its description names an address that cannot be used ({name}): {why}")
    return url


def register(offer: Offer, *, token: str, name: str, launch: str, login: str, keys: str, by: User) -> Platform:
    """Tell the platform about this site, and keep what it answers. `launch`, `login`, `keys`: addresses of this site.
    Raises `NotRegistered`, `outward.Unreachable`."""
    if Platform.objects.filter(issuer=offer.issuer, ended=None).exists():
        raise NotRegistered(
            "One of this issuer is registered already. End that registration first, or change it by hand."
        )
    headers = {"Content-Type": "application/json", "Accept": "application/json"}
    if token:
        headers["Authorization"] = f"Bearer {token}"
    body = json.dumps(_ourselves(name, launch, login, keys)).encode()
    found = outward.call("POST", offer.registration_url, body=body, headers=headers)
    if not found.good:
        raise NotRegistered(f"It answered {found.status}: {found.text or 'nothing more'}")
    answer = found.json()
    said = answer if isinstance(answer, dict) else {}
    client, deployment = text_of(said, "client_id"), text_of(part(said, TOOL), "deployment_id")
    if not client:
        raise NotRegistered("It answered, but gave no client id.")
    try:
        with transaction.atomic():
            row = Platform.objects.create(
                name=str(urlsplit(offer.issuer).hostname)[:80],
                issuer=offer.issuer,
                client_id=client,
                login_url=offer.login_url,
                token_url=offer.token_url,
                keys_url=offer.keys_url,
                audience=offer.audience,
                deployments=[deployment] if deployment else [],
            )
            record(AuditEntry.Kind.ROLE, f"Course platform {row.name} registered by itself", by=by)
    except IntegrityError as error:
        raise NotRegistered("This client is registered already.") from error
    return row


def _ourselves(name: str, launch: str, login: str, keys: str) -> dict[str, Any]:
    """This site as a client (section 3.5.2: OpenID Connect Registration with the tool's configuration)."""
    return {
        "application_type": "web",
        "response_types": ["id_token"],
        "grant_types": ["implicit", "client_credentials"],
        "initiate_login_uri": login,
        "redirect_uris": [launch],
        "client_name": name,
        "jwks_uri": keys,
        "token_endpoint_auth_method": "private_key_jwt",
        "scope": " ".join((MEMBERS, LINES, SCORES)),
        TOOL: {
            "domain": urlsplit(launch).netloc,
            "target_link_uri": launch,
            "claims": ["iss", "sub", "name", "email"],
            "messages": [
                {"type": RESOURCE, "target_link_uri": launch, "label": name},
                {"type": DEEP_LINKING, "target_link_uri": launch, "label": "Choose an assignment"},
            ],
        },
    }
