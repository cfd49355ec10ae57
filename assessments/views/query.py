"""Reading what stands in an address: anything may be there."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.http import Http404, HttpRequest

from studio.middleware import EnsembleInUseMiddleware
from studio.models import Ensemble

from ..selectors.choices import ensembles_to_choose


def words_of(query: Mapping[str, str], name: str, longest: int = 80) -> str:
    """Words to search for, without what no database takes (the zero byte)."""
    return (query.get(name) or "").replace("\x00", "").strip()[:longest]


def number_of(text: str | None) -> int | None:
    """A row's id, or None for anything that cannot be one."""
    return int(text) if text and text.isascii() and text.isdigit() and len(text) < 12 else None


def keep_ensemble(request: HttpRequest, ensemble: Ensemble) -> None:
    """Remember the ensemble in use: the next page that shows one opens on it."""
    request.in_use = ensemble.pk  # type: ignore[attr-defined]


def chosen_ensemble(request: HttpRequest) -> dict[str, Any]:
    """For a page about one ensemble: `ensembles` to choose from, those of ended terms when they are asked for (`older`), and
    the `ensemble` asked for; otherwise the one in use, or the first one led; None for who leads none. 404 for one that is
    not led. One query."""
    asked = request.GET.get("ensemble", "")
    used = request.COOKIES.get(EnsembleInUseMiddleware.COOKIE, "")
    older = request.GET.get("older") == "1"
    led = list(ensembles_to_choose(request.user, older=older, chosen=number_of(asked or used), never_none=True))
    by_id = {str(ensemble.pk): ensemble for ensemble in led}
    if asked and asked not in by_id:
        raise Http404
    if asked:
        keep_ensemble(request, by_id[asked])
    found: Ensemble | None = by_id.get(asked or used, led[0] if led else None)
    return {"ensembles": led, "older": older, "ensemble": found}
