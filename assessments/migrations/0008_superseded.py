"""A stored mark for attempts that a later one of the same player has overtaken, and indexes for the review queue."""
from django.conf import settings
from django.db import migrations, models

AT_ONCE = 500


def mark_superseded(apps, schema_editor):
    """One pass over the attempts that came in, the newest first, so that no plan of the database can be slow."""
    attempts = apps.get_model("assessments", "Attempt").objects
    rows = attempts.exclude(status="open").order_by("step_id", "player_id", "-number").values_list("pk", "step_id", "player_id")
    before, found = None, []
    for pk, *chair in rows.iterator():
        if chair == before:
            found.append(pk)
        before = chair
    for start in range(0, len(found), AT_ONCE):
        attempts.filter(pk__in=found[start:start + AT_ONCE]).update(superseded=True)


class Migration(migrations.Migration):

    dependencies = [
        ("assessments", "0007_solo_steps"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.AddField(model_name="attempt", name="superseded", field=models.BooleanField(default=False)),
        migrations.AddIndex(
            model_name="attempt",
            index=models.Index(condition=models.Q(("status", "handed-in"), ("superseded", False)),
                               fields=["step", "handed_in"], name="attempt_to_review")),
        migrations.AddIndex(
            model_name="attempt",
            index=models.Index(fields=["status", "-reviewed_at", "-id"], name="attempt_reviewed")),
        migrations.AddIndex(
            model_name="listening", index=models.Index(fields=["player", "step"], name="listening_by_player")),
        migrations.RunPython(mark_superseded, migrations.RunPython.noop),
    ]
