from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("tunes", "0008_ear_results_with_the_band")]

    operations = [
        migrations.AddField(
            model_name="recordingfile",
            name="wave",
            field=models.JSONField(default=dict),
        ),
    ]
