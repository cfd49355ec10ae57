from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("assessments", "0014_comments_at_a_note")]

    operations = [
                migrations.AddIndex("attempt", models.Index(fields=["step", "status"], name="attempt_by_step")),
    ]
