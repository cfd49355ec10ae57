"""A small course platform for the tests: it sends the messages and offers the services that the standards publish
(1EdTech: LTI Core 1.3, Security Framework 1.0, Deep Linking 2.0, Names and Roles 2.0, Assignment and Grade Services 2.0),
over HTTP, with keys of its own. It checks what a platform must check of a tool's token."""

from __future__ import annotations

import base64
import hmac
import json
import threading
import time
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any
from urllib.parse import parse_qs, urlsplit

from joserfc import jwt
from joserfc.jwk import KeySet, RSAKey

LTI = "https://purl.imsglobal.org/spec/lti/claim/"
AGS = "https://purl.imsglobal.org/spec/lti-ags/"
ROLES = "http://purl.imsglobal.org/vocab/lis/v2/membership#"
KEY = RSAKey.generate_key(2048, parameters={"use": "sig", "alg": "RS256"}, auto_kid=True)
OTHER_KEY = RSAKey.generate_key(2048, parameters={"use": "sig", "alg": "RS256", "kid": KEY.kid})


class CoursePlatform:
    """`tool_keys` gives the tool's key set; `members`, `refuse` (status of the next score) are set by a test."""

    client, deployment = "client-1", "deployment-1"

    def __init__(self) -> None:
        self.tool_keys: Any = {}
        self.members: list[dict[str, Any]] = []
        self.lines: list[dict[str, Any]] = []
        self.scores: list[dict[str, Any]] = []
        self.refuse = 0
        self.good_once = "token-1"
        self.registered: dict[str, Any] = {}
        tool = "https://purl.imsglobal.org/spec/lti-tool-configuration"
        self.answers: Any = {"client_id": "client-9", tool: {"deployment_id": "deployment-9"}}
        self.seen: list[str] = []
        self.server = ThreadingHTTPServer(("127.0.0.1", 0), _handler(self))
        self.url = f"http://127.0.0.1:{self.server.server_port}"
        self.described = self.describe()
        threading.Thread(target=self.server.serve_forever, daemon=True).start()

    def registration(self) -> dict[str, Any]:
        addresses = {name: f"{self.url}/{name}" for name in ("login_url", "token_url", "keys_url")}
        return {"name": "Campus", "issuer": self.url, "client_id": self.client, **addresses}

    def claims(self, asked: str, /, **more: Any) -> dict[str, Any]:
        """A resource link request as in appendix C of LTI Core 1.3; `more` replaces claims, None leaves one out."""
        now = int(time.time())
        found = {
            "iss": self.url,
            "aud": self.client,
            "sub": "person-1",
            "exp": now + 300,
            "iat": now,
            "nonce": asked,
            "email": "ada@school.example",
            "email_verified": True,
            LTI + "message_type": "LtiResourceLinkRequest",
            LTI + "version": "1.3.0",
            LTI + "deployment_id": self.deployment,
            LTI + "target_link_uri": "https://tool.example/api/lti/launch",
            LTI + "resource_link": {"id": "link-1", "title": "Copper Lanterns"},
            LTI + "context": {"id": "course-1", "title": "Small ensembles"},
            LTI + "roles": [ROLES + "Learner"],
            AGS + "claim/endpoint": {
                "scope": [AGS + "scope/lineitem", AGS + "scope/score"],
                "lineitems": f"{self.url}/lines?type=all",
            },
            "https://purl.imsglobal.org/spec/lti-nrps/claim/namesroleservice": {
                "context_memberships_url": f"{self.url}/members",
                "service_versions": ["2.0"],
            },
        }
        return {name: value for name, value in (found | more).items() if value is not None}

    @staticmethod
    def sign(claims: dict[str, Any], *, key: Any = KEY, **header: Any) -> str:
        return jwt.encode({"alg": "RS256", "kid": KEY.kid} | header, claims, key)

    @staticmethod
    def sign_with_public_key(claims: dict[str, Any]) -> str:
        """HS256, the published key as its secret: the classic confusion of algorithms."""
        parts = [json.dumps(part).encode() for part in ({"alg": "HS256", "kid": KEY.kid}, claims)]
        text = b".".join(base64.urlsafe_b64encode(part).rstrip(b"=") for part in parts)
        sealed = hmac.new(KEY.as_pem(private=False), text, "sha256").digest()
        return (text + b"." + base64.urlsafe_b64encode(sealed).rstrip(b"=")).decode()

    def answer(self, method: str, url: str, headers: Any, body: bytes) -> tuple[int, Any, dict[str, str]]:
        path, query = urlsplit(url).path, parse_qs(urlsplit(url).query)
        self.seen.append(f"{method} {url}")
        if path == "/keys_url":
            return 200, KeySet([KEY]).as_dict(private=False), {}
        if path == "/token_url":
            return self._token(parse_qs(body.decode()))
        if path == "/.well-known/openid-configuration":
            return 200, self.described, {}
        if path == "/register":
            return self._register(headers, json.loads(body))
        if not headers.get("Authorization", "").startswith("Bearer for "):
            return 401, {}, {}
        scope = headers["Authorization"].rpartition("/")[2]
        if path == "/members":
            half = len(self.members) // 2
            rows = self.members[half:] if "more" in query else self.members[:half]
            link = {} if "more" in query else {"Link": f'<{self.url}/members?more=1>; rel="next"'}
            return 200, {"id": url, "context": {"id": "course-1"}, "members": rows}, link
        if path == "/lines" and scope == "lineitem":
            if method == "GET":
                return 200, self.lines, {}
            row = json.loads(body) | {"id": f"{self.url}/lines/{len(self.lines)}?type=all"}
            self.lines.append(row)
            return 201, row, {}
        if path.endswith("/scores") and scope == "score" and "type" in query:
            if self.refuse:
                return self.refuse, {"error": "not now"}, {}
            self.scores.append(json.loads(body))
            return 200, {"resultUrl": f"{self.url}/results/1"}, {}
        return 404, {}, {}

    def describe(self, **changed: Any) -> dict[str, Any]:
        """OpenID configuration of a platform (Dynamic Registration 1.0); `changed` replaces, None leaves one out."""
        found = {
            "issuer": self.url,
            "authorization_endpoint": f"{self.url}/login_url",
            "token_endpoint": f"{self.url}/token_url",
            "jwks_uri": f"{self.url}/keys_url",
            "registration_endpoint": f"{self.url}/register",
            "token_endpoint_auth_methods_supported": ["private_key_jwt"],
            "id_token_signing_alg_values_supported": ["RS256"],
            "scopes_supported": ["openid"],
        }
        return {name: value for name, value in (found | changed).items() if value is not None}

    def _register(self, headers: Any, asked: dict[str, Any]) -> tuple[int, Any, dict[str, str]]:
        """OpenID Connect Registration 1.0 with a token that is good once."""
        if headers.get("Authorization") != f"Bearer {self.good_once}" or not self.good_once:
            return 401, {"error": "invalid_token"}, {}
        self.good_once, self.registered = "", asked
        return 201, self.answers, {}

    def _token(self, form: dict[str, list[str]]) -> tuple[int, Any, dict[str, str]]:
        """Security Framework 1.0, 4.1.1: what must be in the assertion, and who signed it."""
        assertion = jwt.decode(form["client_assertion"][0], KeySet.import_key_set(self.tool_keys), algorithms=["RS256"])
        claims = assertion.claims
        right = (
            form["grant_type"] == ["client_credentials"]
            and form["client_assertion_type"] == ["urn:ietf:params:oauth:client-assertion-type:jwt-bearer"]
            and claims["iss"] == claims["sub"] == self.client
            and claims["aud"] == f"{self.url}/token_url"
            and claims["exp"] > time.time() > claims["iat"] - 1
            and claims["jti"]
        )
        token = {"access_token": f"for {form['scope'][0]}", "token_type": "Bearer", "expires_in": 3600}
        return (200, token, {}) if right else (400, {"error": "invalid_client"}, {})


def _handler(platform: CoursePlatform) -> type[BaseHTTPRequestHandler]:
    class Handler(BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            body = self.rfile.read(int(self.headers.get("Content-Length") or 0))
            status, content, headers = platform.answer(self.command, self.path, self.headers, body)
            raw = json.dumps(content).encode()
            self.send_response(status)
            for name, value in {"Content-Type": "application/json", "Content-Length": str(len(raw)), **headers}.items():
                self.send_header(name, value)
            self.end_headers()
            self.wfile.write(raw)

        do_POST = do_GET

        def log_message(self, *_: Any) -> None:
            return

    return Handler
