"""Pages of versions: side by side, how many play what, the quiz, the card for the jam session, the memory sheet."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.contrib.auth.decorators import login_required
from django.core import signing
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils.crypto import get_random_string
from django.views.decorators.http import require_http_methods, require_safe

from studio.instruments import instrument_choices
from studio.requests import MemberRequest
from tunes.access import refuse_held_chords
from tunes.harmony.comparison.variants import consensus
from tunes.models import ChartRevision, EarResult, LyricReference, Tune
from tunes.pitch import Sight, key_choices, pitch_label, read_sight, seen
from tunes.selectors import idioms
from tunes.study import StudyChart, chart_of, study_chart
from tunes.versions import selectors
from tunes.versions.card import card_of
from tunes.versions.memory import memory_of
from tunes.versions.missed import Missed, MissedBar, missed_with_the_band, with_missed
from tunes.versions.quiz import Question, build_quiz
from tunes.versions.sides import Line, side_by_side, what_changes

SALT = "tunes.versions.quiz"


def _tune(request: HttpRequest, pk: int) -> Tune:
    """The tune; 403 while its chords are held back from this person, because every page here shows them."""
    found = get_object_or_404(Tune, pk=pk)
    refuse_held_chords(request.user, found)
    return found


def _seen(request: HttpRequest, revision: ChartRevision) -> tuple[StudyChart, Sight, str]:
    """The first version as this person sees it, the sight, and the label of its pitch."""
    sight = read_sight(request.GET, request.user)
    concert = study_chart(revision)
    in_key = concert.transposed(sight.key) if sight.key else concert
    shown = seen(concert, sight)
    return shown, sight, pitch_label(shown, sight, in_key.key)


@require_safe
@login_required
def compare(request: HttpRequest, tune: int) -> HttpResponse:
    """Two or more versions in one key: what differs named, what is the same folded."""
    found = _tune(request, tune)
    rows = selectors.newest_revisions(found)
    context: dict[str, Any] = {"tune": found, "versions": rows}
    if len(rows) < 2:
        return render(request, "tunes/versions/compare.html", context)
    chosen = selectors.chosen_revisions(rows, request.GET.getlist("v"))
    shown, sight, label = _seen(request, chosen[0])
    table = side_by_side(shown.chart, [chart_of(row.text) for row in chosen[1:]])
    stretches = [{"stretch": stretch, "lines": [_line(line) for line in stretch.lines]} for stretch in table.stretches]
    context |= {
        "chosen": chosen, "chosen_ids": {row.version_id for row in chosen}, "table": table, "stretches": stretches,
        "pitch": label, "sight": sight, "instruments": instrument_choices(), "keys": key_choices(study_chart(chosen[0])),
        "show_all": request.GET.get("all") == "yes",
        "others": [
            {"row": row, "alignment": alignment, "moved": chart_of(row.text).key != chart_of(chosen[0].text).key}
            for row, alignment in zip(chosen[1:], table.alignments, strict=True)
        ],
    }  # fmt: skip
    if len(rows) > 2:
        charts = [shown.chart, *(chart_of(row.text) for row in rows if row != chosen[0])]
        lines = dict(enumerate(line for line in table.lines if line.number is not None))
        names = [chosen[0].version.name, *(row.version.name for row in rows if row != chosen[0])]
        context["consensus"] = [_consensus(bar, names, lines) for bar in consensus(charts)]
    return render(request, "tunes/versions/compare.html", context)


def _line(line: Any) -> dict[str, Any]:
    """A line with, per version, what a player changes when that version is called."""
    cells = [
        {"cell": cell, "changes": what_changes(line.played, cell.played) if not cell.same else ()}
        for cell in line.cells
    ]
    return {"line": line, "cells": cells}


def _consensus(bar: Any, names: list[str], lines: Mapping[int, Line]) -> dict[str, Any]:
    return {
        "number": lines[bar.bar].number,
        "written": lines[bar.bar].written,
        "agreed": bar.agreed,
        "choices": [
            {"chords": c.chords, "count": c.count, "names": [names[v] for v in c.versions]} for c in bar.choices
        ],
        "missing": [names[v] for v in bar.missing],
    }


# --- the quiz


def _questions(shown: StudyChart, rows: list[ChartRevision], seed: int, missed: Missed) -> tuple[Question, ...]:
    """The questions of a seed; bars that were missed with the other band first, also those that no version has."""
    named = [(row.version.name, chart_of(row.text)) for row in rows[1:5]]
    ids = [row.version_id for row in rows[1:5]]
    first = {(ids.index(one.version), one.bar) for one in missed if one.version in ids}
    by_rule = {one.bar: one for one in missed if not one.version}
    if by_rule:
        concert = chart_of(rows[0].text)
        first |= {(len(named), bar) for bar in by_rule}
        named.append(("another band", with_missed(concert, by_rule)))
    return build_quiz(shown.chart, named, seed, first)


@require_http_methods(["GET", "HEAD", "POST"])
@login_required
def quiz(request: MemberRequest, tune: int) -> HttpResponse:
    """A few questions on what other bands play, in the player's pitch; the seed travels signed, so the key stays here."""
    found = _tune(request, tune)
    rows = selectors.newest_revisions(found)
    context: dict[str, Any] = {"tune": found}
    missed = missed_with_the_band(request.user, found, rows[0]) if rows else ()
    if len(rows) < 2 and not missed:
        return render(request, "tunes/versions/quiz.html", context, status=422 if request.method == "POST" else 200)
    shown, sight, label = _seen(request, rows[0])
    context |= {
        "pitch": label,
        "sight": sight,
        "instruments": instrument_choices(),
        "keys": key_choices(study_chart(rows[0])),
    }
    if request.method == "POST":
        sent = _seed(request.POST.get("sheet", ""), found, rows)
        if sent is None:
            context["problem"] = "The charts have changed since this quiz was drawn. Here is a fresh one."
        else:
            questions = _questions(shown, rows, *sent)
            return render(request, "tunes/versions/quiz.html", context | _marked(request, found, questions))
    seed = int(get_random_string(8, "123456789"))
    questions = _questions(shown, rows, seed, missed)
    sheet = signing.dumps([found.pk, [row.pk for row in rows], seed, [one.to_json() for one in missed]], salt=SALT)
    status = 422 if request.method == "POST" else 200
    return render(
        request, "tunes/versions/quiz.html", context | {"questions": questions, "sheet": sheet}, status=status
    )


def _seed(sheet: str, tune: Tune, rows: list[ChartRevision]) -> tuple[int, Missed] | None:
    """The seed of a sheet that was drawn from exactly these charts, and the bars that it asks about first."""
    try:
        pk, revisions, seed, missed = signing.loads(sheet, salt=SALT, max_age=86_400)
    except (signing.BadSignature, ValueError, TypeError):
        return None
    fits = pk == tune.pk and revisions == [row.pk for row in rows]
    return (int(seed), tuple(MissedBar.from_json(row) for row in missed)) if fits else None


def _marked(request: MemberRequest, tune: Tune, questions: tuple[Question, ...]) -> dict[str, Any]:
    results = []
    for question in questions:
        given = request.POST.get(question.id, "")
        place = int(given) if given in map(str, range(len(question.options))) else None
        results.append(
            {"question": question, "given": question.options[place] if place is not None else "",
             "right": place == question.answer, "answer": question.options[question.answer]}
        )  # fmt: skip
    right = sum(1 for result in results if result["right"])
    if questions:
        EarResult.objects.create(
            player=request.user, tune=tune, kind=EarResult.Kind.VARIANTS, score=right / len(questions),
            detail={"right": right, "asked": len(questions)},
        )  # fmt: skip
    return {"results": results, "right": right}


# --- on paper


@require_safe
@login_required
def card(request: HttpRequest, tune: int) -> HttpResponse:
    """The agreed chart with every known variant at its bar, on one small sheet, in the player's key."""
    found = _tune(request, tune)
    rows = selectors.newest_revisions(found)
    context: dict[str, Any] = {"tune": found, "rows": rows}
    if rows:
        shown, sight, label = _seen(request, rows[0])
        context |= {"card": card_of(shown.chart, [(row.version.name, chart_of(row.text)) for row in rows[1:7]]),
                    "pitch": label, "sight": sight, "instruments": instrument_choices()}  # fmt: skip
    return render(request, "tunes/versions/card.html", context)


@require_safe
@login_required
def memory_sheet(request: HttpRequest, tune: int) -> HttpResponse:
    """What a player can hold in the head: the numbers of every section once, where they head, idioms, variants."""
    found = get_object_or_404(Tune, pk=tune)
    held = refuse_held_chords(request.user, found, form=True)
    rows = selectors.newest_revisions(found)
    context: dict[str, Any] = {"tune": found, "rows": rows, "held": held}
    if rows and not held:
        shown, sight, label = _seen(request, rows[0])
        others = [(row.version.name, chart_of(row.text)) for row in rows[1:5]]
        context |= {
            "memory": memory_of(shown, list(idioms()), others, list(found.phrases.all())), "pitch": label,
            "sight": sight, "instruments": instrument_choices(), "chart": rows[0],
            "words": LyricReference.objects.filter(tune=found).first(),
        }  # fmt: skip
    return render(request, "tunes/versions/memory.html", context)
