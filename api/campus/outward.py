"""Calls from the site to addresses that a director typed: course platforms, receivers of webhooks.

Such an address must not become a way into the network that the site stands in (server-side request forgery; ASVS 5.0,
1.3.6). The name is looked up once, every address that it has must be a public one, and the connection goes to the address
that was looked at, so that a second look-up cannot answer otherwise. Redirects are not followed, answers are bounded in
size and time. `TOPFORM_INNER_NETWORK=1` allows inner addresses and plain http, for a school whose systems stand there.
"""

from __future__ import annotations

import ipaddress
import json
import socket
import time
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any
from urllib.parse import urlsplit

import urllib3
from django.conf import settings

CONNECT, READ, WHOLE = 5.0, 10.0, 20.0  # seconds
MOST = 2_000_000  # bytes of an answer
_THROUGH_IPV4 = [ipaddress.ip_network(text) for text in ("64:ff9b::/96", "64:ff9b:1::/48", "2002::/16", "2001::/32")]


class Unreachable(Exception):
    """No answer: the address is not allowed, or nothing answers there. The message is for a director."""


@dataclass(frozen=True)
class Answer:
    """What came back. `headers` has lower-case names."""

    status: int
    headers: Mapping[str, str]
    body: bytes

    @property
    def good(self) -> bool:
        return 200 <= self.status < 300

    @property
    def text(self) -> str:
        """The beginning of the body, as one line."""
        return " ".join(self.body[:1000].decode("utf-8", "replace").replace("\x00", "").split())[:250]

    def json(self) -> Any:
        """The body as JSON; raises `Unreachable` when it is none."""
        try:
            return json.loads(self.body)
        except ValueError as error:
            raise Unreachable("The answer is not JSON.") from error


def refusal(url: str) -> str:
    """Why an address is not called, without looking it up; "" for one that may be tried."""
    try:
        parts = urlsplit(url)
        port = parts.port
    except ValueError:
        return "This is no address."
    if parts.scheme not in ("https", "http") or not parts.hostname or parts.username or port == 0:
        return "Give a whole address that begins with https:// and holds no name or password."
    if parts.scheme != "https" and not settings.INNER_NETWORK:
        return "The address must begin with https://."
    literal = parts.hostname
    try:
        inner = not _public(ipaddress.ip_address(literal))
    except ValueError:
        inner = literal == "localhost" or literal.endswith((".localhost", ".local", ".internal"))
    if inner and not settings.INNER_NETWORK:
        return "This address is inside the site's own network."
    return ""


def call(method: str, url: str, *, body: bytes | None = None, headers: Mapping[str, str] | None = None) -> Answer:
    """One request, one answer of any status. Raises `Unreachable`."""
    if why := refusal(url):
        raise Unreachable(why)
    parts = urlsplit(url)
    host, secure = str(parts.hostname), parts.scheme == "https"
    port = parts.port or (443 if secure else 80)
    address = _address(host, port)
    target = f"[{address}]" if ":" in address else address
    timeout = urllib3.Timeout(connect=CONNECT, read=READ)
    pool: urllib3.HTTPConnectionPool
    if secure:
        pool = urllib3.HTTPSConnectionPool(target, port, timeout=timeout, server_hostname=host, assert_hostname=host)
    else:
        pool = urllib3.HTTPConnectionPool(target, port, timeout=timeout)
    path = (parts.path or "/") + (f"?{parts.query}" if parts.query else "")
    sent = {"Host": parts.netloc, "User-Agent": f"Topform/{settings.VERSION}", **(headers or {})}
    try:
        with pool:
            found = pool.request(
                method, path, body=body, headers=sent, retries=False, redirect=False, preload_content=False
            )
            content = _bounded(found)
            found.close()
    except urllib3.exceptions.HTTPError as error:
        raise Unreachable(f"{host} did not answer: {_plain(error)}.") from error
    return Answer(found.status, {name.lower(): value for name, value in found.headers.items()}, content)


def _bounded(found: Any) -> bytes:
    """The body, of so many bytes and in so much time at most."""
    begun, parts, size = time.monotonic(), [], 0
    for part in found.stream(65536):
        parts.append(part)
        size += len(part)
        if size > MOST or time.monotonic() - begun > WHOLE:
            raise Unreachable("The answer is too long, or takes too long.")
    return b"".join(parts)


def _address(host: str, port: int) -> str:
    """The address to connect to; raises `Unreachable` when one of those that the name has is not public."""
    try:
        rows = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM)
    except (OSError, UnicodeError) as error:
        raise Unreachable(f"There is no machine called {host}.") from error
    found = [str(row[4][0]).partition("%")[0] for row in rows]
    if not settings.INNER_NETWORK and not all(_public(ipaddress.ip_address(one)) for one in found):
        raise Unreachable(f"{host} is inside the site's own network.")
    return found[0]


def _public(address: ipaddress.IPv4Address | ipaddress.IPv6Address) -> bool:
    """Reached over the open internet, and not an IPv6 way to some IPv4 address."""
    if isinstance(address, ipaddress.IPv6Address):
        if address.ipv4_mapped:
            return _public(address.ipv4_mapped)
        if any(address in net for net in _THROUGH_IPV4):
            return False
    return address.is_global and not address.is_multicast


def _plain(error: Exception) -> str:
    kind = type(error).__name__
    words = {
        "ConnectTimeoutError": "no connection in time",
        "ReadTimeoutError": "no answer in time",
        "NewConnectionError": "nothing listens there",
        "SSLError": "its certificate is not valid",
        "NameResolutionError": "the name is unknown",
    }
    return words.get(kind, "the connection broke")
