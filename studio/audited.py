"""What the programme's own app writes in the audit log without a service of its own: signing in, passwords, second factors.

Sign-ins have their rows written and ended here as well, by the same signals.
"""

from __future__ import annotations

from typing import Any

from allauth.account import signals as account
from allauth.mfa import signals as mfa
from allauth.mfa.models import Authenticator
from django.contrib.auth.signals import user_logged_in, user_logged_out

from studio.audit import record
from studio.entry import sessions
from studio.models import AuditEntry, SignIn, User

LOGIN = AuditEntry.Kind.LOGIN


def _recorder(text: str) -> Any:
    def tell(user: User, **_: Any) -> None:
        record(LOGIN, text, by=user, about=user)

    return tell


for _signal, _text in (
    (user_logged_in, "Signed in"),
    (account.password_changed, "Password changed"),
    (account.password_set, "Password set"),
    (account.password_reset, "Password reset by a letter"),
):
    _signal.connect(_recorder(_text), weak=False, dispatch_uid=f"audit-{_text}")


KINDS = {
    Authenticator.Type.TOTP: "Authenticator app",
    Authenticator.Type.WEBAUTHN: "Passkey",
    Authenticator.Type.RECOVERY_CODES: "Recovery codes",
}


def _factor_recorder(text: str) -> Any:
    def tell(user: User, authenticator: Authenticator, **_: Any) -> None:
        record(LOGIN, f"{KINDS[authenticator.type]}: {text}", by=user, about=user)

    return tell


for _signal, _text in (
    (mfa.authenticator_added, "set up"),
    (mfa.authenticator_removed, "taken away"),
    (mfa.authenticator_reset, "made anew"),
):
    _signal.connect(_factor_recorder(_text), weak=False, dispatch_uid=f"audit-factor-{_text}")


def _wrong_code(user: User, **_: Any) -> None:
    record(LOGIN, "Sign-in refused: wrong code of a second factor", about=user)


def _code_used(user: User, authenticator: Authenticator, **_: Any) -> None:
    if authenticator.type == Authenticator.Type.RECOVERY_CODES:
        record(LOGIN, "A recovery code used", by=user, about=user)


mfa.authentication_failed.connect(_wrong_code, dispatch_uid="audit-wrong-code")
mfa.authenticator_used.connect(_code_used, dispatch_uid="audit-code-used")


def _began(request: Any, user: User, **_: Any) -> None:
    if request is not None and hasattr(request, "session"):
        sessions.begin(request, user)


def _left(request: Any, **_: Any) -> None:
    if request is not None and hasattr(request, "session"):
        SignIn.objects.filter(key=request.session.session_key or "").delete()


def _password_changed(request: Any, user: User, **_: Any) -> None:
    sessions.password_changed(request, user)


def _by_the_school(request: Any, sociallogin: Any = None, **_: Any) -> None:
    """How the person came in, for the length of the session. Methods of signing in: RFC 8176, section 2."""
    if sociallogin is not None:
        methods = sociallogin.claims.get("amr")
        request.session["school"] = {"factor": isinstance(methods, list) and "mfa" in methods}


account.user_logged_in.connect(_by_the_school, dispatch_uid="by-the-school")
user_logged_in.connect(_began, dispatch_uid="sign-in-began")
user_logged_out.connect(_left, dispatch_uid="sign-in-left")
for _signal in (account.password_changed, account.password_set, account.password_reset):
    _signal.connect(_password_changed, dispatch_uid="sign-ins-end-with-password")
