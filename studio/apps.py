"""The app of the programme: people, terms, ensembles."""

from __future__ import annotations

from django.apps import AppConfig
from django.db.backends.signals import connection_created
from django.utils.module_loading import autodiscover_modules

from studio.house_words import use_house_words


class StudioConfig(AppConfig):
    name = "studio"
    verbose_name = "Programme"

    def ready(self) -> None:
        """Give the forms their words, say who works with the data, import every app's `jobs.py` (background work)."""
        from studio import presence

        use_house_words()
        connection_created.connect(presence.on_connection, dispatch_uid="presence")
        autodiscover_modules("jobs", "services.roster_letters", "audited", "privacy", "open_sheets")
