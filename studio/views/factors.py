"""One's own second factors: the account library's pages, where this site says more or wants them otherwise."""

from __future__ import annotations

from typing import Any

from allauth.mfa.adapter import get_adapter
from allauth.mfa.base.views import IndexView
from allauth.mfa.webauthn.views import EditWebAuthnView, ReauthenticateWebAuthnView, RemoveWebAuthnView
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse_lazy

from studio.entry import factor


def passkeys_work(request: HttpRequest) -> bool:
    """Browsers make passkeys over TLS, and for the name `localhost` (W3C Web Authentication, section 5.1.3)."""
    return request.is_secure() or request.get_host().partition(":")[0] == "localhost"


class FactorPage(IndexView):
    """What this person has, what their role asks for, what is left of the recovery codes."""

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        context: dict[str, Any] = super().get_context_data(**kwargs)
        held: dict[str, Any] = context["authenticators"]
        codes = held.get("recovery_codes")
        user, programme = self.request.user, self.request.programme
        return context | {
            "app": held.get("totp"),
            "passkeys": held.get("webauthn", []),
            "codes": codes,
            "codes_left": len(codes.get_unused_codes()) if codes else 0,
            "asked": factor.is_asked(user, programme),
            "passkeys_work": passkeys_work(self.request),
        }


class RemovePasskey(RemoveWebAuthnView):
    """The library asks the programme's rule for apps only."""

    success_url = reverse_lazy("mfa_index")

    def form_valid(self, form: Any) -> HttpResponse:
        adapter = get_adapter()
        if not adapter.can_delete_authenticator(self.get_object()):
            words = adapter.error_messages["cannot_delete_authenticator"]
            return render(self.request, self.template_name, self.get_context_data(refused=words), status=422)
        done: HttpResponse = super().form_valid(form)
        return done


class PasskeyAgain(ReauthenticateWebAuthnView):
    """A passkey that was not taken leads back here, not to the page where one signs in."""

    def form_invalid(self, form: Any) -> HttpResponse:
        return render(self.request, self.template_name, self.get_context_data(form=form), status=422)


class RenamePasskey(EditWebAuthnView):
    success_url = reverse_lazy("mfa_index")


index = FactorPage.as_view()
remove_passkey = RemovePasskey.as_view()
passkey_again = PasskeyAgain.as_view()
rename_passkey = RenamePasskey.as_view()
