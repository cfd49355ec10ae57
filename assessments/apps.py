from django.apps import AppConfig


class AssessmentsConfig(AppConfig):
    name = "assessments"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        from assessments.holds import melody_is_asked, open_work, solo_is_asked, still_asked
        from assessments.selectors.old_keys import told
        from assessments.selectors.takes import places
        from drills.takes.belongs import find_places
        from tunes.access import asked_of_players, hold_from_players, melody_asked_of, solo_asked_of
        from tunes.after_overrule import tell_after_overrule

        hold_from_players(open_work)
        asked_of_players(still_asked)
        tell_after_overrule(told)
        find_places(places)
        melody_asked_of(melody_is_asked)
        solo_asked_of(solo_is_asked)
