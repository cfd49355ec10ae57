"""Courses and their links: what was opened from where, and which assignment a link opens."""

from __future__ import annotations

import secrets

from django.core import signing
from django.db import transaction
from django.utils import timezone

from api.campus.lti.claims import LTI
from api.campus.lti.keys import signed
from api.campus.lti.message import CUSTOM, Message
from api.models import Course, CourseLink, Platform
from assessments.models import Assignment
from studio.audit import record
from studio.models import AuditEntry, User

SALT = "lti link"
FULL = 100  # marks go as percentages


def note(platform: Platform, message: Message) -> CourseLink:
    """The course and the link of a launch, with the services that the platform offers in it now."""
    services = {"members_url": message.members_url, "lines_url": message.lines_url, "scopes": list(message.scopes)}
    course, _ = Course.objects.update_or_create(
        platform=platform,
        deployment=message.deployment,
        context=message.context,
        defaults={"title": message.context_title, "seen": timezone.now(), **services},
    )
    # The line item of a link that was chosen anew here is ours to find; a launch tells the platform's own.
    line = {"line": message.line} if message.line else {}
    link, _ = CourseLink.objects.update_or_create(
        course=course,
        resource=message.resource,
        defaults={"title": message.resource_title, "seen": timezone.now(), **line},
    )
    if link.assignment_id is None and (chosen := _chosen(platform, message)):
        link.assignment = chosen
        link.save(update_fields=["assignment"])
    return link


def _chosen(platform: Platform, message: Message) -> Assignment | None:
    """What the link was made for here. The parameter is signed for one course: whoever edits a course can neither write
    another assignment into it nor carry it into another course, and so direct marks to where they do not belong."""
    try:
        at, deployment, context, pk = signing.loads(message.chosen, salt=SALT)
    except (signing.BadSignature, ValueError, TypeError):
        return None
    if [at, deployment, context] != [platform.pk, message.deployment, message.context]:
        return None
    return Assignment.objects.select_related("ensemble").filter(pk=pk).first()


@transaction.atomic
def choose(link: CourseLink, assignment: Assignment, *, by: User) -> None:
    """From now on the link opens this assignment, and its marks go where the link stands."""
    link.assignment, link.line = assignment, "" if link.assignment_id else link.line
    link.save(update_fields=["assignment", "line"])
    record(AuditEntry.Kind.ROLE, f"“{assignment.title}” opens from the course “{link.course}”"[:300], by=by)


def answer(platform: Platform, message: Message, assignment: Assignment, *, launch_url: str) -> str:
    """The signed answer of deep linking: one link to this assignment (LTI Deep Linking 2.0, sections 3 and 4.5)."""
    now = int(timezone.now().timestamp())
    ours = signing.dumps([platform.pk, message.deployment, message.context, assignment.pk], salt=SALT)
    item = {
        "type": "ltiResourceLink",
        "title": assignment.title,
        "url": launch_url,
        "custom": {CUSTOM: ours},
    }
    if message.takes_line:
        item["lineItem"] = line_item(assignment)
    claims = {
        "iss": platform.client_id,
        "aud": platform.issuer,
        "iat": now,
        "exp": now + 300,
        "nonce": secrets.token_urlsafe(24),
        LTI + "deployment_id": message.deployment,
        LTI + "message_type": "LtiDeepLinkingResponse",
        LTI + "version": "1.3.0",
        "https://purl.imsglobal.org/spec/lti-dl/claim/content_items": [item],
    }
    if message.data:
        claims["https://purl.imsglobal.org/spec/lti-dl/claim/data"] = message.data
    return signed(claims)


def line_item(assignment: Assignment) -> dict[str, object]:
    """The column of an assignment (Assignment and Grade Services 2.0, section 3.2)."""
    return {"scoreMaximum": FULL, "label": assignment.title, "resourceId": f"assignment-{assignment.pk}", "tag": "mark"}
