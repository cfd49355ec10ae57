from django.apps import AppConfig


class ApiConfig(AppConfig):
    name = "api"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        from allauth.account import signals

        from api import schema  # noqa: F401  (registers the token scheme with the schema generator)
        from api.campus.webhooks.sending import queue
        from api.tokens import end_if_wanted, end_with_reset
        from studio import happenings

        happenings.listen(queue)
        signals.password_reset.connect(end_with_reset)
        signals.password_changed.connect(end_if_wanted)
