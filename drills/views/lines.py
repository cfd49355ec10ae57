"""The class's vocabulary: lines cut from its solos, one of them in twelve keys and in every place where it can stand."""

from __future__ import annotations

import uuid
from collections.abc import Sequence
from typing import Any

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.text import slugify
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from drills import kept_lines, line_keys, line_search
from drills.engraving import engrave
from drills.forms import TEMPO_HIGH, TEMPO_LOW, PractisedForm
from drills.line_sound import over_band
from drills.lines.line import Line
from drills.lines.passage import EmptyPassage
from drills.models import KeptLine
from drills.services import line_keys as keys
from drills.services import lines as write
from drills.services import packs
from drills.sheets import in_words
from drills.takes.plans import NothingToRecord, line_plan
from drills.takes.record import recorder
from drills.vocabulary import Carried, NothingToCut
from drills.wishes import Wish
from studio.access import leads
from studio.instruments import Instrument, instrument_choices
from studio.models import User
from studio.web import is_part, paginate, with_microphone
from tunes import selectors as repertoire
from tunes.access import signed_in_required
from tunes.harmony.charts.bar_count import bars_named
from tunes.harmony.pitch.spelling import Key
from tunes.solos.access import seen_or_404
from tunes.solos.reading import signed
from tunes.solos.selectors import reader_of
from tunes.study import ChartUnreadable

TEMPO = 100
KEYBOARD = tuple((midi, midi % 12 in (1, 3, 6, 8, 10)) for midi in range(53, 82))  # F3 to A5
REFUSED = "That cannot be cut: {}."


@require_safe
@signed_in_required
def index(request: HttpRequest) -> HttpResponse:
    """Every line that a person may see, the newest first, narrowed by what `drills.line_search.read` takes."""
    asked = line_search.read(request.GET)
    seen = kept_lines.lines_seen(request.user)
    rows, near = line_search.found(seen, asked)
    page = paginate(request, rows)
    for row in page:
        row.near = near.get(row.pk, "")
    functions = sorted(set(seen.order_by().values_list("pattern", "functions")), key=lambda one: one[1])
    context = {
        "page": page, "asked": asked, "searched": any([asked.words, asked.functions, asked.degrees, asked.contour, asked.played]),
        "functions": {pattern: words.split(", from")[0] for pattern, words in functions}, "given": request.GET,
        "keyboard": KEYBOARD,
    }  # fmt: skip
    return render(request, "drills/lines.html", context)


@require_POST
@signed_in_required
def cut(request: HttpRequest, solo: int) -> HttpResponse:
    """Cut the notes `first` to `last` (from 0) of a solo."""
    found = seen_or_404(request.user, solo)
    if found.reading_held:  # type: ignore[attr-defined]
        raise PermissionDenied(found.reading_held)  # type: ignore[attr-defined]
    if why_not := kept_lines.not_yet_cut(request.user, found):
        messages.error(request, why_not)
        return redirect("tunes:solo", found.pk)
    try:
        first, last = (int(request.POST.get(name, "")) for name in ("first", "last"))
        row = write.keep_line(solo=found, first=first, last=last, by=request.user, name=request.POST.get("name", ""))  # type: ignore[arg-type]
    except (ValueError, NothingToCut) as problem:
        words = str(problem) if isinstance(problem, NothingToCut) else "say which note is the first and which the last"
        messages.error(request, REFUSED.format(words))
        return redirect("tunes:solo", found.pk)
    return redirect("drills:line", row.pk)


@with_microphone
@require_safe
@signed_in_required
def page(request: HttpRequest, pk: int) -> HttpResponse:
    """One line: `?key=` (or `tonic=`) which of the twelve is shown, `?as=` which variant, `?for=` the instrument."""
    agreed = repertoire.agreed_stamps()
    row, held = kept_lines.line_or_404(request.user, pk, set(agreed[1].values()))
    reader = reader_of(request.user, request.GET.get("for", ""))
    line, variants = line_keys.variants_of(kept_lines.line_of(row), request.GET.get("as", ""))
    twelve = kept_lines.twelve(line, reader)
    everybody = line_keys.keys_of(row)
    had = [one for one in everybody if one.user_id == request.user.pk]
    shown = line_keys.keys_shown(line, twelve, had, reader, _at(request, twelve, reader), timezone.now())
    now = next(key for key in shown if key.current)
    found = kept_lines.SHELF.find(line, held, agreed)
    places = paginate(request, found.by_chart(), per_page=kept_lines.PER_PAGE)
    item = next((one for one in had if one.tonic == now.tonic), None)
    teaching = bool(row.solo.shared_with_id and leads(request.user, row.solo.shared_with_id))
    context: dict[str, Any] = {
        "row": row, "line": line, "by_chord": [(words, [signed(one) for one in degrees]) for words, degrees in line.by_chord], "reader": reader, "pitch": Wish(instrument=reader.key).pitch_label, "instruments": instrument_choices(), "fitting": found.fitting, "place_count": len(found), "page": places,
        "keys": shown, "now": now, "counted": sum(key.state in ("done", "heard") for key in shown), "item": item,
        "charts": kept_lines.in_charts(list(places)),
        "may_name": kept_lines.may_name(request.user, row), "degrees": line.degrees, "variants": variants, "teaching": teaching,
        "played_by": line_keys.played_by(everybody, row, line, request.user), "may_show": any(one.times for one in had),
        "is_shown": any(one.shown for one in had),
        "practised_form": PractisedForm(initial={"tempo": line_keys.next_tempo(item), "token": uuid.uuid4()}, auto_id="practised-%s"),
        **_shown(twelve[now.at][1], line_keys.next_tempo(item), _per_system(request)),
    }  # fmt: skip
    context["record"] = None if line.changed else _recorder(request.user, row, now.at, reader, context.get("sound"))
    return render(request, "drills/line.html", context)


def _recorder(
    user: Any, row: KeptLine, at: int, reader: Instrument, playing: dict[str, Any] | None
) -> dict[str, Any] | None:
    try:
        return recorder(user, line_plan(row, at, reader), playing=playing)
    except NothingToRecord:
        return None


def _at(request: HttpRequest, twelve: Sequence[tuple[Key, Carried]], reader: Instrument) -> int | None:
    """Which of the twelve is asked for; None for none."""
    if "tonic" in request.GET:
        tonic = _number(request.GET["tonic"])
        return next((n for n, (key, _) in enumerate(twelve) if line_keys.tonic_of(key, reader) == tonic), None)
    return min(_number(request.GET["key"]), len(twelve) - 1) if "key" in request.GET else None


def _players(row: KeptLine) -> list[User]:
    return list(line_keys.players_of(row))


@require_POST
@signed_in_required
def practised(request: HttpRequest, pk: int) -> HttpResponse:
    """Log how it went in one key (`?tonic=`, concert pitch class), or with `show` who sees in which keys one plays it."""
    row, _ = kept_lines.line_or_404(request.user, pk)
    back = f"{reverse('drills:line', args=[pk])}?{request.GET.urlencode()}#keys-title"
    if "show" in request.POST:
        keys.show(user=request.user, line=row, shown=request.POST["show"] == "1")  # type: ignore[arg-type]
        return redirect(back)
    form = PractisedForm(request.POST)
    tonic = _number(request.GET.get("tonic"))
    if not form.is_valid() or tonic > 11:
        messages.error(request, "Not noted: say how it went, and a tempo from 30 to 320.")
        return redirect(back)
    data = form.cleaned_data
    item = keys.record(
        user=request.user, line=row, tonic=tonic, tempo=data["tempo"], went=data["went"], note=data["note"],  # type: ignore[arg-type]
        token=str(data["token"]),
    )  # fmt: skip
    messages.success(request, f"Noted. This key comes back on {timezone.localtime(item.due):%-d %B}.")
    return redirect(f"{reverse('drills:line', args=[pk])}?{_without_key(request)}#keys-title")


def _without_key(request: HttpRequest) -> str:
    query = request.GET.copy()
    for name in ("tonic", "key"):
        query.pop(name, None)
    return query.urlencode()


@require_http_methods(["GET", "HEAD", "POST"])
@signed_in_required
def heard(request: HttpRequest, pk: int) -> HttpResponse:
    """Who leads the ensemble says that a player (`player`) was heard in a key (`tonic`) at a `tempo`."""
    row, _ = kept_lines.line_or_404(request.user, pk)
    if not (row.solo.shared_with_id and leads(request.user, row.solo.shared_with_id)):
        raise PermissionDenied("Who leads the ensemble says what was heard.")
    players = _players(row)
    line, reader = kept_lines.line_of(row), reader_of(request.user, request.GET.get("for", ""))
    rows = [
        (line_keys.tonic_of(key, reader), line_keys.lands_on(line, key)) for key, _ in kept_lines.twelve(line, reader)
    ]
    context: dict[str, Any] = {
        "row": row,
        "reader": reader,
        "players": players,
        "keys": rows,
        "given": request.POST or request.GET,
    }
    if request.method == "POST":
        player = next((one for one in players if str(one.pk) == request.POST.get("player")), None)
        tonic, tempo = request.POST.get("tonic", ""), _number(request.POST.get("tempo"))
        if player and tonic in {str(number) for number, _ in rows} and TEMPO_LOW <= tempo <= TEMPO_HIGH:
            return _kept_heard(request, row, player, int(tonic), tempo)
        context["problem"] = "Choose the player and the key, and type a tempo from 30 to 320."
    return render(request, "drills/line_heard.html", context, status=422 if "problem" in context else 200)


def _kept_heard(request: HttpRequest, row: KeptLine, player: User, tonic: int, tempo: int) -> HttpResponse:
    item, key = keys.heard(player=player, line=row, tonic=tonic, tempo=tempo, by=request.user)  # type: ignore[arg-type]
    messages.success(request, f"{player.name} was heard in {key}, as {player.name} reads it, at {item.heard_tempo}.")
    return redirect(f"{reverse('drills:line', args=[row.pk])}#who-title")


@require_safe
@signed_in_required
def through(request: HttpRequest, pk: int, revision: int) -> HttpResponse:
    """The line through the whole form of a chart: wherever it fits, guide tones between."""
    chart = repertoire.revisions_for_study().filter(pk=revision).first()
    if chart is None:
        raise Http404("That chart is gone.")
    row, held = kept_lines.line_or_404(request.user, pk, {chart.version.tune_id})
    if chart.version.tune_id in held:
        raise Http404
    reader = reader_of(request.user, request.GET.get("for", ""))
    try:
        music = kept_lines.through(kept_lines.line_of(row), chart, reader)
    except (ChartUnreadable, EmptyPassage) as problem:
        raise Http404(str(problem)) from problem
    context = {
        "row": row, "reader": reader, "revision": chart, "tune": chart.version.tune, "remarks": _grouped(music),
        **_shown(Carried(music), line_keys.FIRST_TEMPO, _per_system(request)),
    }  # fmt: skip
    return render(request, "drills/line_through.html", context)


def _grouped(music: Line) -> list[str]:
    """The remarks of a line as sentences, one that is about several bars once: "Bars 4 and 12: …"."""
    bars: dict[str, list[int]] = {}
    for remark in music.remarks:
        bars.setdefault(remark.text, []).extend([] if remark.bar is None else [remark.bar])
    named = {text: bars_named(numbers) if numbers else "" for text, numbers in bars.items()}
    return [f"{name[0].upper()}{name[1:]}: {text}" if name else text for text, name in named.items()]


@require_safe
@signed_in_required
def paper(request: HttpRequest, pk: int) -> HttpResponse:
    """The line in its twelve keys as PDF, for the instrument asked for."""
    from drills.printing import booklet_of_lines, to_pdf

    row, _ = kept_lines.line_or_404(request.user, pk)
    reader = reader_of(request.user, request.GET.get("for", ""))
    line, _variants = line_keys.variants_of(kept_lines.line_of(row), request.GET.get("as", ""))
    found = kept_lines.on_paper(line, reader)
    if not found:
        return HttpResponse(
            "It fits in no key on this instrument.", status=422, content_type="text/plain; charset=utf-8"
        )
    tune = row.solo.revision.version.tune
    content = to_pdf(
        booklet_of_lines(found, tune=tune.title, credit=row.solo.player, pitch=Wish(instrument=reader.key).pitch_label)
    )
    response = HttpResponse(content, content_type="application/pdf")
    name = slugify(f"{row.name or tune.title} {reader.key}") or "line"
    response["Content-Disposition"] = f'attachment; filename="{name}.pdf"'
    return response


@require_POST
@signed_in_required
def pack(request: HttpRequest, pk: int) -> HttpResponse:
    """A pack for every instrument of the ensemble that the solo is shared with: the line in twelve keys."""
    row, _ = kept_lines.line_or_404(request.user, pk)
    ensemble = row.solo.shared_with
    if ensemble is None or not leads(request.user, ensemble):
        raise PermissionDenied("Who leads the ensemble makes its packs.")
    made = packs.make_pack(
        ensemble=ensemble, revision=row.solo.revision, wishes=[], with_chart=False, by=request.user, line=row,  # type: ignore[arg-type]
    )  # fmt: skip
    return redirect("drills:pack", made.pk)


@require_safe
@signed_in_required
def place(request: HttpRequest, pk: int, revision: int, event: int) -> HttpResponse:
    """The line in one place of the repertoire, engraved; a part of the page for htmx."""
    chart = repertoire.revisions_for_study().filter(pk=revision).first()
    if chart is None:
        raise Http404("That chart is gone.")
    row, held = kept_lines.line_or_404(request.user, pk, {chart.version.tune_id})
    line = kept_lines.line_of(row)
    where = None if chart.version.tune_id in held else kept_lines.place_in(line, chart, event)
    if where is None:
        raise Http404("There is no such place any more: the chart has changed.")
    reader = reader_of(request.user, request.GET.get("for", ""))
    context = {
        "row": row, "reader": reader, "standing": kept_lines.standing(chart, where),
        **_shown(kept_lines.carried(line, chart, where, reader), per_system=_per_system(request)),
    }  # fmt: skip
    return render(request, "drills/_line_place.html" if is_part(request) else "drills/line_place.html", context)


def _shown(found: Carried, tempo: int = TEMPO, per_system: int = 4) -> dict[str, Any]:
    if found.line is None:
        return {"why_not": found.why_not}
    bars = in_words(found.line)
    return {
        "engraved": engrave(found.line, per_system=per_system),
        "per_system": per_system,
        "done": found.done,
        "sound": over_band(found.line, tempo),
        "bars": bars,
        "music_key": found.line.key.display,
        "wish": {"recipe": {"tempo": tempo}},
        "sheet": {"bars": bars},
    }


@require_POST
@signed_in_required
def name(request: HttpRequest, pk: int) -> HttpResponse:
    """Name it, or with `remove` throw it away: who cut it, who wrote the solo, and who leads its ensemble."""
    row, _ = kept_lines.line_or_404(request.user, pk)
    if not kept_lines.may_name(request.user, row):
        raise PermissionDenied("Who cut a line, who wrote its solo and who leads the ensemble name it.")
    if request.POST.get("remove"):
        try:
            write.remove_line(row=row, by=request.user)  # type: ignore[arg-type]
        except write.StillPractised as problem:
            messages.error(request, f"{problem}.")
            return redirect("drills:line", pk)
        messages.success(request, "The line is gone; the solo keeps its notes.")
        return redirect("drills:lines")
    write.name_line(row=row, name=request.POST.get("name", ""))
    messages.success(request, "Named." if request.POST.get("name", "").strip() else "It has no name now.")
    return redirect("drills:line", pk)


def _per_system(request: HttpRequest) -> int:
    """Bars to a line: two on a phone, which asks for it."""
    return 2 if request.GET.get("per_system") == "2" else 4


def _number(text: str | None) -> int:
    return int(text) if text and text.isdigit() and len(text) < 4 else 0
