"""Calls to a platform's services: token (Security Framework 1.0, 4.1), members (Names and Roles 2.0), line items and
scores (Assignment and Grade Services 2.0)."""

from __future__ import annotations

import csv
import io
import json
import re
import secrets
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any
from urllib.parse import urlencode, urljoin

from django.utils import timezone

from api.campus import outward
from api.campus.lti.claims import LTI, text_of
from api.campus.lti.courses import FULL, line_item
from api.campus.lti.keys import signed
from api.models import Course, CourseLink, Platform

MEMBERS = "https://purl.imsglobal.org/spec/lti-nrps/scope/contextmembership.readonly"
LINES = "https://purl.imsglobal.org/spec/lti-ags/scope/lineitem"
SCORES = "https://purl.imsglobal.org/spec/lti-ags/scope/score"
_MEMBERS_TYPE = "application/vnd.ims.lti-nrps.v2.membershipcontainer+json"
_LINE_TYPE, _LINES_TYPE = (
    "application/vnd.ims.lis.v2.lineitem+json",
    "application/vnd.ims.lis.v2.lineitemcontainer+json",
)
_SCORE_TYPE = "application/vnd.ims.lis.v1.score+json"
_NEXT = re.compile(r'<([^>]*)>[^,]*;\s*rel="?next"?', re.IGNORECASE)
MOST_PAGES = 50


class Declined(Exception):
    """The platform answered, and not with what was asked. `status` is its answer's."""

    def __init__(self, status: int, text: str) -> None:
        super().__init__(text)
        self.status = status


@dataclass
class Caller:
    """Calls to one platform; a token of each kind is fetched once and kept while this lives."""

    platform: Platform
    tokens: dict[tuple[str, str], str] = field(default_factory=dict)

    def call(
        self, method: str, url: str, *, scope: str, course: Course, accept: str = "", send: Any = None, kind: str = ""
    ) -> outward.Answer:
        """One call with the token that it needs. Raises `outward.Unreachable`, `Declined`."""
        headers = {"Authorization": f"Bearer {self._token(scope, course.deployment)}"}
        headers |= {"Accept": accept} if accept else {}
        headers |= {"Content-Type": kind} if kind else {}
        body = json.dumps(send).encode() if send is not None else None
        found = outward.call(method, url, body=body, headers=headers)
        if not found.good:
            raise Declined(found.status, found.text)
        return found

    def _token(self, scope: str, deployment: str) -> str:
        if (scope, deployment) not in self.tokens:
            self.tokens[scope, deployment] = _fetch_token(self.platform, scope, deployment)
        return self.tokens[scope, deployment]


def _fetch_token(platform: Platform, scope: str, deployment: str) -> str:
    now = int(timezone.now().timestamp())
    assertion = signed(
        {
            "iss": platform.client_id,
            "sub": platform.client_id,
            "aud": platform.audience or platform.token_url,
            "iat": now,
            "exp": now + 300,
            "jti": secrets.token_urlsafe(24),
            LTI + "deployment_id": deployment,
        }
    )
    form = {
        "grant_type": "client_credentials",
        "client_assertion_type": "urn:ietf:params:oauth:client-assertion-type:jwt-bearer",
        "client_assertion": assertion,
        "scope": scope,
    }
    found = outward.call(
        "POST",
        platform.token_url,
        body=urlencode(form).encode(),
        headers={"Content-Type": "application/x-www-form-urlencoded", "Accept": "application/json"},
    )
    if not found.good:
        raise Declined(found.status, f"No token: {found.text}")
    token = text_of(_object(found.json()), "access_token", most=20_000)
    if not token.isascii() or not token.isprintable() or not token:
        raise Declined(found.status, "No token: the answer holds none.")
    return token


@dataclass(frozen=True)
class Member:
    """One person of a course, as the platform tells: its own id, and what it says of them ("" where it says nothing)."""

    subject: str
    name: str
    email: str
    teaches: bool
    school_id: str = ""


def members(course: Course) -> list[Member]:
    """Everybody who is active in a course as a learner or an instructor. Raises `outward.Unreachable`, `Declined`."""
    caller, url, found = Caller(course.platform), course.members_url, []
    for _ in range(MOST_PAGES):
        answer = caller.call("GET", url, scope=MEMBERS, course=course, accept=_MEMBERS_TYPE)
        rows = _object(answer.json()).get("members")
        found += [member for row in rows or () if (member := _member(row))] if isinstance(rows, list) else []
        following = _NEXT.search(answer.headers.get("link", ""))
        if not following:
            return found
        url = urljoin(url, following[1])
    raise Declined(200, "The course has more pages of members than are read.")


def _member(row: Any) -> Member | None:
    """Names and Roles 2.0, section 2.2: roles may be short names or whole ones; without a status one is active."""
    if not isinstance(row, dict) or row.get("status", "Active") != "Active":
        return None
    roles = row.get("roles")
    short = {str(role).rpartition("#")[2] for role in roles} if isinstance(roles, list) else set()
    if not short & {"Learner", "Instructor"} or not text_of(row, "user_id"):
        return None
    name = text_of(row, "name") or f"{text_of(row, 'given_name')} {text_of(row, 'family_name')}".strip()
    email, number = text_of(row, "email").strip().lower(), text_of(row, "lis_person_sourcedid").strip()
    return Member(text_of(row, "user_id"), name, email, "Instructor" in short, number)


def find_line(caller: Caller, link: CourseLink) -> str:
    """The address of the line item of a link: the one that its launch named, the one that stands in the course already, or
    a new one. Looked for before one is made, so that an answer that was lost leaves no second column."""
    if link.line or link.assignment is None:
        return link.line
    course, wanted = link.course, line_item(link.assignment)
    query = urlencode({"resource_link_id": link.resource, "resource_id": wanted["resourceId"]})
    join = "&" if "?" in course.lines_url else "?"
    answer = caller.call("GET", f"{course.lines_url}{join}{query}", scope=LINES, course=course, accept=_LINES_TYPE)
    rows = answer.json()
    for row in rows if isinstance(rows, list) else ():
        # Platforms may give lines that were not asked for: the filter is a wish (section 3.2.3).
        if isinstance(row, dict) and row.get("resourceId") == wanted["resourceId"] and text_of(row, "id", most=1000):
            return text_of(row, "id", most=1000)
    made = caller.call(
        "POST",
        course.lines_url,
        scope=LINES,
        course=course,
        accept=_LINE_TYPE,
        kind=_LINE_TYPE,
        send={**wanted, "resourceLinkId": link.resource},
    )
    if not (line := text_of(_object(made.json()), "id", most=1000)):
        raise Declined(made.status, "The course made no column for the marks.")
    return line


def send_score(caller: Caller, course: Course, line: str, subject: str, score: int | None) -> outward.Answer:
    """One mark (section 3.4). None says that work is in and its mark is not final: platforms then show no mark."""
    stands = {"scoreGiven": score, "scoreMaximum": FULL} if score is not None else {}
    body = {
        "userId": subject,
        "timestamp": timezone.now().isoformat(timespec="milliseconds"),
        "activityProgress": "Completed" if score is not None else "Submitted",
        "gradingProgress": "FullyGraded" if score is not None else "PendingManual",
        **stands,
    }
    path, mark, query = line.partition("?")
    return caller.call(
        "POST", f"{path.rstrip('/')}/scores{mark}{query}", scope=SCORES, course=course, kind=_SCORE_TYPE, send=body
    )


def _object(value: Any) -> Mapping[str, Any]:
    return value if isinstance(value, dict) else {}


def roster_text(found: Sequence[Member], ensemble: str) -> str:
    """Members of a course as the text of a roster, so that they are previewed, corrected and written like every roster."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(("name", "e-mail", "ensemble", "role", "school id"))
    for member in sorted(found, key=lambda one: (one.teaches, one.name, one.subject)):
        role = "instructor" if member.teaches else "player"
        writer.writerow((member.name, member.email, ensemble, role, member.school_id))
    return out.getvalue()
