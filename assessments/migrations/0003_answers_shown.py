from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('assessments', '0002_changes_by_ear'),
    ]

    operations = [
        migrations.AddField(
            model_name='attempt',
            name='after_answers',
            field=models.BooleanField(default=False),
        ),
        migrations.AddField(
            model_name='attempt',
            name='answers_shown',
            field=models.DateTimeField(blank=True, null=True),
        ),
        migrations.AlterField(
            model_name='assignment',
            name='alternatives',
            field=models.CharField(choices=[('full', 'Full marks for another sound reading'), ('part', 'Part marks for another sound reading'), ('none', 'Full marks only for the reading of the chart')], default='part', max_length=4),
        ),
        migrations.AlterField(
            model_name='assignment',
            name='release',
            field=models.CharField(choices=[('last', 'When the last attempt is handed in, or the due date has passed'), ('hand-in', 'As soon as it is handed in'), ('due', 'After the due date'), ('by-hand', 'When I release them')], default='last', max_length=12),
        ),
    ]
