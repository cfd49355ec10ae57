"""Who may see what of the drills.

Everybody signed in makes drills of any chart. The names of functions and key areas on them are held back while a
player still has a quiz on that tune to answer. A practice log belongs to its player alone; a pack to its ensemble.
"""

from __future__ import annotations

from typing import Any

from django.db.models import QuerySet

from drills.models import Pack
from studio.access import chairs, is_director
from tunes.access import refuse_held_chords
from tunes.models import Tune


def analysis_is_open(user: Any, tune: Tune) -> bool:
    """Whether functions and key areas of a tune may be shown to this person; 403 while its very chords may not."""
    return not refuse_held_chords(user, tune)


def packs_seen(user: Any) -> QuerySet[Pack]:
    """Packs of the ensembles that a person leads, and finished ones of those they play in."""
    packs = Pack.objects.select_related("ensemble__term", "revision__version__tune", "job", "line__solo")
    if is_director(user):
        return packs
    mine = chairs(user)
    led = packs.filter(ensemble__in=mine.led)
    return (led | packs.filter(ensemble__in=mine.played, shared__isnull=False)).distinct()
