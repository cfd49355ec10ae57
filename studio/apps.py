"""The app of the programme: people, terms, ensembles."""
from __future__ import annotations

from django.apps import AppConfig
from django.utils.module_loading import autodiscover_modules


class StudioConfig(AppConfig):
    name = "studio"
    verbose_name = "Programme"

    def ready(self) -> None:
        """Import every app's `jobs.py`, where handlers of background work register."""
        autodiscover_modules("jobs", "services.roster_letters")
