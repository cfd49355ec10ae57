"""The ledger: players by tunes for instructors, one's own tunes for players, requirements for the director."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.core.paginator import Paginator
from django.http import Http404, HttpRequest, HttpResponse, StreamingHttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.text import slugify
from django.views.decorators.http import require_GET, require_http_methods

from studio.access import director_required, instructor_required, is_instructor
from studio.audit import record
from studio.models import AuditEntry, Ensemble
from studio.requests import MemberRequest
from studio.web import paginate
from tunes.models import Tune

from ..access import attempts_led, players_led
from ..forms import RequirementRow, wanted
from ..kinds import KINDS
from ..learned import Requirement
from ..selectors import ledger as read
from ..selectors.ledger_now import now_of, with_now
from ..services.requirements import set_requirements
from .query import chosen_ensemble, words_of

TUNES_ACROSS = 6
PLAYERS_DOWN = 25


@login_required
@require_GET
def index(request: HttpRequest) -> HttpResponse:
    """Players by tunes. A player's own page for everyone who leads nothing."""
    if not is_instructor(request.user):
        return redirect("work:my-tunes")
    required = read.requirements()
    context = chosen_ensemble(request) | {"asked": _asked(required)}
    if ensemble := context["ensemble"]:
        tunes = _tunes(request, ensemble)
        across = _page_of(request, list(tunes), "tunes", TUNES_ACROSS)
        players = paginate(request, read.players_of(ensemble), per_page=PLAYERS_DOWN)
        rows = with_now(read.grid(list(players), list(across), required), across)
        context |= {
            "across": across,
            "page": players,
            "words": words_of(request.GET, "q"),
            "rows": rows,
            "by_tune": request.GET.get("by") == "tune",
            "columns": _columns(rows, list(across)),
            **_open(rows),
        }
    return render(request, "assessments/ledger.html", context)


def _columns(rows: Sequence[read.LedgerRow], tunes: Sequence[Tune]) -> list[dict[str, Any]]:
    """The same page tune by tune, with how many of its players have learned each."""
    columns = []
    for at, tune in enumerate(tunes):
        cells = [(row.player, row.cells[at][1]) for row in rows]
        columns.append({"tune": tune, "cells": cells, "learned": sum(found.learned for _, found in cells)})
    return columns


def _open(rows: Sequence[read.LedgerRow]) -> dict[str, int]:
    """How many steps of the page are late, and how many wait for review."""
    steps = [step for row in rows for _, found in row.cells for step in found.steps]
    return {
        "late": sum(bool(step.late) and not step.sent and not step.done for step in steps),
        "waiting": sum(step.sent for step in steps),
    }


def _tunes(request: HttpRequest, ensemble: Ensemble) -> Any:
    rows = read.tunes_of(ensemble)
    for word in words_of(request.GET, "q").split()[:6]:
        rows = rows.filter(title__icontains=word)
    return rows


def _page_of(request: HttpRequest, rows: Any, name: str, per_page: int) -> Any:
    return Paginator(rows, per_page).get_page(request.GET.get(name))


def _asked(required: Sequence[Requirement]) -> list[dict[str, Any]]:
    return [{"kind": KINDS[r.kind], "pass_mark": r.pass_mark, "times": r.times} for r in required]


@login_required
@require_GET
def mine(request: MemberRequest) -> HttpResponse:
    """A player's own tunes: what is done, what is missing, on what evidence."""
    page = paginate(request, list(read.player_tunes(request.user)), per_page=20)
    required = read.requirements()
    return render(
        request,
        "assessments/player.html",
        {
            "player": request.user,
            "own": True,
            "page": page,
            "asked": _asked(required),
            **_rows(request.user, read.own_page(request.user, list(page), for_player=True, asked=required)),
        },
    )


@instructor_required
@require_GET
def player(request: HttpRequest, pk: int) -> HttpResponse:
    """One player's tunes, for who leads one of their ensembles."""
    found = get_object_or_404(players_led(request.user), pk=pk)
    page = paginate(request, list(read.player_tunes(found)), per_page=20)
    required = read.requirements()
    return render(
        request,
        "assessments/player.html",
        {
            "player": found,
            "own": False,
            "page": page,
            "asked": _asked(required),
            **_rows(found, read.own_page(found, list(page), for_player=False, asked=required)),
        },
    )


def _rows(player: Any, standings: list[Any]) -> dict[str, Any]:
    """Each tune and standing with what the player did on their own: what is in hand first, then what is learned, then what
    was only heard; and how many there are of each on the page."""
    now = now_of([player.pk], [tune.pk for tune, _ in standings])
    standings = [(tune, now.on(player.pk, tune.pk, found)) for tune, found in standings]
    work = read.own_work(player, [tune for tune, _ in standings])
    groups: dict[str, list[Any]] = {"asked_now": [], "learned": [], "heard_only": []}
    for tune, found in standings:
        asked = any(step.asked and not step.done for step in found.steps)
        group = "learned" if found.learned else "asked_now" if asked or found.done_count > 1 else "heard_only"
        groups[group].append((tune, found, work.get(tune.pk, ())))
    rows = [row for group in groups.values() for row in group]
    return {"rows": rows} | {name: len(group) for name, group in groups.items()}


@instructor_required
@require_GET
def evidence(request: HttpRequest, pk: int, tune: int) -> HttpResponse:
    """Everything on record about one player and one tune, withdrawals included."""
    found = get_object_or_404(players_led(request.user), pk=pk)
    piece = get_object_or_404(Tune, pk=tune)
    page = paginate(request, list(read.evidence_of(found, piece)), per_page=40)  # its standing reads them all anyway
    may_open = set(
        attempts_led(request.user)
        .filter(pk__in=[row.attempt_id for row in page if row.attempt_id])
        .values_list("pk", flat=True)
    )
    standing = read.own_page(found, [piece], for_player=False)[0][1]
    return render(
        request,
        "assessments/evidence.html",
        {
            "player": found,
            "tune": piece,
            "page": page,
            "may_open": may_open,
            "standing": standing,
            "excuses": read.excuses([pk], [tune]),
        },
    )


@instructor_required
@require_GET
def export(request: MemberRequest) -> HttpResponse | StreamingHttpResponse:
    """The whole ledger of one ensemble as CSV."""
    ensemble = chosen_ensemble(request)["ensemble"]
    if ensemble is None:
        raise Http404
    record(AuditEntry.Kind.EXPORT, f"Ledger of {ensemble.name} as CSV", by=request.user)
    lines = read.csv_lines(ensemble, list(_tunes(request, ensemble)))
    response = StreamingHttpResponse(lines, content_type="text/csv; charset=utf-8")
    name = f"ledger-{slugify(ensemble.name) or 'ensemble'}-{timezone.localdate():%Y-%m-%d}.csv"
    response["Content-Disposition"] = f'attachment; filename="{name}"'
    return response


@instructor_required
@require_GET
def known(request: HttpRequest) -> HttpResponse:
    """Which tunes does this whole ensemble know, and who is missing where it is nearly everyone?"""
    context = chosen_ensemble(request) | {"everyone": request.GET.get("show") != "all"}
    if ensemble := context["ensemble"]:
        by_tune = read.known_by(ensemble)
        size = read.players_of(ensemble).count()
        rows = read.tunes_of(ensemble)
        if context["everyone"]:
            rows = Tune.objects.filter(pk__in=[t for t, who in by_tune.items() if size and len(who) == size])
        page = paginate(request, rows)
        context |= {"page": page, "size": size, "rows": read.known_tunes(ensemble, list(page), by_tune)}
    return render(request, "assessments/known.html", context)


@director_required
@require_http_methods(["GET", "POST"])
def requirements(request: HttpRequest) -> HttpResponse:
    """What the programme asks for before a tune counts as learned."""
    now = {r.kind: r for r in read.requirements()}
    rows = [
        RequirementRow(
            request.POST or None,
            kind=kind,
            prefix=kind,
            initial={
                "on": kind in now,
                "pass_mark": now[kind].pass_mark if kind in now else 80,
                "times": now[kind].times if kind in now else 1,
            },
        )
        for kind in KINDS
    ]
    if request.method == "POST" and not [row for row in rows if not row.is_valid()]:
        set_requirements(rows=wanted(rows))
        messages.success(request, "Saved. The ledger now counts by these.")
        return redirect("work:requirements")
    return render(
        request, "assessments/requirements.html", {"rows": rows}, status=422 if request.method == "POST" else 200
    )
