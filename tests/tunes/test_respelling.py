"""Keys that nobody reads (B double flat major) are shown under the name that players use, chords with them."""

from __future__ import annotations

from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from drills.comparers.wording import key_text
from drills.lines.build import Recipe
from drills.sheets import line_shown
from drills.wishes import Wish
from studio.instruments import CONCERT, INSTRUMENTS
from tests import factories
from tunes.harmony.analysis.key_areas.names import SIGNATURE
from tunes.harmony.explain.sentences import told
from tunes.harmony.pitch.spelling import MAJOR_KEYS, UNISON, Interval, Key
from tunes.models import AreaOverride, LabelOverride
from tunes.pitch import Sight, seen
from tunes.study import StudyChart, study_of_text

# A part a minor third above home, and one a major third below it: our own progression.
TEXT = "key: F major\n\nA:\n| Fmaj7 | Gm7 C7 | Fmaj7 | Bbm7 Eb7 |\n| Abmaj7 | Bbm7 Eb7 | Abmaj7 | % |\n| Ebm7 | Ab7 | Dbmaj7 | % |\n| Gm7 | C7 | Fmaj7 | % |"


def sounds(study: StudyChart) -> list[Any]:
    return [(event.symbol.root.pc, event.symbol.family) for event in study.events if event.symbol]


@pytest.mark.parametrize("key", MAJOR_KEYS, ids=lambda key: key.short)
@pytest.mark.parametrize("instrument", ["", "alto-sax", "trumpet"])
def test_every_shown_key_has_a_signature_and_nothing_else_changes(key: Key, instrument: str) -> None:
    study, player = study_of_text(TEXT), INSTRUMENTS.get(instrument, CONCERT)
    plain = study.transposed(key)
    plain = plain if player.is_concert else plain.for_instrument(player)
    shown = seen(study, Sight(key=key, instrument=player))
    keys = [area.key for area in shown.analysis.areas] + [reading.key for reading in shown.analysis.readings]
    assert max(abs(one.fifths) for one in keys) <= SIGNATURE
    assert sounds(shown) == sounds(plain)
    assert [r.function for r in shown.analysis.readings] == [r.function for r in plain.analysis.readings]
    for event, reading in zip(shown.events, shown.analysis.readings, strict=True):
        assert event.symbol is not None
        assert reading.key.note_at(reading.function.degree) == event.symbol.root


# F to A flat and G flat to A are the same distance by ear; A has three sharps. Common practice, no source.
def test_a_minor_third_above_g_flat_is_a_on_the_page_and_in_the_drill() -> None:
    shown = seen(study_of_text(TEXT), Sight(key=Key.parse("Gb")))
    assert [area.key.text for area in shown.analysis.areas][:2] == ["Gb major", "A major"]
    assert [event.symbol.text for event in shown.events if event.symbol][4:8] == ["Bm7", "E7", "Amaj7", "Bm7"]
    assert "A major" in told(shown.analysis.areas[1].reason)
    line, _ = line_shown(
        study_of_text(TEXT).transposed(Key.parse("Gb")), Wish(recipe=Recipe("arpeggios", "root"), instrument="piano")
    )
    assert [bar.area.text for bar in line.bars if bar.area][:2] == ["Gb major", "A major"]
    assert [chord.text for chord in line.chords][4:7] == ["Bm7", "E7", "Amaj7"]
    assert max(abs(note.pitch.name.alter) for note in line.notes if note.pitch) <= 1


@pytest.mark.parametrize(
    ("text", "interval", "shown"),
    [
        ("Ab major", "m2", "A"),
        ("Ab major", "M2", "B♭"),
        ("Bbb major", "", "B♭♭"),
        ("Ab minor", "m2", "A minor"),
    ],
)
def test_words_about_a_moved_key_use_its_usual_name(text: str, interval: str, shown: str) -> None:
    assert key_text(text, Interval.parse(interval) if interval else UNISON) == shown


@pytest.mark.django_db
def test_what_is_overruled_there_is_stored_in_the_spelling_of_the_chart() -> None:
    revision = factories.make_version(factories.make_tune(), TEXT)
    client = Client()
    client.force_login(factories.make_instructor(factories.make_ensemble()))
    page = client.get(reverse("tunes:tune", args=[revision.version.tune_id]), {"key": "Gb"}).content.decode()
    assert "A major" in page
    assert "B♭♭" not in page
    client.post(
        reverse("tunes:overrule", args=[revision.pk, 6]) + "?key=Gb", {"key": "A major", "reading": "1", "why": ""}
    )
    client.post(
        reverse("tunes:overrule_area", args=[revision.pk, 6]) + "?key=Gb",
        {"key": "A major", "first": "5", "last": "8", "why": ""},
    )
    assert (LabelOverride.objects.get().key, AreaOverride.objects.get().key) == ("Ab major", "Ab major")
