"""How the OpenAPI schema describes signing in, and which calls it lists."""

from __future__ import annotations

from typing import Any

from drf_spectacular.extensions import OpenApiAuthenticationExtension


class TokenScheme(OpenApiAuthenticationExtension):  # type: ignore[no-untyped-call]
    target_class = "api.security.TokenAuthentication"
    name = "token"

    def get_security_definition(self, auto_schema: Any) -> dict[str, str]:
        return {"type": "http", "scheme": "bearer", "description": "A token made under Account, Tokens."}


def only_api(endpoints: list[tuple[str, str, str, Any]], **_: Any) -> list[tuple[str, str, str, Any]]:
    """Keep the versioned calls; pages of the site are not part of the interface."""
    return [row for row in endpoints if row[0].startswith("/api/v1/")]
