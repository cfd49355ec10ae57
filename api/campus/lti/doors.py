"""Addresses that course platforms call, and what people meet on the way in."""

from __future__ import annotations

import datetime as dt
import secrets
from typing import Any
from urllib.parse import urlencode, urlsplit

from allauth.account.utils import perform_login
from csp.constants import NONE
from django.contrib.auth import logout
from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseBase, JsonResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.clickjacking import xframe_options_exempt
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.http import require_GET, require_http_methods, require_POST, require_safe

from api.campus.lti import courses, keys, login
from api.campus.lti.claims import Refused
from api.campus.lti.message import Message
from api.campus.lti.people import Stranger, person_of
from api.models import CourseLink, Launch, Platform
from assessments.access import assignments_led
from assessments.models import Assignment
from studio.access import belongs_to
from studio.web import paginate

COOKIE = "lti-browser"
FRAMES = frozenset({"iframe", "frame", "embed", "object"})  # Fetch metadata (W3C), Sec-Fetch-Dest
CHOOSING = "lti_choosing"
TO_CHOOSE = dt.timedelta(hours=2)


@require_safe
def key_set(request: HttpRequest) -> JsonResponse:
    """Our public keys, which platforms fetch."""
    answer = JsonResponse(keys.public_set())
    answer["Cache-Control"] = "public, max-age=300"
    return answer


@csrf_exempt
@xframe_options_exempt
@require_http_methods(["GET", "POST"])
@never_cache
def begin(request: HttpRequest) -> HttpResponseBase:
    """A platform says that somebody pressed a link. Inside a frame of its page nothing is tried: browsers keep no cookies
    there, so a button opens the same in a window of its own."""
    sent = (request.POST if request.method == "POST" else request.GET).dict()
    try:
        platform = login.platform_for(sent)
        launch = request.build_absolute_uri(reverse("api:lti-launch"))
        browser = request.COOKIES.get(COOKIE, "")[:100] or secrets.token_urlsafe(24)
        address = login.redirect_to(platform, sent, launch_url=launch, browser=browser)
    except Refused as refused:
        return _refused(request, str(refused))
    if request.headers.get("Sec-Fetch-Dest") in FRAMES:
        return _in_a_window(request, platform, sent)
    answer = redirect(address)
    answer.set_cookie(
        COOKIE, browser, max_age=60 * 60, httponly=True, samesite="Lax", secure=request.is_secure(), path="/api/lti/"
    )
    return answer


def _in_a_window(request: HttpRequest, platform: Platform, sent: dict[str, str]) -> HttpResponse:
    asked = {name: sent[name] for name in ("iss", "client_id", "target_link_uri", *login.HINTS) if name in sent}
    answer = render(request, "api/lti/window.html", {"address": f"{request.path}?{urlencode(asked)}"})
    # In the place of 'none', which is no policy beside others (CSP Level 3, 6.4.2: it counts only when it stands alone).
    answer._csp_replace = {"frame-ancestors": _origins(platform) or [NONE]}  # type: ignore[attr-defined]
    return answer


@csrf_exempt
@require_POST
@never_cache
def launch(request: HttpRequest) -> HttpResponseBase:
    """The platform's signed answer. What follows is an ordinary page, to which the browser brings its cookies."""
    if "id_token" not in request.POST:
        said = request.POST.get("error_description") or request.POST.get("error") or ""
        return _refused(request, f"The course platform did not let you in. {said[:200]}".strip())
    try:
        key = login.accept(state=request.POST.get("state", ""), token=request.POST["id_token"])
    except Refused as refused:
        return _refused(request, str(refused))
    answer = redirect("api:lti-arrive", key=key)
    answer.status_code = 303
    return answer


@require_GET
@never_cache
def arrive(request: HttpRequest, key: str) -> HttpResponseBase:
    """Sign the person in and open what the link is for."""
    try:
        found = login.arrived(key=key, browser=request.COOKIES.get(COOKIE, ""))
        message = Message.again(found.claims)
        user = person_of(found.platform, message, request.user)
    except Refused as refused:
        return _refused(request, str(refused))
    except Stranger as stranger:
        login.note_refusal(found.platform, "Somebody was not matched with a person here.")
        heading = "Sign in here first" if stranger.sign_in else "This site does not know you"
        return _refused(request, stranger.why, heading=heading, sign_in=stranger.sign_in)
    found.user = user
    found.save(update_fields=["user"])
    target = _target(request, found, message)
    request_user: Any = request.user
    if request_user.pk == user.pk:
        _remember_choosing(request, found)
        return redirect(target)
    logout(request)
    _remember_choosing(request, found)
    answer: HttpResponseBase = perform_login(request, user, email_verification="none", redirect_url=target)
    return answer


def _remember_choosing(request: HttpRequest, found: Launch) -> None:
    request.session[CHOOSING] = found.pk


def _target(request: HttpRequest, found: Launch, message: Message) -> str:
    if message.is_choice:
        return reverse("api:lti-choose")
    link = courses.note(found.platform, message)
    if link.assignment is None:
        return reverse("api:lti-choose")
    assert found.user is not None
    if belongs_to(found.user, link.assignment.ensemble):
        return reverse("work:assignment", args=[link.assignment.pk])
    return reverse("api:lti-no-chair")


@login_required
@require_safe
def no_chair(request: HttpRequest) -> HttpResponse:
    return render(
        request,
        "studio/error.html",
        {
            "heading": "You have no chair in this ensemble",
            "advice": "The link belongs to an ensemble that you neither play in nor lead. Ask who leads it for a chair.",
        },
        status=403,
    )


@login_required
@never_cache
@require_http_methods(["GET", "POST"])
def choose(request: HttpRequest) -> HttpResponse:
    """An instructor chooses what a link of the course opens."""
    found, message = _choosing(request)
    led = assignments_led(request.user).filter(closed=None, ensemble__term__ends__gte=timezone.localdate())
    if not message.teaches or not led.exists():
        return render(request, "api/lti/not_yet.html", {"teaches": message.teaches})
    if request.method == "POST":
        number = request.POST.get("assignment", "")
        assignment = get_object_or_404(led, pk=int(number) if number.isascii() and number.isdigit() else 0)
        return _chosen(request, found, message, assignment)
    words = request.GET.get("q", "").replace("\x00", "").strip()[:100]
    rows = led.filter(title__icontains=words) if words else led
    return render(
        request, "api/lti/choose.html", {"page": paginate(request, rows, 20), "search": words, "message": message}
    )


def _choosing(request: HttpRequest) -> tuple[Launch, Message]:
    """The message that this browser is answering; 404 without one."""
    since = timezone.now() - TO_CHOOSE
    rows = Launch.objects.select_related("platform").filter(used__gte=since, platform__ended=None)
    found = rows.filter(pk=request.session.get(CHOOSING, 0), user=request.user.pk).first()
    if found is None:
        raise Http404
    return found, Message.again(found.claims)


def _chosen(request: HttpRequest, found: Launch, message: Message, assignment: Assignment) -> HttpResponse:
    user: Any = request.user
    if not message.is_choice:
        rows = CourseLink.objects.select_related("course")
        link = get_object_or_404(
            rows,
            course__platform=found.platform,
            course__deployment=message.deployment,
            course__context=message.context,
            resource=message.resource,
        )
        courses.choose(link, assignment, by=user)
        return redirect("work:assignment", pk=assignment.pk)
    url = request.build_absolute_uri(reverse("api:lti-launch"))
    token = courses.answer(found.platform, message, assignment, launch_url=url)
    context = {"token": token, "assignment": assignment, "address": message.return_url, "platform": found.platform}
    answer = render(request, "api/lti/return.html", context)
    answer._csp_update = {"form-action": [*_origins(found.platform), _origin(message.return_url)]}  # type: ignore[attr-defined]
    return answer


def _origins(platform: Platform) -> list[str]:
    """Where pages of the platform come from."""
    return sorted({_origin(platform.login_url), _origin(platform.issuer)} - {""})


def _origin(url: str) -> str:
    parts = urlsplit(url)
    return f"{parts.scheme}://{parts.netloc}" if parts.scheme in ("http", "https") and parts.hostname else ""


def _refused(
    request: HttpRequest, why: str, *, heading: str = "This link could not be opened", sign_in: bool = False
) -> HttpResponse:
    more = {"url": reverse("account_login"), "link": "Sign in"} if sign_in else {}
    return render(request, "studio/error.html", {"heading": heading, "advice": why, **more}, status=403)
