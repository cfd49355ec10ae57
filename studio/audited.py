"""What the programme's own app writes in the audit log without a service of its own: signing in, passwords."""

from __future__ import annotations

from typing import Any

from allauth.account import signals as account
from django.contrib.auth.signals import user_logged_in

from studio.audit import record
from studio.models import AuditEntry, User

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
