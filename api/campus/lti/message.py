"""A checked message of a platform, reduced to what is used: plain, bounded values that any database keeps. Pure."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Any

from api.campus.lti.claims import AGS_CLAIM, DEEP, DEEP_LINKING, LTI, NRPS_CLAIM, part, text_of

CUSTOM = "topform"  # name of our own parameter in links that were made by deep linking
LONGEST_URL, LONGEST_DATA = 1000, 20_000
MOST_SCOPES = 20
TEACHING = frozenset(
    {"Instructor", "Administrator", "ContentDeveloper"}
)  # LTI Core 1.3, A.2.3: who builds a course page


@dataclass(frozen=True, kw_only=True)
class Message:
    """What a platform said. Addresses and texts are "" where it said nothing (or nothing that can be kept)."""

    kind: str
    deployment: str
    subject: str
    email: str = ""
    email_verified: bool | None = None
    name: str = ""
    school_id: str = ""
    context: str = ""
    context_title: str = ""
    resource: str = ""
    resource_title: str = ""
    chosen: str = ""  # our own parameter, signed by us
    members_url: str = ""
    lines_url: str = ""
    line: str = ""
    scopes: tuple[str, ...] = ()
    return_url: str = ""
    data: str = ""
    takes_line: bool = True
    teaches: bool = False

    @property
    def is_choice(self) -> bool:
        return self.kind == DEEP_LINKING

    def kept(self) -> dict[str, Any]:
        return asdict(self) | {"scopes": list(self.scopes)}

    @classmethod
    def again(cls, kept: Mapping[str, Any]) -> Message:
        """The message of what `kept` gave."""
        return cls(**{**kept, "scopes": tuple(kept["scopes"])})

    @classmethod
    def of(cls, claims: Mapping[str, Any]) -> Message:
        """The message of claims that were checked (`claims.check`)."""
        context, link = part(claims, LTI + "context"), part(claims, LTI + "resource_link")
        services, asked = part(claims, AGS_CLAIM), part(claims, DEEP + "deep_linking_settings")
        verified = claims.get("email_verified")
        return cls(
            kind=text_of(claims, LTI + "message_type"),
            deployment=text_of(claims, LTI + "deployment_id"),
            subject=text_of(claims, "sub"),
            email=text_of(claims, "email").strip().lower(),
            email_verified=verified if isinstance(verified, bool) else None,
            name=text_of(claims, "name"),
            school_id=text_of(part(claims, LTI + "lis"), "person_sourcedid").strip(),
            context=text_of(context, "id"),
            context_title=text_of(context, "title")[:200],
            resource=text_of(link, "id"),
            resource_title=text_of(link, "title")[:200],
            chosen=text_of(part(claims, LTI + "custom"), CUSTOM, most=LONGEST_URL),
            members_url=text_of(part(claims, NRPS_CLAIM), "context_memberships_url", most=LONGEST_URL),
            lines_url=text_of(services, "lineitems", most=LONGEST_URL),
            line=text_of(services, "lineitem", most=LONGEST_URL),
            scopes=_texts(services.get("scope")),
            return_url=text_of(asked, "deep_link_return_url", most=LONGEST_URL),
            data=text_of(asked, "data", most=LONGEST_DATA),
            takes_line=asked.get("accept_lineitem") is not False,
            teaches=any(str(role).rpartition("#")[2] in TEACHING for role in claims[LTI + "roles"]),
        )


def _texts(value: Any) -> tuple[str, ...]:
    rows = value if isinstance(value, list) else []
    return tuple(text for one in rows[:MOST_SCOPES] if (text := text_of({"one": one}, "one")))
