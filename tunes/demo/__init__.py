"""The demo programme's repertoire: `load_demo` writes it, `repertoire` and `repertoire_more` hold it."""

from __future__ import annotations

from typing import Any

from studio.models import User
from tunes.demo.hearing import load_hearing
from tunes.demo.overrules import load_overrules
from tunes.demo.repertoire_more import IDIOMS, TUNES
from tunes.demo.shapes import DemoTune, DemoVersion
from tunes.demo.solos import load_solos
from tunes.models import Idiom, Recording, Tune
from tunes.services.charts import save_revision
from tunes.services.tunes import create_tune, create_version


def load_demo(world: Any) -> list[Tune]:
    """Write tunes, recordings, chart versions and idioms; a tune that is there already is left alone.

    `world` is the demo world of `studio.demo.compose`: the leaders of its ensembles take turns as the authors.
    """
    authors: list[User] = sorted({world.leader(key) for key in world.ensembles}, key=lambda user: user.pk)
    made = []
    for number, row in enumerate(TUNES):
        by = authors[number % len(authors)] if authors else None
        found = Tune.objects.filter(title=row.title).first()
        made.append(found or _load(row, by))
    by = authors[0] if authors else None
    for idiom in IDIOMS:
        Idiom.objects.get_or_create(
            name=idiom.name, defaults={"pattern": idiom.pattern, "notes": idiom.notes, "made_by": by}
        )
    load_hearing(world, made)
    load_overrules(world)
    load_solos(world, made)
    return made


def _load(row: DemoTune, by: User | None) -> Tune:
    tune = create_tune(
        by=by,
        title=row.title,
        composer=row.composer,
        key=row.key,
        form=row.form,
        metre=row.metre,
        feel=row.feel,
        tempo_low=row.tempo[0],
        tempo_high=row.tempo[1],
        has_lyrics=row.has_lyrics,
        notes=row.notes,
    )
    recordings = Recording.objects.bulk_create(
        Recording(
            tune=tune,
            leader=rec.leader,
            album=rec.album,
            year=rec.year,
            key=rec.key,
            tempo=rec.tempo,
            is_reference=rec.reference,
            why=rec.why,
            link=rec.link,
            created_by=by,
        )
        for rec in row.recordings
    )
    for version in row.versions:
        _load_version(tune, version, recordings, by)
    return tune


def _load_version(tune: Tune, row: DemoVersion, recordings: list[Recording], by: User | None) -> None:
    version = create_version(tune=tune, name=row.name, by=by)
    for place, text in enumerate(row.texts):
        save_revision(
            version=version,
            text=text,
            by=by,
            source_kind=row.source,
            source_recording=None if row.recording is None else recordings[row.recording],
            source_note=row.note,
            checked=row.checked and place == len(row.texts) - 1,
        )
