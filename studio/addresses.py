"""People whose e-mail address nobody knows yet: a place on the roster, and no account until one is known.

OneRoster 1.2 leaves `email` of a user optional. The column of the account is never empty, because people sign in by it; in
its place stands an address below `invalid`, where no mail can go (RFC 2606, section 2; RFC 6761, section 6.4), as after an
erasure. Pages, files and calls show `User.address`, which is "" then.
"""

from __future__ import annotations

import uuid

NOWHERE = ".invalid"
_WAITING = "@no-address.invalid"


def is_known(email: str) -> bool:
    """Whether mail can go there.

    >>> is_known("ada@school.example"), is_known("former-3@nobody.invalid")
    (True, False)
    """
    return not email.lower().endswith(NOWHERE)


def unknown() -> str:
    """What stands in the column until an address is known; of one person alone."""
    return f"{uuid.uuid4().hex}{_WAITING}"


def of_row(school_id: str) -> str:
    """What holds the rows of one person together in a roster that names no address of theirs."""
    return f"{school_id}{_WAITING}"
