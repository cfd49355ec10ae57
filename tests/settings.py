"""Settings for tests: the site's own, with quick passwords, plain static files and letters kept in memory.

Several processes may run tests at once (pytest-xdist). The first process makes the data folder and the PostgreSQL
cluster and hands both on in the environment; each worker has a folder of its own in it (database file, media, static
files) and, by pytest-django, a database of its own in the cluster.
"""

from __future__ import annotations

import os

from tests import data_folder

os.environ.setdefault("TOPFORM_SECRET_KEY", "only-for-tests-0123456789-0123456789-0123456789")
os.environ["TOPFORM_DATA"] = data_folder.of_this_process()
# Playwright drives its browser from an event loop; Django would refuse every query beside it.
os.environ.setdefault("DJANGO_ALLOW_ASYNC_UNSAFE", "true")
if os.environ.get("TOPFORM_TEST_DB") == "postgres":
    from tests import postgres

    os.environ["TOPFORM_DB_HOST"] = os.environ.get("TOPFORM_TEST_CLUSTER") or postgres.start()
    os.environ["TOPFORM_TEST_CLUSTER"] = os.environ["TOPFORM_DB_HOST"]

from studio.settings import *  # noqa: F403
from studio.settings import DATA_DIR, DATABASES, STORAGES

ALLOWED_HOSTS = ["*"]
PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]  # speed only; the real one has its own test
STORAGES = STORAGES | {"staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"}}
WHITENOISE_USE_FINDERS = True
WHITENOISE_AUTOREFRESH = True
EMAIL_BACKEND = "django.core.mail.backends.locmem.EmailBackend"
MEDIA_ROOT = DATA_DIR / "media"
TASKS = {"default": {"BACKEND": "django_tasks.backends.immediate.ImmediateBackend", "QUEUES": ["default"]}}
if DATABASES["default"]["ENGINE"].endswith("sqlite3"):
    # A file, not memory: threads and the live server must meet the same locks as in production.
    DATABASES["default"]["TEST"] = {"NAME": DATA_DIR / "test.sqlite3"}
    # Speed only: no test cuts the power.
    DATABASES["default"]["OPTIONS"]["init_command"] = "PRAGMA journal_mode=WAL; PRAGMA synchronous=NORMAL;"
LOGGING = {"version": 1, "disable_existing_loggers": False, "loggers": {"django.request": {"level": "ERROR"}}}
