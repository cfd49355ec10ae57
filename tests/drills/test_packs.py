"""Packs: a part for every transposition, kept once, safe to make again, seen by those whose ensemble it is for."""

from __future__ import annotations

import io
import zipfile
from typing import Any

import pypdfium2
import pytest

from drills.lines.build import Recipe
from drills.models import Pack
from drills.services import packs
from drills.wishes import Wish
from studio.jobs import Job
from studio.models import Notice
from tests import factories
from tests.drills.studies import FORM

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def pack() -> Pack:
    ensemble = factories.make_ensemble()
    leader = factories.make_instructor(ensemble)
    for instrument in ("tenor-sax", "tenor-sax", "trombone", "bass"):
        factories.make_player(ensemble, instrument=instrument)
    revision = factories.make_version(factories.make_tune("Two Bridges"), FORM)
    wishes = [Wish(Recipe("guide-tones", "3")), Wish(Recipe("arpeggios", "nearest"))]
    return packs.make_pack(ensemble=ensemble, revision=revision, wishes=wishes, with_chart=True, by=leader)


def test_one_part_for_each_transposition(pack: Pack) -> None:
    parts = {part.instrument: part for part in pack.parts.all()}
    assert set(parts) == {"tenor-sax", "trombone", "bass"}
    assert {part.pages for part in parts.values()} == {3}
    assert Job.objects.get(pk=pack.job_id).state == Job.State.DONE
    document = pypdfium2.PdfDocument(packs.part_path(parts["tenor-sax"].digest))
    pages = [document[number].get_textpage().get_text_range() for number in range(len(document))]
    assert "written for tenor saxophone" in pages[0]
    assert "F major" in pages[1]  # E flat sounding


def test_the_key_of_the_day_and_doubles(pack: Pack) -> None:
    """A pack in F for a chart in E flat reads in G on the tenor (a ninth up); a chair's doubles have parts of their own."""
    pack.ensemble.memberships.filter(instrument="bass").update(doubles=["flute"])
    made = packs.make_pack(
        ensemble=pack.ensemble, revision=pack.revision, wishes=[], with_chart=True, by=pack.made_by, key="F major"
    )
    parts = {part.instrument: part for part in made.parts.all()}
    assert set(parts) == {"tenor-sax", "trombone", "bass", "flute"}
    document = pypdfium2.PdfDocument(packs.part_path(parts["tenor-sax"].digest))
    assert "G major" in document[0].get_textpage().get_text_range()


def test_a_chair_may_get_the_chart_alone_and_all_parts_come_as_one_file(pack: Pack) -> None:
    pack.chart_only = ["bass"]
    pack.save()
    packs.start(pack, pack.made_by)
    parts = {part.instrument: part.pages for part in pack.parts.all()}
    assert parts == {"tenor-sax": 3, "trombone": 3, "bass": 1}
    with zipfile.ZipFile(io.BytesIO(packs.in_one_file(pack))) as archive:
        names = {name: archive.read(name)[:5] for name in archive.namelist()}
    assert names == dict.fromkeys(
        ("two-bridges-tenor-sax.pdf", "two-bridges-trombone.pdf", "two-bridges-bass.pdf"), b"%PDF-"
    )


def test_made_again_nothing_is_engraved_again(pack: Pack, monkeypatch: pytest.MonkeyPatch) -> None:
    def never(*_: Any, **__: Any) -> bytes:
        raise AssertionError("a kept part was made again")

    monkeypatch.setattr(packs, "build_part", never)
    packs.start(pack, pack.made_by)
    assert Job.objects.get(pk=pack.job_id).state == Job.State.DONE


def test_a_killed_job_goes_on_where_it_stopped(pack: Pack, monkeypatch: pytest.MonkeyPatch) -> None:
    lost = pack.parts.get(instrument="bass")
    packs.part_path(lost.digest).unlink()
    made = []
    real = packs.build_part
    monkeypatch.setattr(packs, "build_part", lambda *a, **k: made.append(a[1]) or real(*a, **k))
    packs.start(pack, pack.made_by)
    assert made == ["bass"]


def test_a_drill_without_chords_names_its_fault_and_spoils_no_other_part(pack: Pack) -> None:
    pack.wishes = [packs.plain(Wish(Recipe(first_bar=32, last_bar=32)))]
    pack.save()
    packs.start(pack, pack.made_by)
    part = pack.parts.first()
    assert part.digest == ""
    assert "no chord" in part.problem


def test_players_are_told_once(pack: Pack) -> None:
    assert packs.share(pack) == 4
    assert packs.share(pack) == 0
    assert Notice.objects.filter(kind="pack").count() == 4
