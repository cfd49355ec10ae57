from django.apps import AppConfig


class AssessmentsConfig(AppConfig):
    name = "assessments"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        from assessments.holds import unanswered
        from tunes.access import hold_analysis

        hold_analysis(unanswered)
