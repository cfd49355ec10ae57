"""Reading what stands in an address: anything may be there."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from django.http import Http404, HttpRequest

from studio.middleware import EnsembleInUseMiddleware
from studio.models import Ensemble


def words_of(query: Mapping[str, str], name: str, longest: int = 80) -> str:
    """Words to search for, without what no database takes (the zero byte)."""
    return (query.get(name) or "").replace("\x00", "").strip()[:longest]


def number_of(text: str | None) -> int | None:
    """A row's id, or None for anything that cannot be one."""
    return int(text) if text and text.isascii() and text.isdigit() and len(text) < 12 else None


def keep_ensemble(request: HttpRequest, ensemble: Ensemble) -> None:
    """Remember the ensemble in use: the next page that shows one opens on it."""
    request.in_use = ensemble.pk  # type: ignore[attr-defined]


def chosen_ensemble(request: HttpRequest, led: Sequence[Ensemble]) -> Ensemble | None:
    """The ensemble asked for; otherwise the one in use, or the first one led. 404 for one that is not led."""
    asked = request.GET.get("ensemble", "")
    by_id = {str(ensemble.pk): ensemble for ensemble in led}
    if not asked:
        return by_id.get(request.COOKIES.get(EnsembleInUseMiddleware.COOKIE, ""), led[0] if led else None)
    if asked not in by_id:
        raise Http404
    keep_ensemble(request, by_id[asked])
    return by_id[asked]
