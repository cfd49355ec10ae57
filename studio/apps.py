"""The app of the programme: people, terms, ensembles."""
from __future__ import annotations

from django.apps import AppConfig
from django.utils.module_loading import autodiscover_modules

from studio.house_words import use_house_words


class StudioConfig(AppConfig):
    name = "studio"
    verbose_name = "Programme"

    def ready(self) -> None:
        """Give the forms their words, and import every app's `jobs.py`, where background work registers."""
        use_house_words()
        autodiscover_modules("jobs", "services.roster_letters")
