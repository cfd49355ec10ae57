from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('assessments', '0003_answers_shown'),
    ]

    operations = [
        migrations.AddField(
            model_name='assignment',
            name='closed',
            field=models.DateTimeField(blank=True, null=True),
        ),
        migrations.AddField(
            model_name='step',
            name='closed',
            field=models.DateTimeField(blank=True, null=True),
        ),
        migrations.AlterField(
            model_name='assignment',
            name='release',
            field=models.CharField(choices=[('last', 'After the last attempt or the due date'), ('hand-in', 'As soon as it is handed in'), ('due', 'After the due date'), ('by-hand', 'When I release them')], default='last', max_length=12),
        ),
    ]
