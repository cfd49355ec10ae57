"""Pages of by-ear sheets. A sheet is its owner's alone: to everybody else it does not exist."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from studio.requests import MemberRequest
from tunes.access import Hold, closed, refuse_held_chords
from tunes.by_ear import selectors, services
from tunes.by_ear.compare import SheetVerdict, compare_sheet
from tunes.by_ear.reading import read_bar
from tunes.harmony.charts.bar_count import bar_count
from tunes.harmony.chords.from_notes import chords_of, name_in_key
from tunes.harmony.pitch.spelling import Key, SpellingError
from tunes.models import ByEarSheet, Recording, Tune
from tunes.recordings.charts import form_revision
from tunes.selectors import revisions_for_study
from tunes.study import chart_of, study_chart


class BeginForm(forms.Form):
    """What to hear, and how to take it down."""

    recording = forms.ModelChoiceField(
        Recording.objects.none(), label="Which recording you hear", required=False, empty_label="none of them"
    )
    way = forms.ChoiceField(
        choices=ByEarSheet.Way.choices, initial="bass", label="How you take it down", widget=forms.RadioSelect
    )

    def __init__(self, *args: Any, tune: Tune, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        rows = tune.recordings.all()
        self.fields["recording"].queryset = rows  # type: ignore[attr-defined]
        reference = next((row for row in rows if row.is_reference), None)
        self.fields["recording"].initial = reference.pk if reference else None


@require_http_methods(["GET", "HEAD", "POST"])
@login_required
def begin(request: MemberRequest, tune: int) -> HttpResponse:
    """Begin a sheet, or go on with one."""
    found = get_object_or_404(Tune, pk=tune)
    revision = form_revision(found)
    form = BeginForm(request.POST or None, tune=found)
    if request.method == "POST" and revision is not None and form.is_valid():
        data = form.cleaned_data
        made = services.start_sheet(
            user=request.user,
            revision=revision,
            recording=data["recording"],
            way=data["way"],
        )
        return redirect("tunes:by-ear", made.pk)
    context = {
        "tune": found, "revision": revision, "form": form,
        "sheets": list(selectors.sheets_of(request.user, found)[:20]), "closed": _closed(request, found),
    }  # fmt: skip
    status = 422 if request.method == "POST" else 200
    return render(request, "tunes/by_ear/begin.html", context, status=status)


# The keys on the page, C3 to C5: number and whether it is black.
KEYS = [(midi, midi % 12 in (1, 3, 6, 8, 10)) for midi in range(48, 73)]


def _closed(request: HttpRequest, tune: Tune) -> Hold | None:
    """Why the class's chart is closed to this person for now; None when it is open."""
    return closed(request.user, [tune]).get(tune.pk)


def _own(request: HttpRequest, pk: int) -> ByEarSheet:
    rows = ByEarSheet.objects.select_related("revision__version__tune", "recording__sound", "user")
    return get_object_or_404(rows, pk=pk, user=request.user)


@require_safe
@login_required
def sheet(request: HttpRequest, pk: int) -> HttpResponse:
    """The empty form: bars known, chords blank."""
    found = _own(request, pk)
    chart = chart_of(found.revision.text)
    rows = {row.bar: row for row in found.bars.all()}
    written = selectors.readings(chart, list(rows.values()))
    sections: list[dict[str, Any]] = []
    for index, bar in enumerate(chart.bars):
        if bar.is_pickup:
            continue
        if not sections or sections[-1]["index"] != bar.section:
            label = chart.sections[bar.section].label if chart.sections else ""
            sections.append({"index": bar.section, "label": label, "bars": []})
        sections[-1]["bars"].append({"index": index, "bar": bar, "row": rows.get(index), "reading": written.get(index)})
    context = {
        "sheet": found, "count": bar_count(chart), "tune": found.revision.version.tune, "sections": sections,
        "recording": found.recording, "sound": getattr(found.recording, "sound", None),
        "page_data": {"times": selectors.hearing_times(found.recording, chart), "user": request.user.pk},
        "can_undo": found.edits.exists(), "keyboard": KEYS, "chord_url": reverse("tunes:by-ear-chord"), "chord_key": chart.key.text if chart.key else "", "closed": _closed(request, found.revision.version.tune),
    }  # fmt: skip
    return render(request, "tunes/by_ear/sheet.html", context)


@require_POST
@login_required
def save(request: HttpRequest, pk: int) -> JsonResponse:
    """One field. Answers how it was understood, never whether it is right."""
    found = _own(request, pk)
    chart = chart_of(found.revision.text)
    name, text = request.POST.get("field", ""), request.POST.get("text", "")
    try:
        bar = int(request.POST.get("bar", ""))
    except ValueError:
        bar = -1
    if name not in services.FIELDS or not 0 <= bar < len(chart.bars):
        return JsonResponse({"problem": "There is no such bar. Reload the page; what you typed is kept."}, status=422)
    saved = services.save_field(sheet=found, bar=bar, field=name, text=text.replace("\x00", ""))
    reading = read_bar(saved.row.bass, saved.row.chords, chart.bars[bar].metre)
    return JsonResponse(
        {"echo": reading.echo, "problem": reading.problem, "saved": timezone.localtime().strftime("%H:%M")}
    )


@require_safe
@login_required
def chord_played(request: HttpRequest) -> JsonResponse:
    """Which chords a handful of keys may be, the likeliest first: `notes` (MIDI numbers), `key` for their spelling, `up`
    semitones for a reader of another pitch. Asks nothing of any chart."""
    try:
        notes = [int(part) for part in request.GET.get("notes", "")[:120].split(",") if part.strip()]
        up = int(request.GET.get("up") or 0)
        key = Key.parse(request.GET.get("key") or "C")
    except (ValueError, SpellingError):
        return JsonResponse({"problem": "These are no keys of a piano."}, status=422)
    if not all(0 <= note <= 127 for note in notes) or abs(up) > 36:
        return JsonResponse({"problem": "These are no keys of a piano."}, status=422)
    moved = [note + up for note in notes]
    lowest = name_in_key(min(moved) % 12, key).text if moved else ""
    return JsonResponse({"chords": [symbol.text for symbol in chords_of(moved, key)] if moved else [], "note": lowest})


@require_POST
@login_required
def undo(request: HttpRequest, pk: int) -> JsonResponse:
    """Take back the last step."""
    found = _own(request, pk)
    step = services.undo(sheet=found)
    if step is None:
        return JsonResponse({"done": False, "more": False})
    chart = chart_of(found.revision.text)
    row = found.bars.filter(bar=step.bar).first()
    reading = read_bar(row.bass, row.chords, chart.bars[step.bar].metre) if row else None
    return JsonResponse({
        "done": True, "bar": step.bar, "field": step.field, "text": step.before, "more": found.edits.exists(),
        "echo": reading.echo if reading else "", "problem": reading.problem if reading else "",
    })  # fmt: skip


@require_POST
@login_required
def share(request: HttpRequest, pk: int) -> HttpResponse:
    """Let the chart's checkers see what this sheet heard, without a name; or no longer."""
    found = _own(request, pk)
    services.set_shared(sheet=found, shared=request.POST.get("shared") == "yes")
    return redirect("tunes:by-ear-compare", pk)


def _verdict(found: ByEarSheet) -> SheetVerdict:
    study = study_chart(revisions_for_study().get(pk=found.revision_id))
    return compare_sheet(study, selectors.readings(study.chart, list(found.bars.all())))


@require_http_methods(["GET", "HEAD", "POST"])
@login_required
def compare(request: HttpRequest, pk: int) -> HttpResponse:
    """Beside the agreed chart. Before the first comparison the chart stays hidden, and while it is held back."""
    found = _own(request, pk)
    tune = found.revision.version.tune
    held = refuse_held_chords(request.user, tune)
    if request.method == "POST":
        result = _verdict(found)
        detail = {
            "asked": result.asked, "filled": result.filled, "roots": result.roots,
            "qualities": result.qualities, "functions": result.functions,
        }  # fmt: skip
        services.record_comparison(sheet=found, score=result.score, detail=detail)
        return redirect("tunes:by-ear-compare", pk)
    if found.compared is None:
        return redirect("tunes:by-ear", pk)
    context = {
        "sheet": found, "tune": tune, "result": _verdict(found),
        "held": held,
    }  # fmt: skip
    return render(request, "tunes/by_ear/compare.html", context)
