"""Packs for ensembles: chosen, made, handed out."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib import messages
from django.http import FileResponse, Http404, HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.text import slugify
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from drills.access import packs_seen
from drills.lines.build import Recipe
from drills.models import Pack
from drills.selectors import chair_instruments
from drills.services import packs as services
from drills.wishes import Wish
from studio.access import chairs, ensembles_led, instructor_required, is_director, leads
from studio.instruments import INSTRUMENTS
from studio.models import Ensemble, Membership
from studio.web import paginate
from tunes.access import holds, refuse_held_chords, signed_in_required, still_asked
from tunes.harmony.pitch.spelling import Key
from tunes.models import ChartRevision

DRILLS: dict[str, tuple[str, Recipe]] = {
    "arpeggios-up": ("Arpeggios, up from the root", Recipe("arpeggios", "root")),
    "arpeggios-down": ("Arpeggios, down", Recipe("arpeggios", "root", direction="down")),
    "arpeggios-running": ("Arpeggios, running on to the nearest tone", Recipe("arpeggios", "nearest")),
    "arpeggios-ninth": ("Arpeggios from the 3rd to the 9th", Recipe("arpeggios", "third", ninth=True)),
    "guide-3": ("Guide tones, starting on the 3rd", Recipe("guide-tones", "3")),
    "guide-7": ("Guide tones, starting on the 7th", Recipe("guide-tones", "7")),
    "guide-enclosed": ("Guide tones, with enclosures", Recipe("guide-tones", ornament="enclosure")),
    "piano-shells": ("The changes at the piano, left hand", Recipe("piano", "shells")),
    "piano-hands": ("The changes at the piano, two hands", Recipe("piano", "hands")),
    "scales-up": ("Scales, up from the root", Recipe("scales", "root")),
    "scales-running": ("Scales, running on through the changes", Recipe("scales", "nearest")),
}
USUAL = ("arpeggios-up", "guide-3", "scales-running")


class PackForm(forms.Form):
    """What goes into a pack."""

    ensemble: forms.ModelChoiceField[Ensemble] = forms.ModelChoiceField(queryset=None, empty_label=None)
    with_chart = forms.BooleanField(label="The chart itself", required=False, initial=True)
    drills = forms.MultipleChoiceField(
        label="Drills",
        choices=[(key, words) for key, (words, _) in DRILLS.items()],
        widget=forms.CheckboxSelectMultiple,
        initial=USUAL,
        required=False,
    )
    chart_only = forms.MultipleChoiceField(
        label="These chairs get the chart alone",
        help_text="The form and the rhythm of the changes, without lines to play.",
        choices=[(key, row.name) for key, row in INSTRUMENTS.items()],
        widget=forms.CheckboxSelectMultiple,
        initial=["drums"],
        required=False,
    )
    functions = forms.BooleanField(label="Functions below the chords", required=False)

    def __init__(self, *args: Any, user: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["ensemble"].queryset = ensembles_led(user)  # type: ignore[attr-defined]
        led = Membership.objects.filter(ensemble__in=ensembles_led(user).order_by().values("pk"), role="player")
        played = {own or main for own, main in led.values_list("instrument", "user__instrument").distinct()}
        self.fields["chart_only"].choices = [(k, row.name) for k, row in INSTRUMENTS.items() if k in played]  # type: ignore[attr-defined]
        self.fields["ensemble"].label_from_instance = lambda ensemble: ensemble.in_term  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        if not data.get("drills") and not data.get("with_chart"):
            raise forms.ValidationError("Choose the chart, or at least one drill.")
        return data


@require_safe
@signed_in_required
def index(request: HttpRequest) -> HttpResponse:
    """The packs of one's own ensembles."""
    return render(request, "drills/packs.html", {"page": paginate(request, packs_seen(request.user), per_page=20)})


@require_http_methods(["GET", "HEAD", "POST"])
@instructor_required
def new(request: HttpRequest, revision: int) -> HttpResponse:
    """Choose what goes in, for one of the ensembles that one leads."""
    found = get_object_or_404(ChartRevision.objects.select_related("version__tune"), pk=revision)
    form = PackForm(request.POST or None, user=request.user, auto_id="pack-%s")
    if request.method == "POST" and form.is_valid():
        data = form.cleaned_data
        wishes = [Wish(recipe=DRILLS[key][1], functions=data["functions"]) for key in data["drills"]]
        pack = services.make_pack(
            ensemble=data["ensemble"], revision=found, wishes=wishes, with_chart=data["with_chart"], by=request.user,  # type: ignore[arg-type]
            chart_only=data["chart_only"],
        )  # fmt: skip
        return redirect("drills:pack", pack.pk)
    led = form.fields["ensemble"].queryset.values_list("pk", flat=True)  # type: ignore[attr-defined]
    context = {
        "form": form,
        "revision": found,
        "tune": found.version.tune,
        "asked": still_asked(found.version.tune_id, led),
    }
    return render(request, "drills/pack_new.html", context, status=422 if form.errors else 200)


@require_safe
@signed_in_required
def page(request: HttpRequest, pk: int) -> HttpResponse:
    """A pack: how far it is, its parts, and for which chairs they are. A player sees their own part."""
    pack = get_object_or_404(packs_seen(request.user), pk=pk)
    leader = leads(request.user, pack.ensemble)
    parts = list(pack.parts.all())
    readers = chair_instruments(pack) if leader else {}
    own = set() if leader else own_instruments(request.user, pack)
    made = {part.instrument for part in parts}
    rows = [
        {"part": part, "name": INSTRUMENTS[part.instrument].name, "chairs": readers.get(part.instrument, []),
         "own": part.instrument in own}
        for part in parts if leader or part.instrument in own or not own & made
    ]  # fmt: skip
    tune = pack.revision.version.tune
    hold = holds(request.user, [tune]).get(tune.pk)
    context = {
        "pack": pack, "closed": hold if hold and hold.chords else None, "held": hold.reason if hold and hold.analysis else "",
        "asked": still_asked(tune.pk, [pack.ensemble_id]) if leader else (),
        "rows": rows, "leader": leader, "tune": tune, "job": pack.job,
        "key": Key.parse(pack.key).display if pack.key else "",
        "drills": [Recipe.from_json(data) for data in pack.wishes],
        "complete": all(part.digest or part.problem for part in parts),
    }  # fmt: skip
    return render(request, "drills/pack.html", context)


def own_instruments(user: Any, pack: Pack) -> set[str]:
    """What a player reads in the ensemble of a pack: the instrument of the chair and its doubles."""
    chair = Membership.objects.filter(user=user, ensemble=pack.ensemble_id).first()
    return {chair.instrument or user.instrument, *chair.doubles} if chair else set()


@require_POST
@instructor_required
def again(request: HttpRequest, pk: int) -> HttpResponse:
    """Start the job again: after a fault, or because the chart's overrules changed."""
    pack = _led(request, pk)
    if pack.job is None or pack.job.is_over:
        services.start(pack, request.user)  # type: ignore[arg-type]
    return redirect("drills:pack", pack.pk)


@require_POST
@instructor_required
def share(request: HttpRequest, pk: int) -> HttpResponse:
    """Tell the players."""
    pack = _led(request, pk)
    told = services.share(pack)
    messages.success(request, f"{told} players have been told." if told else "The players have been told already.")
    return redirect("drills:pack", pack.pk)


def _led(request: HttpRequest, pk: int) -> Pack:
    packs = Pack.objects.select_related("ensemble", "job", "revision__version__tune", "line__solo")
    if not is_director(request.user):
        packs = packs.filter(ensemble__in=chairs(request.user).led)
    return get_object_or_404(packs, pk=pk)


@require_safe
@signed_in_required
def part(request: HttpRequest, pk: int, instrument: str) -> HttpResponseBase:
    """The PDF of one transposition; without functions and key areas while those are held back from the reader."""
    pack = get_object_or_404(packs_seen(request.user), pk=pk)
    held = refuse_held_chords(request.user, pack.revision.version.tune_id)
    found = get_object_or_404(pack.parts, instrument=instrument)
    path = services.part_path(found.digest) if found.digest else None
    if path is not None and held:
        path = services.without_analysis(pack, instrument)
    if path is None or not path.exists():
        raise Http404("This part is not made yet.")
    name = slugify(f"{pack.revision.version.tune.title} {instrument}") or "pack"
    return FileResponse(path.open("rb"), content_type="application/pdf", as_attachment=True, filename=f"{name}.pdf")


@require_safe
@instructor_required
def whole(request: HttpRequest, pk: int) -> HttpResponse:
    """All parts of a pack as one file, for who leads the ensemble."""
    pack = _led(request, pk)
    held = refuse_held_chords(request.user, pack.revision.version.tune_id)
    response = HttpResponse(services.in_one_file(pack, open_analysis=not held), content_type="application/zip")
    name = slugify(f"{pack.revision.version.tune.title} {pack.ensemble.name}") or "pack"
    response["Content-Disposition"] = f'attachment; filename="{name}.zip"'
    return response
