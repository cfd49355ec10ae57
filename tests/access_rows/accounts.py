"""Sign-in and passwords: pages of the library."""

from __future__ import annotations

from allauth.mfa.models import Authenticator

from tests.access import EVERYONE, MEMBERS, SIGN_IN, Access, World, roles
from tests.passkeys import Device

HOME = 302  # already signed in: sent on


def build(world: World) -> None:
    """The player has a passkey, which nobody else can touch."""
    data = {"name": "Key on the ring", "credential": Device().create("any")}
    world["passkey"] = Authenticator.objects.create(user=world.people["player"], type="webauthn", data=data)


def passkey(world: World) -> dict[str, object]:
    return {"pk": world["passkey"].pk}


NONE_SET_UP = roles(404, others=404)
ASKED = roles(SIGN_IN, others=302)  # confirm first that it is you

ROWS = [
    Access("account_login", get=roles(200, others=HOME), post=roles(200, others=HOME)),
    Access("school_start", get=NONE_SET_UP, post=NONE_SET_UP),
    Access("school_callback", get=NONE_SET_UP, post=NONE_SET_UP),
    Access("account_logout", get=roles(SIGN_IN, others=200), post=roles(SIGN_IN, others=SIGN_IN)),
    Access("account_inactive", get=EVERYONE),
    Access("account_signup", get=roles(200, others=HOME), post=roles(200, others=HOME)),
    Access("account_reauthenticate", get=MEMBERS, post=MEMBERS),
    Access("account_change_password", get=MEMBERS, post=MEMBERS),
    Access("account_set_password", get=roles(SIGN_IN, others=302), post=roles(SIGN_IN, others=302)),
    Access("account_reset_password", get=EVERYONE, post=EVERYONE),
    Access("account_reset_password_done", get=EVERYONE),
    Access("account_reset_password_from_key", lambda w: {"uidb36": "1", "key": "made-up"}, get=EVERYONE, post=EVERYONE),
    Access("account_reset_password_from_key_done", get=EVERYONE),
    Access("mfa_index", get=MEMBERS, post=roles(SIGN_IN, others=405)),
    Access("mfa_authenticate", get=roles(SIGN_IN, others=302), post=roles(SIGN_IN, others=302)),
    Access("mfa_reauthenticate", get=ASKED, post=ASKED),
    Access("mfa_activate_totp", get=ASKED, post=ASKED),
    Access("mfa_deactivate_totp", get=roles(SIGN_IN, others=404), post=roles(SIGN_IN, others=404)),
    Access("mfa_view_recovery_codes", get=roles(SIGN_IN, others=404)),
    Access("mfa_generate_recovery_codes", get=ASKED, post=ASKED),
    Access("mfa_add_webauthn", get=ASKED, post=ASKED),
    Access(
        "mfa_reauthenticate_webauthn",
        get=roles(SIGN_IN, others=302, player=200),
        post=roles(SIGN_IN, others=302, player=422),
    ),
    Access("mfa_login_webauthn", get=roles(SIGN_IN, others=302), post=roles(SIGN_IN, others=302)),
    Access("mfa_edit_webauthn", passkey, get=ASKED, post=ASKED),
    Access("mfa_remove_webauthn", passkey, get=ASKED, post=ASKED),
]
