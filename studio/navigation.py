"""The way around: what stands in the bar at the top, for whom."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from django.conf import settings
from django.http import HttpRequest
from django.urls import NoReverseMatch, reverse

from studio import access, mail
from studio.handbook import task_on
from studio.models import Programme


@dataclass(frozen=True)
class Place:
    """One entry: its words, the name of its address, who sees it, and the path prefix that lights it up."""

    label: str
    route: str
    shown_to: Callable[[Any], bool]


def _plays(user: Any) -> bool:
    return bool(access.chairs(user).played)


def _only_plays(user: Any) -> bool:
    """Whoever leads nothing has their own page in place of the ledger; it has one name everywhere."""
    return bool(user.is_authenticated) and not access.is_instructor(user)


def _anyone(user: Any) -> bool:
    return bool(user.is_authenticated)


PLACES = (
    Place("Overview", "work:overview", access.is_director),
    Place("Desk", "work:desk", _plays),
    Place("Tunes", "tunes:index", _anyone),
    Place("Drills", "drills:index", _anyone),
    Place("Assignments", "work:assignments", access.is_instructor),
    Place("Review", "work:queue", access.is_instructor),
    Place("Ledger", "work:ledger", access.is_instructor),
    Place("Ensembles", "studio:ensembles", access.is_instructor),
    Place("Your tunes", "work:my-tunes", _only_plays),
    Place("People", "studio:people", access.is_director),
)
# Pages about a school's other systems are reached from the people's, and stand at addresses of the interface.
OF_PEOPLE = ("/api/lti/", "/api/webhooks/", "/api/services/")


def places(request: HttpRequest) -> list[dict[str, Any]]:
    """The entries for the person signed in, the current one marked (the longest address that the path starts with)."""
    found = []
    for place in PLACES:
        if not place.shown_to(request.user):
            continue
        try:
            found.append({"label": place.label, "url": reverse(place.route)})
        except NoReverseMatch:
            continue
    # An ensemble's own pages stand with the others of work; they belong to the ensembles.
    of_ensembles = request.path.startswith(("/work/ensembles/", "/work/set-lists/")) and access.is_instructor(
        request.user
    )
    path = reverse("studio:ensembles") if of_ensembles else request.path
    if path.startswith(OF_PEOPLE) and access.is_director(request.user):
        path = reverse("studio:people")
    fitting = [entry["url"] for entry in found if path.startswith(entry["url"])]
    current = max(fitting, key=len, default=None)
    return [entry | {"current": entry["url"] == current} for entry in found]


def page_context(request: HttpRequest) -> dict[str, Any]:
    """What `base.html` needs, on every page."""
    user = getattr(request, "user", None)
    programme = getattr(request, "programme", None) or Programme()
    if user is None or not user.is_authenticated:
        school = settings.SCHOOL_SIGN_IN
        return {
            "school_name": school.name if school else "",
            "programme": programme,
            "theme": request.COOKIES.get("theme", ""),
            "mail_goes_out": mail.goes_out(),
        }
    return {
        "programme": programme,
        "factor_due": getattr(request, "factor_due", None),
        "factor_overdue": getattr(request, "factor_overdue", False),
        "places": places(request),
        "theme": user.theme,
        "unseen_notices": user.notices.filter(seen=None).count(),
        "is_director": access.is_director(user),
        "mail_goes_out": mail.goes_out(),
        "is_instructor": access.is_instructor(user),
        "how": _how(request),
    }


def _how(request: HttpRequest) -> Any:
    """The page of the handbook about what is done here."""
    at = request.resolver_match
    return task_on(at.view_name, teaches=access.is_instructor(request.user)) if at else None
