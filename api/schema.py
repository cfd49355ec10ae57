"""How the OpenAPI schema describes calls: their pages, filters, permission, refusals; and which addresses it lists."""

from __future__ import annotations

from typing import Any

from drf_spectacular.extensions import OpenApiAuthenticationExtension
from drf_spectacular.openapi import AutoSchema
from rest_framework.serializers import ListSerializer

from api.listed import SINCE, kind_of
from api.problems import PROBLEM_JSON, PROBLEMS, RefusalSerializer

WRITES = frozenset({"POST", "PUT", "PATCH", "DELETE"})


class Described(AutoSchema):
    """One call as it is: a list comes in pages, every refusal is a problem document (RFC 9457), `x-permission` is its scope."""

    def get_override_parameters(self) -> list[Any]:
        """Those of the call, and `since` for lists whose rows the feed of changes knows."""
        found: list[Any] = list(super().get_override_parameters())
        shape = self.get_response_serializers() if self.method == "GET" else None
        return [*found, SINCE] if isinstance(shape, ListSerializer) and kind_of(shape) else found

    def _get_paginator(self) -> Any:
        return super()._get_paginator() if self.method == "GET" else None  # type: ignore[no-untyped-call]

    def get_operation(self, *args: Any, **kwargs: Any) -> Any:
        found = super().get_operation(*args, **kwargs)
        scope = getattr(self.view, "scopes", {}).get(self.method)
        if found and scope:
            found["x-permission"] = scope
            needs = f"Needs the permission `{scope}`."
            found["description"] = "\n\n".join(filter(None, (found.get("description"), needs)))
        return found

    def get_description(self) -> str:  # type: ignore[override]
        """None but what `extend_schema` says: docstrings are for readers of the code."""
        return ""

    def _get_response_bodies(self, direction: str = "response") -> dict[str, Any]:
        found: dict[str, Any] = super()._get_response_bodies(direction)  # type: ignore[arg-type]
        if direction != "response":
            return found
        component = self.resolve_serializer(RefusalSerializer, "response")
        for status in self._refusals():
            found.setdefault(
                str(status),
                {
                    "description": PROBLEMS[status].title,
                    "content": {PROBLEM_JSON: {"schema": component.ref}},
                },
            )
        return found

    def _refusals(self) -> list[int]:
        known = {400, 401, 403, 404, 405, 429, 503}
        if self.method in WRITES:
            known |= {409, 412, 415, 422, 507}
        if self.method == "GET":
            known |= {409, 422}
        return sorted(known)


class TokenScheme(OpenApiAuthenticationExtension):  # type: ignore[no-untyped-call]
    target_class = "api.security.TokenAuthentication"
    name = "token"

    def get_security_definition(self, auto_schema: Any) -> dict[str, str]:
        return {"type": "http", "scheme": "bearer", "description": "A token made under Account, Tokens."}


def only_api(endpoints: list[tuple[str, str, str, Any]], **_: Any) -> list[tuple[str, str, str, Any]]:
    """Keep the versioned calls; pages of the site are not part of the interface."""
    return [row for row in endpoints if row[0].startswith("/api/v1/")]
