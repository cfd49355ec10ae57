from __future__ import annotations

from django.apps import AppConfig


class StudioConfig(AppConfig):
    name = "studio"
    verbose_name = "Programme"
