"""Background work of the repertoire; each room brings its own."""

from __future__ import annotations

from studio.rounds import DAY, Part, add_part
from studio.warm import ahead
from tunes import repertoire
from tunes.recordings import waves
from tunes.solos import jobs

__all__ = ["jobs"]
add_part(Part(name="waves", words="Drawing the shape of sounds", run=waves.draw_missing, every=DAY))
ahead(repertoire.read_ahead)
