"""How a practice went is stored in the words that the page shows."""
from django.db import migrations, models

NOW = {"again": "fell apart", "hard": "with slips", "good": "steady", "easy": "with ease"}


def _renamed(apps, pairs):
    for model, field in (("practice", "went"), ("practiceitem", "last_went")):
        rows = apps.get_model("drills", model).objects
        for old, new in pairs:
            rows.filter(**{field: old}).update(**{field: new})


def forwards(apps, schema_editor):
    _renamed(apps, NOW.items())


def backwards(apps, schema_editor):
    _renamed(apps, [(new, old) for old, new in NOW.items()])


class Migration(migrations.Migration):

    dependencies = [
        ('drills', '0001_practice_and_packs'),
    ]

    operations = [
        migrations.AlterField(
            model_name='practice',
            name='went',
            field=models.CharField(choices=[('fell apart', 'Fell apart'), ('with slips', 'With slips'), ('steady', 'Steady'), ('with ease', 'With ease')], max_length=10),
        ),
        migrations.AlterField(
            model_name='practiceitem',
            name='last_went',
            field=models.CharField(blank=True, max_length=10),
        ),
        migrations.RunPython(forwards, backwards),
    ]
