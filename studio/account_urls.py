"""The pages of allauth that this site uses: sign in and out, passwords. Open sign-up answers that it is closed."""

from __future__ import annotations

from allauth.account import views
from django.urls import path, re_path
from django.views.decorators.http import require_http_methods

# The library's form pages would take PUT as POST.
form = require_http_methods(["GET", "HEAD", "POST"])

urlpatterns = [
    path("login/", form(views.login), name="account_login"),
    path("logout/", form(views.logout), name="account_logout"),
    path("inactive/", form(views.account_inactive), name="account_inactive"),
    path("signup/", form(views.signup), name="account_signup"),
    path("reauthenticate/", form(views.reauthenticate), name="account_reauthenticate"),
    path("password/", form(views.password_change), name="account_change_password"),
    path("password/set/", form(views.password_set), name="account_set_password"),
    path("password/reset/", form(views.password_reset), name="account_reset_password"),
    path("password/reset/sent/", form(views.password_reset_done), name="account_reset_password_done"),
    re_path(
        r"^password/reset/(?P<uidb36>[0-9A-Za-z]+)-(?P<key>.+)/$",
        form(views.password_reset_from_key),
        name="account_reset_password_from_key",
    ),
    path("password/reset/done/", form(views.password_reset_from_key_done), name="account_reset_password_from_key_done"),
]
