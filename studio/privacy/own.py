"""What the programme's own app, and the libraries under it, keep about a person."""

from studio.privacy import export  # noqa: F401  (registers the job)
from studio.privacy.declared import Declared, Fate, declare, names_in

declare(
    Declared("account.EmailAddress", "user", Fate.DELETE),
    Declared("mfa.Authenticator", "user", Fate.DELETE, export="second-factors", leaves_out=("data",)),
    Declared("socialaccount.SocialAccount", "user", Fate.DELETE, export="school-sign-in", leaves_out=("extra_data",)),
    Declared("studio.SignIn", "user", Fate.DELETE, export="sign-ins", leaves_out=("key",)),
    Declared("studio.User_groups", "user", Fate.DELETE),
    Declared("studio.User_user_permissions", "user", Fate.DELETE),
    Declared("studio.Membership", "user", Fate.KEEP, export="chairs"),
    Declared("studio.Invitation", "user", Fate.DELETE),
    Declared("studio.Invitation", "invited_by", Fate.KEEP),
    Declared("studio.Message", "by", Fate.KEEP, export="messages-sent", leaves_out=("token",)),
    Declared("studio.Message_to", "user", Fate.DELETE),
    Declared("studio.Message", "to", Fate.KEEP, export="messages", leaves_out=("token",)),
    Declared("studio.Notice", "user", Fate.DELETE, export="notices", leaves_out=("message",)),
    Declared("studio.Job", "owner", Fate.DELETE),
    Declared("studio.KeptFile", "user", Fate.DELETE, export="kept-files", leaves_out=("token",)),
    Declared("studio.AuditEntry", "by", Fate.KEEP),
    Declared("studio.AuditEntry", "about", Fate.KEEP, export="log"),
    Declared("studio.PersonalArchive", "about", Fate.DELETE),
    Declared("studio.PersonalArchive", "by", Fate.DELETE),
    Declared("studio.PlannedErasure", "user", Fate.DELETE),
)
names_in(("studio.Notice", "text"), ("studio.Job", "message"), ("studio.Message", "text"))
