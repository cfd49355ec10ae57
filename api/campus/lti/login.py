"""From a press on a course page to a checked message: the third-party login of LTI (Security Framework 1.0, 5.1.1).

What begins in one browser must end in it. The cookie of `begin` is the browser's; its digest travels in `state`, which is
signed, and the page after the launch asks for the cookie again. That page is an ordinary address, so the cookie need not
be one that browsers send across sites: it is `Lax`, and none is ever needed inside a frame.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import secrets
from collections.abc import Mapping
from urllib.parse import urlencode

from django.core import signing
from django.db import IntegrityError, transaction
from django.utils import timezone

from api.campus import jose, outward
from api.campus.lti import keys
from api.campus.lti.claims import Refused, check
from api.campus.lti.message import Message
from api.models import Launch, Platform

SALT = "lti state"
MINUTES_FOR_LOGIN = 10
USABLE = dt.timedelta(minutes=5)
HINTS = ("login_hint", "lti_message_hint", "lti_deployment_id")
LONGEST_HINT = 8000
AGAIN = "Go back to the course and open the link again."


def platform_for(sent: Mapping[str, str]) -> Platform:
    """The registration that a login request is about. Raises `Refused`."""
    rows = Platform.objects.filter(issuer=_clean(sent.get("iss", "")), ended=None)
    if client := _clean(sent.get("client_id", "")):
        rows = rows.filter(client_id=client)
    found = list(rows[:20])
    if deployment := sent.get("lti_deployment_id", ""):
        found = [row for row in found if deployment in row.deployments] or found
    if len(found) != 1:
        raise Refused(
            "Several registrations fit this course platform; it must send its client id."
            if found
            else "This course platform is not registered here."
        )
    return found[0]


def redirect_to(platform: Platform, sent: Mapping[str, str], *, launch_url: str, browser: str) -> str:
    """Where the browser goes to be told who it is. Raises `Refused`."""
    hint = sent.get("login_hint", "")
    if not hint or any(len(sent.get(name, "")) > LONGEST_HINT for name in HINTS):
        raise Refused("The course platform did not say who opens the link (login_hint).")
    nonce = secrets.token_urlsafe(24)
    asked = {
        "scope": "openid",
        "response_type": "id_token",
        "response_mode": "form_post",
        "prompt": "none",
        "client_id": platform.client_id,
        "redirect_uri": launch_url,
        "login_hint": hint,
        "nonce": nonce,
        "state": signing.dumps([platform.pk, nonce, digest(browser)], salt=SALT),
    }
    if sent.get("lti_message_hint"):
        asked["lti_message_hint"] = sent["lti_message_hint"]
    join = "&" if "?" in platform.login_url else "?"
    return f"{platform.login_url}{join}{urlencode(asked)}"


def accept(*, state: str, token: str) -> str:
    """Check a launch and keep it; returns the key of the address where the same browser goes on. Raises `Refused`."""
    try:
        pk, nonce, browser = signing.loads(state, salt=SALT, max_age=MINUTES_FOR_LOGIN * 60)
    except signing.SignatureExpired as error:
        raise Refused(f"This took longer than {MINUTES_FOR_LOGIN} minutes. {AGAIN}") from error
    except (signing.BadSignature, ValueError, TypeError) as error:
        raise Refused(f"This is no answer to a request of ours (state). {AGAIN}") from error
    platform = Platform.objects.filter(pk=pk, ended=None).first()
    if platform is None:
        raise Refused("This course platform is not registered here any more.")
    try:
        return _keep(platform, _message(platform, token, nonce), nonce, browser)
    except Refused as refused:
        note_refusal(platform, str(refused))
        raise


def _message(platform: Platform, token: str, nonce: str) -> Message:
    try:
        claims = keys.claims_of(token, platform)
    except jose.NotValid as error:
        raise Refused(str(error)) from error
    except outward.Unreachable as error:
        raise Refused(f"The keys of the course platform could not be read: {error} Try again in a minute.") from error
    check(
        claims,
        issuer=platform.issuer,
        client_id=platform.client_id,
        deployments=platform.deployments,
        nonce=nonce,
        now=timezone.now().timestamp(),
    )
    return Message.of(claims)


def _keep(platform: Platform, message: Message, nonce: str, browser: str) -> str:
    key = secrets.token_urlsafe(32)
    try:
        with transaction.atomic():
            Launch.objects.create(
                platform=platform, nonce=nonce, key=digest(key), browser=browser, claims=message.kept()
            )
    except IntegrityError as error:
        raise Refused(f"This message was used before. {AGAIN}") from error
    return key


def arrived(*, key: str, browser: str) -> Launch:
    """The launch under this address, used from now on. Raises `Refused`."""
    now = timezone.now()
    with transaction.atomic():
        rows = Launch.objects.select_for_update(of=("self",)).select_related("platform")
        launch = rows.filter(key=digest(key), used=None, made__gt=now - USABLE).first()
        if launch is None or launch.platform.ended:
            raise Refused(f"This address works once, for a few minutes. {AGAIN}")
        if not browser or not secrets.compare_digest(launch.browser, digest(browser)):
            raise Refused(
                "Your browser did not bring back the cookie that this site gave it a moment ago: it keeps none for pages "
                f"inside other pages, or the link was opened in another browser. {AGAIN}"
            )
        launch.used = now
        launch.save(update_fields=["used"])
    return launch


def clear_old(now: dt.datetime) -> None:
    """Messages hold names and addresses: none is kept longer than two days. Nonces are not accepted for longer either."""
    Launch.objects.filter(made__lt=now - dt.timedelta(days=2)).delete()


def note_refusal(platform: Platform, why: str) -> None:
    """For the director's page: registering goes wrong in small ways that nobody can guess."""
    Platform.objects.filter(pk=platform.pk).update(refused=why[:300], refused_at=timezone.now())


def digest(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()


def _clean(text: str) -> str:
    return text.replace("\x00", "")[:255]
