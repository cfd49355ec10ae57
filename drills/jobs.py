"""Background work of the drills."""

from __future__ import annotations

from typing import Any

from drills.services import packs
from studio.jobs import Progress, handler


@handler(packs.KIND)
def make_pack(progress: Progress) -> dict[str, Any]:
    """Every part of a pack."""
    return packs.make_parts(progress)
