"""Notices of a settled bar said its chords, also to players who take them down by ear: what was written is put right."""
import re

from django.db import migrations

_SAID = re.compile(r"(is settled: )the bar is .* now\.$", re.DOTALL)


def without_chords(apps, schema_editor):
    notices = apps.get_model("studio", "Notice")
    for row in notices.objects.filter(kind="settled", text__contains="is settled: the bar is ").iterator():
        row.text = _SAID.sub(r"\1the bar was changed.", row.text)
        row.save(update_fields=["text"])


class Migration(migrations.Migration):
    dependencies = [("studio", "0002_people_notices_jobs")]
    operations = [migrations.RunPython(without_chords, migrations.RunPython.noop)]
