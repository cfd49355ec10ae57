"""The school's own sign-in: what the environment says of it, and what the director decides about it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Any

from studio import env

KEPT_AS = "school"  # in `Programme.sign_in_rules`


@dataclass(frozen=True)
class School:
    """A provider of OpenID Connect. `issuer`: its address, exactly as it names itself; `domains`: of the e-mail addresses that
    it vouches for, none: all; `roster_claim`: the claim that holds the school id of the roster, "": none does."""

    issuer: str
    client_id: str
    secret: str
    name: str = "the school’s account"
    scopes: tuple[str, ...] = ("openid", "profile", "email")
    domains: tuple[str, ...] = ()
    roster_claim: str = ""


def from_environment() -> School | None:
    """The provider that the environment names, None when it names none; a half-named one is refused."""
    issuer, client_id = env.text("TOPFORM_OIDC_ISSUER").rstrip("/"), env.text("TOPFORM_OIDC_CLIENT")
    if not issuer and not client_id:
        return None
    if not issuer or not client_id:
        raise env.SettingError("Give both TOPFORM_OIDC_ISSUER and TOPFORM_OIDC_CLIENT, or neither.")
    if not issuer.startswith(("https://", "http://localhost:", "http://127.0.0.1:")):
        raise env.SettingError(f"TOPFORM_OIDC_ISSUER is {issuer!r}; it has to start with https://.")
    return School(
        issuer,
        client_id,
        env.text("TOPFORM_OIDC_SECRET"),
        env.text("TOPFORM_OIDC_NAME") or School.name,
        ("openid", *(scope for scope in env.words("TOPFORM_OIDC_SCOPES", "profile,email") if scope != "openid")),
        tuple(domain.lower().lstrip("@") for domain in env.words("TOPFORM_OIDC_DOMAINS")),
        env.text("TOPFORM_OIDC_ROSTER_CLAIM"),
    )


@dataclass(frozen=True)
class SchoolRule:
    """What the director decides. `create`: people who are not known get an account; `passwords`: the site's own sign-in works
    too; `counts`: the school's sign-in counts as a second factor."""

    create: bool = False
    passwords: bool = True
    counts: bool = False


def rule(kept: Mapping[str, Any]) -> SchoolRule:
    """Out of the column `Programme.sign_in_rules`."""
    row = kept.get(KEPT_AS) or {}
    return SchoolRule(**{name: row.get(name, default) for name, default in asdict(SchoolRule()).items()})
