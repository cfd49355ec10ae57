"""Wrong passwords: waits that grow, for an account and an address together, so that no stranger locks an owner out.

The first few tries are free, as after a typing mistake; then the wait doubles up to five minutes. Another address is not
touched by it. Where one account is tried from very many addresses, those that it never signed in from are sent to the
mail link, which only the owner has; the owner's own places go on as before. Kept in the cache that all processes share.
"""

from __future__ import annotations

import hashlib
import math
import time

from django.core.cache import cache

FREE, FIRST, LONGEST = 4, 5.0, 300.0  # tries without a wait; seconds
MEMORY = 60 * 60  # seconds until failures are forgotten
FROM_EVERYWHERE = 100  # failures of one account within an hour, from all addresses
KNOWN = 60 * 60 * 24 * 90  # how long an address counts as one of the owner's


def refusal(login: str, address: str) -> str:
    """Why this account cannot be tried from this address now, "" when it can."""
    if (left := seconds_left(login, address)) > 0:
        return f"Too many wrong passwords from here. Wait {said(left)}, or choose “Forgot your password?” to get in by a link in a letter."
    if cache.get(_key("all", login), 0) >= FROM_EVERYWHERE and not cache.get(_key("known", login, address)):
        return "Somebody has tried many passwords for this account. Choose “Forgot your password?” to get in by a link in a letter."
    return ""


def seconds_left(login: str, address: str) -> int:
    """Seconds until the next try; 0 and less: now."""
    kept: tuple[int, float] = cache.get(_key("tries", login, address), (0, 0.0))
    return math.ceil(kept[1] - time.time())


def failed(login: str, address: str) -> None:
    """A wrong password."""
    tries = cache.get(_key("tries", login, address), (0, 0.0))[0] + 1
    wait = min(LONGEST, FIRST * 2 ** (tries - FREE - 1)) if tries > FREE else 0.0
    cache.set(_key("tries", login, address), (tries, time.time() + wait), MEMORY)
    cache.set(_key("all", login), cache.get(_key("all", login), 0) + 1, MEMORY)


def first_of_nobody(address: str) -> bool:
    """True once an hour and address: a sign-in was tried there with an e-mail address that nobody here has."""
    return cache.add(_key("nobody", "", address), 1, MEMORY)


def signed_in(login: str, address: str) -> None:
    """The owner was here: by password, or by the link of a letter."""
    cache.delete_many([_key("tries", login, address), _key("all", login)])
    cache.set(_key("known", login, address), 1, KNOWN)


def _key(kind: str, login: str, address: str = "") -> str:
    return f"waits:{kind}:" + hashlib.sha256(f"{login.strip().lower()}\n{address}".encode()).hexdigest()


def said(seconds: int) -> str:
    """A time to wait in words."""
    minutes = math.ceil(seconds / 60)
    return f"{seconds} seconds" if seconds < 60 else "a minute" if minutes == 1 else f"{minutes} minutes"
