"""The pages of allauth that this site uses: sign in and out, passwords, second factors. Open sign-up answers that it is closed."""

from __future__ import annotations

from allauth.account import views
from allauth.mfa.base import views as mfa
from allauth.mfa.recovery_codes import views as codes
from allauth.mfa.totp import views as apps
from allauth.mfa.webauthn import views as passkeys
from django.urls import path, re_path
from django.views.decorators.http import require_http_methods

from studio.entry import oidc
from studio.entry.only_school import unless_switched_off as local
from studio.views import factors

# The library's form pages would take PUT as POST.
form = require_http_methods(["GET", "HEAD", "POST"])

urlpatterns = [
    path("school/", form(oidc.start), name="school_start"),
    path("school/back/", form(oidc.callback), name="school_callback"),
    path("login/", form(local(views.login)), name="account_login"),
    path("logout/", form(views.logout), name="account_logout"),
    path("inactive/", form(views.account_inactive), name="account_inactive"),
    path("signup/", form(views.signup), name="account_signup"),
    path("reauthenticate/", form(views.reauthenticate), name="account_reauthenticate"),
    path("second-factor/", form(factors.index), name="mfa_index"),
    path("second-factor/code/", form(mfa.authenticate), name="mfa_authenticate"),
    path("second-factor/again/", form(mfa.reauthenticate), name="mfa_reauthenticate"),
    path("second-factor/app/", form(apps.activate_totp), name="mfa_activate_totp"),
    path("second-factor/app/remove/", form(apps.deactivate_totp), name="mfa_deactivate_totp"),
    path("second-factor/codes/", form(codes.view_recovery_codes), name="mfa_view_recovery_codes"),
    path("second-factor/codes/new/", form(codes.generate_recovery_codes), name="mfa_generate_recovery_codes"),
    path("second-factor/passkey/", form(passkeys.add_webauthn), name="mfa_add_webauthn"),
    path("second-factor/passkey/again/", form(factors.passkey_again), name="mfa_reauthenticate_webauthn"),
    path("second-factor/passkey/sign-in/", form(local(passkeys.login_webauthn)), name="mfa_login_webauthn"),
    path("second-factor/passkey/<int:pk>/", form(factors.rename_passkey), name="mfa_edit_webauthn"),
    path("second-factor/passkey/<int:pk>/remove/", form(factors.remove_passkey), name="mfa_remove_webauthn"),
    path("password/", form(views.password_change), name="account_change_password"),
    path("password/set/", form(views.password_set), name="account_set_password"),
    path("password/reset/", form(local(views.password_reset)), name="account_reset_password"),
    path("password/reset/sent/", form(views.password_reset_done), name="account_reset_password_done"),
    re_path(
        r"^password/reset/(?P<uidb36>[0-9A-Za-z]+)-(?P<key>.+)/$",
        form(local(views.password_reset_from_key)),
        name="account_reset_password_from_key",
    ),
    path("password/reset/done/", form(views.password_reset_from_key_done), name="account_reset_password_from_key_done"),
]
