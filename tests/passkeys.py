"""A device that makes passkeys and answers for them, as the browser would hand its answers to the page.

Written after W3C Web Authentication, sections 6.1 (authenticator data), 6.5.4 (attestation object) and 7.2 (what is signed);
the byte formats come from the reference library for the other side (python-fido2), the key and signature from `cryptography`.
"""

from __future__ import annotations

import hashlib
import json
import secrets
from dataclasses import dataclass, field
from typing import Any

from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.asymmetric import ec
from fido2.cose import ES256
from fido2.utils import websafe_encode
from fido2.webauthn import AttestationObject, AttestedCredentialData, AuthenticatorData


def _new_key() -> ec.EllipticCurvePrivateKey:
    return ec.generate_private_key(ec.SECP256R1())


@dataclass
class Device:
    """One key, good for one site. `verifies`: it asks its owner for finger, face or PIN."""

    site: str = "localhost"
    origin: str = "http://localhost"
    verifies: bool = True
    key: ec.EllipticCurvePrivateKey = field(default_factory=_new_key)
    number: bytes = field(default_factory=lambda: secrets.token_bytes(16))

    def _said(self, kind: str, challenge: str) -> bytes:
        return json.dumps({"type": kind, "challenge": challenge, "origin": self.origin, "crossOrigin": False}).encode()

    def _data(self, made: AttestedCredentialData | None = None) -> AuthenticatorData:
        flags = AuthenticatorData.FLAG.UP | (AuthenticatorData.FLAG.UV if self.verifies else 0)
        flags |= AuthenticatorData.FLAG.AT if made else 0
        return AuthenticatorData.create(hashlib.sha256(self.site.encode()).digest(), flags, 1, made or b"")

    def create(self, challenge: str) -> dict[str, Any]:
        """The answer of `navigator.credentials.create`."""
        made = AttestedCredentialData.create(
            b"\0" * 16, self.number, ES256.from_cryptography_key(self.key.public_key())
        )
        statement = AttestationObject.create("none", self._data(made), {})
        answer = {"attestationObject": websafe_encode(statement), "transports": ["internal"]}
        return self._answer("webauthn.create", challenge, answer)

    def get(self, challenge: str, owner: str) -> dict[str, Any]:
        """The answer of `navigator.credentials.get`; `owner`: the handle of the account that it was made for."""
        data, said = self._data(), self._said("webauthn.get", challenge)
        signed = self.key.sign(data + hashlib.sha256(said).digest(), ec.ECDSA(hashes.SHA256()))
        answer = {
            "authenticatorData": websafe_encode(data),
            "signature": websafe_encode(signed),
            "userHandle": websafe_encode(owner.encode()),
        }
        return self._answer("webauthn.get", challenge, answer)

    def _answer(self, kind: str, challenge: str, answer: dict[str, Any]) -> dict[str, Any]:
        return {
            "type": "public-key",
            "id": websafe_encode(self.number),
            "rawId": websafe_encode(self.number),
            "authenticatorAttachment": "platform",
            "response": answer | {"clientDataJSON": websafe_encode(self._said(kind, challenge))},
            "clientExtensionResults": {"credProps": {"rk": True}},
        }
