"""The director's pages of course platforms."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from django.contrib import messages
from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from api.campus import outward
from api.campus.lti import keys, marks
from api.campus.lti.forms import MembersForm, PlatformForm
from api.campus.lti.services import Declined, members, roster_text
from api.models import CampusPerson, Course, CourseMark, Platform
from studio.access import director_required
from studio.audit import record
from studio.models import AuditEntry
from studio.roster import read_roster
from studio.views.roster import preview, with_people
from studio.web import paginate

READS = ["GET", "HEAD", "POST"]


@require_http_methods(READS)
@director_required
def platforms(request: HttpRequest) -> HttpResponse:
    """Those that are registered, what to copy into a course system, and the form for the next."""
    form = PlatformForm(request.POST if request.method == "POST" else None)
    if request.method == "POST" and form.is_valid():
        row = _save(form, request, "registered")
        tell(request, f"{row.name} is registered.", row)
        return redirect("api:lti-platform", pk=row.pk)
    rows = Platform.objects.filter(ended=None)
    context = {"form": form, "page": paginate(request, rows), "values": _values(request)}
    return render(request, "api/lti/platforms.html", context, status=422 if form.errors else 200)


@require_http_methods(READS)
@director_required
def platform(request: HttpRequest, pk: int) -> HttpResponse:
    """One registration: change it, see its courses and who is matched."""
    row = get_object_or_404(Platform, pk=pk, ended=None)
    form = PlatformForm(request.POST if request.method == "POST" else None, instance=row)
    if request.method == "POST" and form.is_valid():
        row = _save(form, request, "changed")
        tell(request, "Saved.", row)
        return redirect("api:lti-platform", pk=pk)
    context = {
        "form": form,
        "platform": Platform.objects.get(pk=pk) if form.errors else row,
        "values": _values(request),
        "courses": row.courses.all()[:50],
        "page": paginate(request, row.people.select_related("user").order_by("user__name", "id"), 20),
    }
    return render(request, "api/lti/platform.html", context, status=422 if form.errors else 200)


def _values(request: HttpRequest) -> tuple[tuple[str, str], ...]:
    """What a course system asks for when the site is added to it."""
    names = (
        ("Registration address (dynamic registration)", "lti-register"),
        ("Tool address", "lti-launch"),
        ("Login initiation address", "lti-login"),
        ("Redirection address", "lti-launch"),
        ("Public key set address", "lti-keys"),
        ("Deep linking address", "lti-launch"),
    )
    return tuple((words, request.build_absolute_uri(reverse(f"api:{name}"))) for words, name in names)


@transaction.atomic
def _save(form: PlatformForm, request: HttpRequest, what: str) -> Platform:
    row = form.save()
    record(AuditEntry.Kind.ROLE, f"Course platform {row.name} {what}", by=request.user)  # type: ignore[arg-type]
    return row


def tell(request: HttpRequest, what: str, row: Platform, more: str = "") -> None:
    """What was done, and whether the key set can be read: now, so that a wrong address is not seen by the first player."""
    try:
        keys.read_keys(row)
    except outward.Unreachable as error:
        messages.warning(
            request,
            f"{what} Its key set could not be read, so its links open nothing: {error} Look at the address again.{more}",
        )
        return
    count = len(row.keys["keys"])
    messages.success(request, f"{what} Its key set was read: {count} key{'' if count == 1 else 's'}.{more}")


@require_POST
@director_required
def end(request: HttpRequest, pk: int) -> HttpResponse:
    row = get_object_or_404(Platform, pk=pk, ended=None)
    with transaction.atomic():
        row.ended = timezone.now()
        row.save(update_fields=["ended"])
        record(AuditEntry.Kind.ROLE, f"Course platform {row.name} ended", by=request.user)  # type: ignore[arg-type]
    messages.success(request, f"Links of {row.name} open nothing any more, and no mark goes there.")
    return redirect("api:lti-platforms")


@require_POST
@director_required
def end_match(request: HttpRequest, pk: int) -> HttpResponse:
    row = get_object_or_404(CampusPerson.objects.select_related("user", "platform"), pk=pk)
    with transaction.atomic():
        text = f"Match with an account of {row.platform.name} ended"
        record(AuditEntry.Kind.LOGIN, text, by=request.user, about=row.user)  # type: ignore[arg-type]
        row.delete()
    messages.success(request, f"{row.user.name} is matched anew with the next link they open.")
    return redirect("api:lti-platform", pk=row.platform_id)


@require_http_methods(["GET", "HEAD"])
@director_required
def course(request: HttpRequest, pk: int) -> HttpResponse:
    """One course: its links, its members, every mark that was sent."""
    row = get_object_or_404(Course.objects.select_related("platform"), pk=pk, platform__ended=None)
    sent = CourseMark.objects.filter(link__course=row).select_related("link__assignment", "player")
    links = list(row.links.select_related("assignment__ensemble"))
    context = {
        "course": row,
        "links": [(link, marks.takes_marks(replace_course(link, row))) for link in links],
        "page": paginate(request, sent),
        "members": MembersForm() if row.members_url else None,
        "failed": sent.filter(state=CourseMark.State.FAILED).count(),
    }
    return render(request, "api/lti/course.html", context)


def replace_course(link: Any, row: Course) -> Any:
    link.course = row
    return link


@require_POST
@director_required
def course_members(request: HttpRequest, pk: int) -> HttpResponse:
    """The members of a course as a roster, to look at: nothing is written before that is confirmed."""
    row = get_object_or_404(Course.objects.select_related("platform"), pk=pk, platform__ended=None)
    form = MembersForm(request.POST)
    if not form.is_valid() or not row.members_url:
        messages.error(request, "Choose an ensemble first.")
        return redirect("api:lti-course", pk=pk)
    try:
        found = members(row)
    except (outward.Unreachable, Declined) as error:
        messages.error(request, f"The members could not be read: {error}")
        return redirect("api:lti-course", pk=pk)
    ensemble = form.cleaned_data["ensemble"]
    reading = with_people(read_roster(roster_text(found, ensemble.name), [ensemble.name]))
    remark = f"Read from the course “{row}”: {len(found)} members. Nobody loses a chair by it."
    return preview(request, replace(reading, remarks=(remark, *reading.remarks)), ensemble.term)


@require_POST
@director_required
def again(request: HttpRequest, pk: int) -> HttpResponse:
    row = get_object_or_404(Course, pk=pk, platform__ended=None)
    count = marks.again(CourseMark.objects.filter(link__course=row).values_list("pk", flat=True))
    messages.success(request, f"{count} mark{'' if count == 1 else 's'} wait to be sent again.")
    return redirect("api:lti-course", pk=pk)
