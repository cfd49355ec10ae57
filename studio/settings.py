"""Settings of the site. Everything a server needs to change comes from the environment (see README.md)."""

from __future__ import annotations

from pathlib import Path

from django.urls import reverse_lazy

from studio import databases, env, security
from studio.entry import school

BASE_DIR = Path(__file__).resolve().parent.parent
DATA_DIR = Path(env.text("TOPFORM_DATA", str(BASE_DIR / "data")))
VERSION = (BASE_DIR / "VERSION").read_text(encoding="utf-8").strip()

DEBUG = env.flag("TOPFORM_DEBUG")
HTTPS = env.flag("TOPFORM_HTTPS")
SECRET_KEY = security.secret_key(DATA_DIR)
SECRET_KEY_FALLBACKS = env.words("TOPFORM_SECRET_KEY_FALLBACKS")
INNER_NETWORK = env.flag(
    "TOPFORM_INNER_NETWORK"
)  # calls to other systems may go to inner addresses: api.campus.outward
ALLOWED_HOSTS = env.words("TOPFORM_HOSTS", "localhost,127.0.0.1,[::1]")
CSRF_TRUSTED_ORIGINS = env.words("TOPFORM_ORIGINS")

INSTALLED_APPS = [
    "django.forms",
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "whitenoise.runserver_nostatic",
    "django.contrib.staticfiles",
    "allauth",
    "allauth.account",
    "allauth.mfa",
    "allauth.socialaccount",
    "allauth.socialaccount.providers.openid_connect",
    "csp",
    "django_htmx",
    "django_tasks",
    "django_tasks_db",
    "rest_framework",
    "drf_spectacular",
    "studio",
    "tunes",
    "drills",
    "assessments",
    "api",
]
MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "api.middleware.ProblemMiddleware",
    "csp.middleware.CSPMiddleware",
    "studio.middleware.OrdinaryAddressMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "allauth.account.middleware.AccountMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "studio.middleware.ProgrammeMiddleware",
    "studio.entry.middleware.EntryMiddleware",
    "studio.middleware.EnsembleInUseMiddleware",
    "studio.offline.OfflineCopyMiddleware",
    "studio.faults.RoomMiddleware",
]
METRICS_TOKEN = env.text("TOPFORM_METRICS_TOKEN")
if METRICS_TOKEN:
    MIDDLEWARE.insert(0, "studio.metrics.CountingMiddleware")
ROOT_URLCONF = "studio.urls"
WSGI_APPLICATION = "studio.wsgi.application"
TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [BASE_DIR / "templates"],
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "studio.navigation.page_context",
            ]
        },
    }
]
FORM_RENDERER = "django.forms.renderers.TemplatesSetting"

DATABASES = {"default": databases.from_environment(DATA_DIR)}
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"
CACHES = {
    # Shared by every process: rate limits count in it, so memory of one process would not do.
    "default": {"BACKEND": "studio.shared_cache.HonestDatabaseCache", "LOCATION": "studio_cache"}
}
TASKS = {"default": {"BACKEND": "django_tasks_db.DatabaseBackend", "QUEUES": ["default"]}}

STATIC_URL = "/static/"
STATIC_ROOT = Path(env.text("TOPFORM_STATIC", str(DATA_DIR / "static")))
STATICFILES_DIRS = [BASE_DIR / "static"]
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {
        "BACKEND": "whitenoise.storage.CompressedManifestStaticFilesStorage",
        "OPTIONS": {"file_permissions_mode": 0o644, "directory_permissions_mode": 0o755},  # no secret is among them
    },
}
# Handed-in work is served by permission-checked views only; there is no MEDIA_URL route.
MEDIA_ROOT = Path(env.text("TOPFORM_MEDIA", str(DATA_DIR / "media")))
FILE_UPLOAD_PERMISSIONS, FILE_UPLOAD_DIRECTORY_PERMISSIONS = 0o600, 0o700
FILE_UPLOAD_HANDLERS = [
    "studio.faults.RoomHandler",
    "django.core.files.uploadhandler.MemoryFileUploadHandler",
    "django.core.files.uploadhandler.TemporaryFileUploadHandler",
]
DATA_UPLOAD_MAX_NUMBER_FIELDS = 2000

LANGUAGE_CODE = "en"
USE_TZ = True
TIME_ZONE = "UTC"  # each request runs in the programme's own time zone: studio.middleware

AUTH_USER_MODEL = "studio.User"
AUTHENTICATION_BACKENDS = ["allauth.account.auth_backends.AuthenticationBackend"]
PASSWORD_HASHERS = ["studio.security.Argon2Hasher"]
AUTH_PASSWORD_VALIDATORS = [
    {
        "NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator",
        "OPTIONS": {"user_attributes": ("email", "name")},
    },
    {"NAME": "django.contrib.auth.password_validation.MinimumLengthValidator", "OPTIONS": {"min_length": 10}},
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
]
LOGIN_URL = reverse_lazy("account_login")
LOGIN_REDIRECT_URL = "/"
LOGOUT_REDIRECT_URL = LOGIN_URL
ACCOUNT_ADAPTER = "studio.accounts.AccountAdapter"
ACCOUNT_FORMS = {"login": "studio.accounts.SignInForm", "change_password": "studio.accounts.PasswordForm"}
ACCOUNT_USER_MODEL_USERNAME_FIELD = None
ACCOUNT_LOGIN_METHODS = {"email"}
ACCOUNT_SIGNUP_FIELDS = ["email*", "password1*"]
ACCOUNT_EMAIL_VERIFICATION = "none"  # accounts come from invitations, which prove the address
ACCOUNT_EMAIL_SUBJECT_PREFIX = ""
ACCOUNT_EMAIL_NOTIFICATIONS = True
ACCOUNT_EMAIL_UNKNOWN_ACCOUNTS = False
ACCOUNT_LOGIN_ON_PASSWORD_RESET = True
ACCOUNT_LOGOUT_ON_PASSWORD_CHANGE = False
ACCOUNT_SESSION_REMEMBER = True
ACCOUNT_DEFAULT_HTTP_PROTOCOL = "https" if HTTPS else "http"
ACCOUNT_RATE_LIMITS = security.RATE_LIMITS
ALLAUTH_TRUSTED_PROXY_COUNT = env.number("TOPFORM_PROXIES", 0)

MFA_ADAPTER = "studio.entry.library.FactorAdapter"
MFA_SUPPORTED_TYPES = ["totp", "webauthn", "recovery_codes"]
MFA_PASSKEY_LOGIN_ENABLED = True
MFA_RECOVERY_CODES_SHOW_ONCE = True
MFA_TOTP_TOLERANCE = 1  # a step before and after: RFC 6238, section 5.2
MFA_FORMS = {
    "authenticate": "studio.entry.library.CodeForm",
    "reauthenticate": "studio.entry.library.CodeAgainForm",
    "activate_totp": "studio.entry.library.AppForm",
    "authenticate_webauthn": "studio.entry.library.PasskeyCodeForm",
    "login_webauthn": "studio.entry.library.PasskeyAloneForm",
    "reauthenticate_webauthn": "studio.entry.library.PasskeyAgainForm",
    "add_webauthn": "studio.entry.library.PasskeyForm",
    "edit_webauthn": "studio.entry.library.PasskeyNameForm",
}

SCHOOL_SIGN_IN = school.from_environment()
SOCIALACCOUNT_ADAPTER = "studio.entry.oidc.SchoolAccounts"

SESSION_COOKIE_AGE = 60 * 60 * 24 * 30
CSRF_FAILURE_VIEW = "studio.views.errors.stale_form"
SESSION_COOKIE_SAMESITE = CSRF_COOKIE_SAMESITE = "Lax"
if HTTPS:
    SESSION_COOKIE_NAME, CSRF_COOKIE_NAME = "__Host-session", "__Host-csrf"
    SESSION_COOKIE_SECURE = CSRF_COOKIE_SECURE = True
    SECURE_SSL_REDIRECT = True
    SECURE_REDIRECT_EXEMPT = [r"^livez$", r"^readyz$", r"^metrics$"]
    SECURE_HSTS_SECONDS = 60 * 60 * 24 * 365
    SECURE_HSTS_INCLUDE_SUBDOMAINS = SECURE_HSTS_PRELOAD = env.flag("TOPFORM_HSTS_WIDE")
    if ALLAUTH_TRUSTED_PROXY_COUNT:
        SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")
SECURE_CONTENT_TYPE_NOSNIFF = True
SECURE_REFERRER_POLICY = "same-origin"
X_FRAME_OPTIONS = "DENY"
CONTENT_SECURITY_POLICY = security.CONTENT_SECURITY_POLICY

EMAIL_BACKEND, EMAIL_HOST, EMAIL_PORT = security.mail_server()
EMAIL_HOST_USER = env.text("TOPFORM_MAIL_USER")
EMAIL_HOST_PASSWORD = env.text("TOPFORM_MAIL_PASSWORD")
EMAIL_USE_TLS = env.flag("TOPFORM_MAIL_TLS", default=bool(EMAIL_HOST_USER))
EMAIL_TIMEOUT = 15
EMAIL_FILE_PATH = DATA_DIR / "mail"
DEFAULT_FROM_EMAIL = SERVER_EMAIL = env.text("TOPFORM_MAIL_FROM", "topform@localhost")
SITE_URL = env.text("TOPFORM_URL", "http://localhost:8000").rstrip("/")

REST_FRAMEWORK = {
    "DEFAULT_AUTHENTICATION_CLASSES": ["api.security.TokenAuthentication"],
    "DEFAULT_PERMISSION_CLASSES": ["api.security.HasScope"],
    "DEFAULT_THROTTLE_RATES": {"token": "300/min", "heavy": "60/min"},
    "DEFAULT_SCHEMA_CLASS": "api.schema.Described",
    "DEFAULT_RENDERER_CLASSES": ["rest_framework.renderers.JSONRenderer"],
    "DEFAULT_PARSER_CLASSES": ["api.parsers.BoundedJSONParser"],
    "DEFAULT_PAGINATION_CLASS": "api.paging.Pages",
    "EXCEPTION_HANDLER": "api.errors.handle",
    "NUM_PROXIES": ALLAUTH_TRUSTED_PROXY_COUNT,
    "UNAUTHENTICATED_USER": "django.contrib.auth.models.AnonymousUser",
}
SPECTACULAR_SETTINGS = {
    "TITLE": "Topform",
    "DESCRIPTION": "Tunes, charts, assignments, attempts and the ledger of one programme.",
    "VERSION": VERSION,
    "SERVE_INCLUDE_SCHEMA": False,
    "PREPROCESSING_HOOKS": ["api.schema.only_api"],
    "COMPONENT_SPLIT_REQUEST": True,
    "ENUM_NAME_OVERRIDES": {
        "StepKindEnum": "assessments.kinds.KIND_CHOICES",
        "TakeKindEnum": "drills.takes.models.Take.Kind",
        "SoloWordKindEnum": "tunes.models_solos.SoloWord.Kind",
        "MarkQuestionOutcomeEnum": "assessments.models.Objection.Outcome",
        "ReadingQuestionOutcomeEnum": "assessments.models.ReadingQuestion.Outcome",
    },
}

LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {"line": {"format": "{asctime} {levelname} {name}: {message}", "style": "{"}},
    "handlers": {"console": {"class": "logging.StreamHandler", "formatter": "line"}},
    "root": {"handlers": ["console"], "level": env.text("TOPFORM_LOG", "WARNING")},
}
