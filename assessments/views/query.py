"""Reading what stands in an address: anything may be there."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from django.http import Http404

from studio.models import Ensemble


def words_of(query: Mapping[str, str], name: str, longest: int = 80) -> str:
    """Words to search for, without what no database takes (the zero byte)."""
    return (query.get(name) or "").replace("\x00", "").strip()[:longest]


def number_of(text: str | None) -> int | None:
    """A row's id, or None for anything that cannot be one."""
    return int(text) if text and text.isascii() and text.isdigit() and len(text) < 12 else None


def chosen_ensemble(query: Mapping[str, str], led: Sequence[Ensemble]) -> Ensemble | None:
    """The ensemble asked for; the first one led when none is. 404 for one that is not led."""
    asked = query.get("ensemble", "")
    if not asked:
        return led[0] if led else None
    found = next((ensemble for ensemble in led if str(ensemble.pk) == asked), None)
    if found is None:
        raise Http404
    return found
