"""Who may see, write and speak about a solo.

Its writer always; everybody of the ensemble that it is shared with (the director of every one). A solo that is not
shared is nobody's business, so it answers 404. A solo shows the chords it was played on: while those are held back
from a player (`tunes.access`), so is the solo.
"""

from __future__ import annotations

from typing import Any

from django.db.models import Q, QuerySet
from django.http import Http404

from studio.access import chairs, is_director, leads
from tunes.access import refuse_asked_solo, refuse_held_chords
from tunes.models import Solo

WITH = ("revision__version__tune", "recording__sound", "written_by", "shared_with")


def visible(user: Any) -> QuerySet[Solo]:
    """The solos that a person may see, held chords aside."""
    rows = Solo.objects.select_related(*WITH)
    if is_director(user):
        return rows.filter(Q(written_by=user) | Q(shared_with__isnull=False))
    held = chairs(user)
    return rows.filter(Q(written_by=user) | Q(shared_with__in=held.led | held.played))


def seen_or_404(user: Any, pk: int) -> Solo:
    """The solo, if this person may see it. Raises `ChordsHeld` or `SoloHeld` (403) while its chords are held back from them, or
    its notes are what they are asked to write out."""
    found = _open(user, visible(user).filter(pk=pk).first())
    refuse_asked_solo(user, found)
    return found


def written_or_404(user: Any, pk: int) -> Solo:
    """The solo, if this person writes it; somebody else's is not found. Raises `ChordsHeld` as above."""
    return _open(user, Solo.objects.select_related(*WITH).filter(pk=pk, written_by=user).first())


def _open(user: Any, solo: Solo | None) -> Solo:
    if solo is None:
        raise Http404
    solo.reading_held = refuse_held_chords(user, solo.revision.version.tune_id)  # type: ignore[attr-defined]
    return solo


def may_ask(user: Any, solo: Solo) -> bool:
    """Whether a person may set what is asked: who leads the ensemble it is shared with, and its writer."""
    return solo.written_by_id == user.pk or teaches(user, solo)


def may_say(user: Any, solo: Solo) -> bool:
    """Whether a person's word on notes and passages stands on the page: its writer's, and that of who leads its ensemble."""
    return solo.written_by_id == user.pk or teaches(user, solo)


def teaches(user: Any, solo: Solo) -> bool:
    return solo.shared_with_id is not None and leads(user, solo.shared_with_id)
