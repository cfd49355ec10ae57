"""Background work of the repertoire; each room brings its own."""

from __future__ import annotations

from tunes.solos import jobs

__all__ = ["jobs"]
