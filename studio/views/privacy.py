"""A person's own data: the archive, the end, and the programme's rule."""

from __future__ import annotations

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.db import transaction
from django.http import FileResponse, Http404, HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.text import slugify
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from studio.access import director_required, is_director
from studio.audit import record
from studio.forms import EraseForm, KeepingForm
from studio.models import AuditEntry, Job, PersonalArchive, PlannedErasure, Programme, User
from studio.privacy.declared import TABLE, Fate
from studio.privacy.erase import CannotErase, erase
from studio.privacy.export import KIND, begin
from studio.privacy.retention import keep, set_rule
from studio.web import paginate


@require_http_methods(["GET", "HEAD", "POST"])
@login_required
def own(request: HttpRequest) -> HttpResponse:
    """One's own archive."""
    return _data(request, request.user)  # type: ignore[arg-type]


@require_http_methods(["GET", "HEAD", "POST"])
@director_required
def of_person(request: HttpRequest, pk: int) -> HttpResponse:
    """The archive of somebody who asked for it."""
    return _data(request, get_object_or_404(User, pk=pk, erased=None))


def _data(request: HttpRequest, about: User) -> HttpResponse:
    """One archive at a time is made; while one is, a further press shows it."""
    running = Job.objects.filter(kind=KIND, owner=request.user.pk, payload__about=about.pk, finished=None).first()
    if request.method == "POST":
        job = running or begin(about=about, by=request.user)  # type: ignore[arg-type]
        return redirect("studio:job", job.pk)
    archives = PersonalArchive.objects.filter(about=about, by=request.user.pk, expires__gt=timezone.now())
    context = {
        "about": about,
        "mine": about.pk == request.user.pk,
        "archives": archives,
        "running": running,
        "years": request.programme.keep_years,  # type: ignore[attr-defined]
    }
    return render(request, "studio/data.html", context)


@require_safe
@login_required
def fetch(request: HttpRequest, pk: int) -> HttpResponseBase:
    """The ZIP, for whoever had it made: the person, or a director who still is one."""
    row = (
        PersonalArchive.objects.filter(pk=pk, by=request.user.pk, expires__gt=timezone.now())
        .select_related("about")
        .first()
    )
    if row is None or not (row.about_id == request.user.pk or is_director(request.user)):
        raise Http404
    if not row.file.storage.exists(row.file.name or ""):
        raise Http404
    record(AuditEntry.Kind.EXPORT, "Archive of a person's data fetched", by=request.user, about=row.about_id)  # type: ignore[arg-type]
    name = f"{slugify(row.about.name) or 'person'}-{timezone.localtime(row.created):%Y-%m-%d}.zip"
    return FileResponse(row.file.open("rb"), as_attachment=True, filename=name, content_type="application/zip")


@require_http_methods(["GET", "HEAD", "POST"])
@director_required
def erase_person(request: HttpRequest, pk: int) -> HttpResponse:
    """What would become of everything, and the name to be typed before it does."""
    person = get_object_or_404(User, pk=pk, erased=None)
    form = EraseForm(request.POST or None, person=person)
    problem = ""
    if request.method == "POST" and form.is_valid():
        try:
            erase(person_id=pk, by=request.user)  # type: ignore[arg-type]
        except CannotErase as error:
            problem = str(error)
        else:
            messages.success(request, "Erased. What counts for the programme stays, under nobody's name.")
            return redirect("studio:people")
    context = {"person": person, "form": form, "problem": problem, "fates": _fates()}
    return render(request, "studio/erase.html", context, status=422 if problem or form.errors else 200)


def _fates() -> dict[str, list[str]]:
    """Words of the declared table for the page, by what happens."""
    said: dict[str, list[str]] = {"deleted": [], "blank": [], "kept": []}
    where = {Fate.DELETE: "deleted", Fate.BLANK: "blank", Fate.KEEP: "kept"}
    for row in TABLE:
        if row.export:
            words = row.export.replace("-", " ")
            said[where[row.fate]].append("chairs of ended terms" if words == "chairs" else words)
    return said


@require_http_methods(["GET", "HEAD", "POST"])
@director_required
def keeping(request: HttpRequest) -> HttpResponse:
    """The rule, and whom it will erase."""
    form = KeepingForm(request.POST or None, initial={"years": Programme.current().keep_years})
    if request.method == "POST" and form.is_valid():
        set_rule(years=form.cleaned_data["years"], by=request.user)  # type: ignore[arg-type]
        messages.success(request, "The rule is set. Nobody is erased without a month's notice on this page.")
        return redirect("studio:keeping")
    plans = PlannedErasure.objects.select_related("user").order_by("kept", "on", "id")
    context = {"form": form, "page": paginate(request, plans)}
    return render(request, "studio/keeping.html", context, status=422 if form.errors else 200)


@require_POST
@director_required
def keep_one(request: HttpRequest, pk: int) -> HttpResponse:
    """Keep one person in spite of the rule, or undo that."""
    with transaction.atomic():
        plan = get_object_or_404(PlannedErasure.objects.select_related("user"), pk=pk)
        keep(plan=plan, by=request.user, kept=not request.POST.get("undo"))  # type: ignore[arg-type]
    messages.success(request, f"{plan.user.name}: {'the rule holds again' if request.POST.get('undo') else 'kept'}.")
    return redirect("studio:keeping")
