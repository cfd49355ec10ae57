from django.apps import AppConfig


class AssessmentsConfig(AppConfig):
    name = "assessments"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        from assessments.holds import open_work
        from tunes.access import hold_from_players

        hold_from_players(open_work)
