"""What the web server runs."""

from __future__ import annotations

import os

from django.core.wsgi import get_wsgi_application

from studio import bootstrap

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "studio.settings")
bootstrap.keep_private(bootstrap.data_dir())
application = get_wsgi_application()
