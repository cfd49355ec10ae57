"""Byte ranges of one file, as RFC 9110 section 14 asks. Pure: header text in, an answer out.

Only `bytes` ranges are known. A request for several ranges is answered with the whole file, which section
14.2 allows; no player of audio asks for several.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace

_ONE = re.compile(r"(\d{0,19})-(\d{0,19})")


MOST = 1024 * 1024
"""Bytes of one part. A server may send less than a range asks for, and a player asks for the rest when it has played that
far (RFC 9110, section 15.3.7): so a part is small enough to be handed over whole, however slow the listener."""


@dataclass(frozen=True)
class Span:
    """Bytes `first` to `last`, both included, of a file of `size` bytes."""

    first: int
    last: int
    size: int

    @property
    def length(self) -> int:
        return self.last - self.first + 1

    @property
    def content_range(self) -> str:
        return f"bytes {self.first}-{self.last}/{self.size}"


class Unsatisfiable(ValueError):
    """No byte of the file lies in the range: answer 416 with `Content-Range: bytes */size`."""


def wanted(header: str | None, size: int) -> Span | None:
    """The span a `Range` header asks for; None when the header must be ignored. Raises `Unsatisfiable`.

    >>> wanted("bytes=0-99", 1000)
    Span(first=0, last=99, size=1000)
    >>> wanted("bytes=-200", 1000)
    Span(first=800, last=999, size=1000)
    >>> wanted("lines=1-2", 1000) is None
    True
    """
    if not header:
        return None
    unit, equals, ranges = header.partition("=")
    match = _ONE.fullmatch(ranges.strip())
    if unit.strip().lower() != "bytes" or not equals or match is None or ranges.strip() == "-":
        return None
    first, last = match[1], match[2]
    if not first:
        return _suffix(int(last), size)
    begin = int(first)
    end = int(last) if last else size - 1
    if last and end < begin:
        return None  # an invalid range is ignored (14.1.2)
    if begin >= size:
        raise Unsatisfiable(header)
    return Span(begin, min(end, size - 1), size)


def _suffix(length: int, size: int) -> Span:
    if length == 0 or size == 0:
        raise Unsatisfiable("a suffix of no bytes")
    return Span(max(0, size - length), size - 1, size)


def if_range_holds(header: str | None, etag: str, last_modified: str) -> bool:
    """Whether `If-Range` lets the range stand (13.1.5): a strong entity tag or the exact date must match.

    >>> if_range_holds('"abc"', '"abc"', ""), if_range_holds('W/"abc"', '"abc"', ""), if_range_holds(None, "", "")
    (True, False, True)
    """
    if not header:
        return True
    value = header.strip()
    if value.startswith(('"', "W/")):
        return value == etag and not etag.startswith("W/")
    return value == last_modified


def bounded(span: Span | None) -> Span | None:
    """The first `MOST` bytes of a range."""
    return span and replace(span, last=min(span.last, span.first + MOST - 1))
