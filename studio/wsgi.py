"""What the web server runs."""

from __future__ import annotations

import os

from django.core.wsgi import get_wsgi_application
from django.urls import get_resolver

from studio import bootstrap

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "studio.settings")
bootstrap.keep_private(bootstrap.data_dir())
application = get_wsgi_application()
# Every page's code is loaded now: a class that opens its quiz straight after a start would all wait for it.
_ = get_resolver().url_patterns
