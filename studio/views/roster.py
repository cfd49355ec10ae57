"""The roster page: read, preview, correct, write."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from django.contrib import messages
from django.core.files.uploadedfile import UploadedFile
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from studio.access import director_required
from studio.forms import RosterForm
from studio.jobs import start_job
from studio.models import Term, User
from studio.oneroster import CannotRead, read_package
from studio.requests import MemberRequest
from studio.roster import MAX_BYTES, RosterProblem, RosterReading, decode, read_roster, with_lines
from studio.selectors import current_term
from studio.services.roster_people import Disputed, known_people
from studio.services.rosters import never_invited, plan, write

MOST_PACKED = 20_000_000  # bytes of a package
SHOWN = 100  # rows of the preview; the rest is counted


@require_http_methods(["GET", "HEAD", "POST"])
@director_required
def roster(request: MemberRequest) -> HttpResponse:
    """Nothing is written until the preview is confirmed; what was typed stays on the page for correction."""
    if not Term.objects.exists():
        messages.info(request, "Make a term and its ensembles first; then the roster has somewhere to go.")
        return redirect("studio:terms")
    if request.method != "POST":
        return render(request, "studio/roster.html", {"form": RosterForm(initial={"term": current_term()})})
    form = RosterForm(request.POST, request.FILES)
    if not form.is_valid():
        return render(request, "studio/roster.html", {"form": form}, status=422)
    term: Term = form.cleaned_data["term"]
    reading = with_people(_read(form, term))
    if "write" in request.POST and reading.rows and not reading.problems:
        try:
            return _write(request, reading, term)
        except Disputed:  # somebody changed an account between the two questions
            reading = with_people(reading)
    return preview(request, reading, term)


def with_people(reading: RosterReading) -> RosterReading:
    """The reading, rows that mean two people of the programme at once told among the problems."""
    known = known_people(reading.rows)
    if not known.problems:
        return reading
    told = with_lines(list(known.problems), reading.text)
    rows = tuple(row for row in reading.rows if row.line not in known.disputed)
    return replace(reading, rows=rows, problems=tuple(sorted((*reading.problems, *told), key=lambda one: one.line)))


def _read(form: RosterForm, term: Term) -> RosterReading:
    upload = form.cleaned_data["file"]
    names = tuple(term.ensembles.values_list("name", flat=True))
    if not upload:
        return read_roster(form.cleaned_data["text"], names)
    if upload.name.lower().endswith(".zip"):
        return _package(upload, names)
    if upload.size > MAX_BYTES:
        problem = RosterProblem(
            1, "The file is larger than a megabyte.", "Split it, and check that it is CSV, not a spreadsheet."
        )
        return RosterReading((), (problem,))
    data = upload.read()
    if data.startswith((b"PK\x03\x04", b"\xd0\xcf\x11\xe0", b"%PDF")):
        problem = RosterProblem(
            1, "This is a spreadsheet or document, not CSV.", "In the spreadsheet choose “Save as”, then CSV."
        )
        return RosterReading((), (problem,))
    if b"\x00" in data and not data.startswith((b"\xff\xfe", b"\xfe\xff")):
        problem = RosterProblem(1, "This is not text.", "Choose a CSV file, or a OneRoster package as a ZIP file.")
        return RosterReading((), (problem,))
    text, remark = decode(data)
    reading = read_roster(text, names)
    return replace(reading, remarks=(*((remark,) if remark else ()), *reading.remarks))


def _package(upload: UploadedFile, names: tuple[str, ...]) -> RosterReading:
    """A school's OneRoster package as roster text, or the one thing that is wrong with it."""
    size = upload.size or 0
    try:
        if size > MOST_PACKED:
            raise CannotRead(f"The package is larger than {MOST_PACKED // 1_000_000} MB.")
        known = User.objects.exclude(school_id="").values_list("school_id", flat=True)
        found = read_package(upload.read(), names, set(known))
    except CannotRead as error:
        return RosterReading((), (RosterProblem(0, str(error), ""),))
    reading = read_roster(found.text, names)
    return replace(reading, remarks=(*found.remarks, *reading.remarks))


def preview(request: HttpRequest, reading: RosterReading, term: Term) -> HttpResponse:
    planned = plan(reading.rows, term)
    context: dict[str, Any] = {
        "form": RosterForm(initial={"term": term, "text": reading.text}),
        "reading": reading,
        "planned": planned[:SHOWN],
        "more": max(0, len(planned) - SHOWN),
        "term": term,
        "with_ids": any(row.row.school_id for row in planned),
        "problems": reading.problems[:SHOWN],
        "more_problems": max(0, len(reading.problems) - SHOWN),
        "people": len({row.row.email for row in planned}),
        "new_people": len({row.row.email for row in planned if row.is_new_person}),
        "new_chairs": sum(row.is_new_chair for row in planned),
        "namesakes": len({row.row.email for row in planned if row.namesake}),
        "invited": len({row.row.email for row in planned if row.is_new_person and row.row.address})
        + len(never_invited(reading.rows)),
        "without": len({row.row.email for row in planned if not row.row.address}),
        "leading": sum(row.row.role == "instructor" for row in planned),
        "changing": sum(bool(row.changes) for row in planned),
    }
    return render(request, "studio/roster.html", context, status=422 if reading.problems else 200)


def _write(request: MemberRequest, reading: RosterReading, term: Term) -> HttpResponse:
    new = write(reading.rows, term)
    messages.success(
        request,
        f"The roster of {term} is written: {_count(reading.people, 'person', 'people')} in {_count(len(reading.rows), 'chair', 'chairs')}, {len(new)} new.",
    )
    users = [user.pk for user in never_invited(reading.rows)] if request.POST.get("invite") else []
    if users:
        return redirect("studio:job", pk=start_job(request.user, "invitations", {"users": users}).pk)
    return redirect("studio:people")


def _count(number: int, one: str, many: str) -> str:
    return f"{number} {one if number == 1 else many}"
