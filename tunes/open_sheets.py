"""Charts as MusicXML, for an open archive of the programme."""

from __future__ import annotations

from collections.abc import Iterator

from studio.moving.sheets import Sheet, sheets
from tunes.interchange import Extras, write_musicxml
from tunes.lead_sheets.selectors import melody_of
from tunes.models import ChartRevision
from tunes.selectors import revisions_for_study
from tunes.study import ChartUnreadable, study_chart


def newest() -> list[int]:
    """The newest revision of every version."""
    found: dict[int, int] = {}
    for pk, version in ChartRevision.objects.order_by("number").values_list("pk", "version"):
        found[version] = pk
    return sorted(found.values())


@sheets("charts")
def charts() -> Iterator[Sheet]:
    """The newest revision of every version in concert pitch, with the functions as numerals and the melody that is kept."""
    for revision in revisions_for_study().filter(pk__in=newest()).order_by("pk"):
        tune = revision.version.tune
        name = f"tune-{tune.pk}-version-{revision.version_id}-revision-{revision.number}"
        try:
            study = study_chart(revision)
        except ChartUnreadable as problem:
            yield Sheet(name, b"", str(problem))
            continue
        extras = Extras(tune.title, tune.composer, melody_of(revision), study.analysis)
        yield Sheet(name, write_musicxml(study.chart, extras))
