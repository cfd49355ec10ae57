"""The staff of a melody: the same melody in every key and for every reader, and nowhere while it is taken down by ear."""

from __future__ import annotations

from fractions import Fraction as F
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from drills.lines.notate import notate
from drills.takes.melody import NotOnAStaff, melody_line, sounding
from studio.instruments import INSTRUMENTS
from tests import factories
from tests.access_rows.takes import make_take
from tunes.harmony.pitch.spelling import Key, Pitch
from tunes.interchange.melody import Melody, MelodyNote
from tunes.models import PhraseByEar
from tunes.models_recordings import Melody as KeptMelody
from tunes.pitch import Sight
from tunes.study import StudyChart, study_of_text

TEXT = "key: F\n| Gm7 | C7 | Fmaj7 | Fmaj7 |"
# bar, beat, beats, pitch, tied: a silence of a bar and a half in the middle, a tie over the bar line
ROWS = [
    (0, 0, 1, "Bb4", 0),
    (0, 1, F(1, 2), "A4", 0),
    (0, F(3, 2), F(5, 2), "C#5", 0),
    (1, 0, 2, "C#5", 1),
    (3, 1, 3, "F4", 0),
]
MELODY = Melody(
    tuple(MelodyNote(bar, F(at), F(beats), Pitch.parse(pitch), bool(tied)) for bar, at, beats, pitch, tied in ROWS)
)


@pytest.mark.parametrize(
    ("key", "reader", "names"),
    [
        ("", "", "B♭4 A4 C♯5 F4"),
        ("", "tenor-sax", "C6 B5 D♯6 G5"),  # a major ninth above (table of transpositions: Gould, 2011; from memory)
        ("", "alto-sax", "G5 F♯5 A♯5 D5"),  # a major sixth above
        ("Ab", "", "D♭5 C5 E5 A♭4"),
        ("D", "trumpet", "A4 G♯4 B♯4 E4"),  # a minor third down, a major second up
    ],
)
def test_a_melody_is_printed_for_its_reader(key: str, reader: str, names: str) -> None:
    study, sight = (
        made(),
        Sight(key=Key.parse(key) if key else None, instrument=INSTRUMENTS.get(reader, Sight().instrument)),
    )
    line = melody_line(study, MELODY, sight)
    heads = [note for note in line.notes if note.pitch]
    assert " ".join(note.pitch.display for note in heads if note.pitch) == names
    asked = [[float(at), float(length)] for at, length, _ in sounding(study, MELODY)]
    assert [[float(note.start), float(note.duration)] for note in heads] == asked
    assert not any(bar.area for bar in line.bars)  # the key of a passage is the answer to a quiz
    for row in notate(line):  # every bar is full
        assert sum(piece.duration for piece in row.voices[0]) == row.bar.length


def test_a_triplet_says_that_it_is_not_drawn() -> None:
    third = Melody((MelodyNote(0, F(0), F(2, 3), Pitch.parse("C5")),))
    with pytest.raises(NotOnAStaff, match="triplets"):
        melody_line(made(), third, Sight())


@pytest.mark.django_db
def test_the_page_of_a_take_shows_the_melody_unless_it_is_taken_down_by_ear() -> None:
    """Before, a melody's take stood over chords alone. What a player still takes down is not written out for them; who leads sees it."""
    ensemble = factories.make_ensemble()
    player, leader = factories.make_player(ensemble), factories.make_instructor(ensemble)
    revision = factories.make_version(factories.make_tune("Harbour Steps"), TEXT)
    KeptMelody.objects.create(version=revision.version, notes=MELODY.to_json(), rights="our own", by=leader)
    take = make_take(player, revision, ensemble=ensemble, kind="melody")
    tune = revision.version.tune

    def staves(user: Any) -> list[int]:
        client = Client()
        client.force_login(user)
        context = client.get(reverse("drills:take", args=[take.pk])).context
        drawn = [svg.count('class="note"') for _, svg in context.get("staves", ())]
        assert bool(drawn) != bool(context.get("no_staff"))
        return drawn

    def band(user: Any) -> list[Any]:
        client = Client()
        client.force_login(user)
        setting = client.get(reverse("drills:band", args=[revision.pk])).context["setting"]
        assert {key["up"] for key in setting["keys"]} == set(range(-5, 7))  # no chorus moves the melody by more
        return setting.get("melody", [])

    shown = staves(player)
    assert [note[2] for note in band(player)] == [70, 69, 73, 65]  # B♭4 A4 C♯5 F4, sounding
    assert len(shown) == 2
    assert min(shown) >= len(take.played["notes"]) == 4
    phrase = PhraseByEar.objects.create(user=player, tune=tune, first=1, last=4, text="Bb A")
    assert (staves(player), staves(leader)) == ([], shown)
    assert (band(player), len(band(leader))) == ([], 4)  # nor is it played to them
    phrase.taken = take.made
    phrase.save()
    assert staves(player) == shown


def made() -> StudyChart:
    return study_of_text(TEXT)
