"""What writes when a lead sheet or a melody comes in. One transaction each."""

from __future__ import annotations

from django.db import transaction

from studio.models import User
from tunes.interchange import Melody as NotedMelody
from tunes.models import ChartVersion, Melody, Tune
from tunes.services.charts import keep_draft
from tunes.services.tunes import create_tune
from tunes.study import chart_of


def keep_as_draft(*, by: User, text: str, title: str, composer: str, tune: Tune | None) -> Tune:
    """A draft of a new version of `tune`, which is made when None; returns the tune."""
    with transaction.atomic():
        if tune is None:
            chart = chart_of(text)
            key = chart.key.text if chart.key else ""
            tune = create_tune(by=by, title=title, composer=composer, key=key, metre=chart.metre.text)
        draft = tune.drafts.filter(user=by, version=None).first()
        keep_draft(user=by, tune=tune, version=None, text=text, serial=draft.serial if draft else 0)
    return tune


def keep_melody(*, version: ChartVersion, melody: NotedMelody, rights: str, source_name: str, by: User) -> Melody:
    """The melody of a version, instead of any earlier one."""
    row, _made = Melody.objects.update_or_create(
        version=version,
        defaults={"notes": melody.to_json(), "rights": rights, "source_name": source_name[:200], "by": by},
    )
    return row
