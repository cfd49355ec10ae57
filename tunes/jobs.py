"""Background work of the repertoire; each room brings its own."""

from __future__ import annotations

from studio.warm import ahead
from tunes import repertoire
from tunes.solos import jobs

__all__ = ["jobs"]
ahead(repertoire.read_ahead)
