"""Sign-in and passwords: pages of the library."""

from __future__ import annotations

from tests.access import EVERYONE, MEMBERS, SIGN_IN, Access, roles

HOME = 302  # already signed in: sent on

ROWS = [
    Access("account_login", get=roles(200, others=HOME), post=roles(200, others=HOME)),
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
]
