from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("assessments", "0013_questions_on_readings")]

    operations = [
        migrations.AddField("comment", "note", models.CharField(blank=True, default="", max_length=60)),
    ]
