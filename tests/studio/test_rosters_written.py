"""From a roster to people and chairs: the preview writes nothing, writing is idempotent."""

from __future__ import annotations

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from studio.models import AuditEntry, Ensemble, Invitation, Membership, User
from studio.roster import read_roster
from studio.services.roster_people import Disputed
from studio.services.rosters import plan, write
from tests import factories

pytestmark = pytest.mark.django_db
HEAD = "name,e-mail,ensemble,instrument\n"
TEXT = (
    HEAD
    + "Ada Quill,ada@x.example,Combo,Tenor sax\nBo Quist,bo@x.example,Combo,Bass\nAda Quill,ada@x.example,Octet,Flute\n"
)


@pytest.fixture
def combo() -> Ensemble:
    term = factories.make_term()
    factories.make_ensemble("Octet", term=term)
    return factories.make_ensemble("Combo", term=term)


@pytest.fixture
def director(client: Client) -> User:
    user = factories.make_director()
    client.force_login(user)
    return user


def rows(text: str = TEXT):  # type: ignore[no-untyped-def]
    reading = read_roster(text, ("Combo", "Octet"))
    assert reading.problems == ()
    return reading.rows


def state() -> set[tuple[str, str, str, str, str]]:
    return set(Membership.objects.values_list("user__name", "user__email", "ensemble__name", "role", "instrument"))


def test_writing_makes_people_and_chairs(combo: Ensemble) -> None:
    new = write(rows(), combo.term)
    assert {user.email for user in new} == {"ada@x.example", "bo@x.example"}
    assert state() == {
        ("Ada Quill", "ada@x.example", "Combo", "player", "tenor-sax"),
        ("Ada Quill", "ada@x.example", "Octet", "player", "flute"),
        ("Bo Quist", "bo@x.example", "Combo", "player", "bass"),
    }
    ada = User.objects.get(email="ada@x.example")
    assert ada.instrument == "tenor-sax"
    assert not ada.has_usable_password()


def test_writing_again_changes_nothing(combo: Ensemble) -> None:
    write(rows(), combo.term)
    before = (state(), set(User.objects.values_list("pk", flat=True)))
    assert [entry.changes for entry in plan(rows(), combo.term)] == [(), (), ()]
    assert write(rows(), combo.term) == []
    assert (state(), set(User.objects.values_list("pk", flat=True))) == before


def test_differences_are_shown_and_written(combo: Ensemble) -> None:
    write(rows(), combo.term)
    text = HEAD.replace("instrument", "instrument,role") + "Ada Q. Quill,ada@x.example,Combo,Alto sax,instructor\n"
    (changed,) = plan(rows(text), combo.term)
    assert changed.changes == ("name was Ada Quill", "was player", "played tenor saxophone")
    write(rows(text), combo.term)
    assert ("Ada Q. Quill", "ada@x.example", "Combo", "instructor", "alto-sax") in state()
    assert User.objects.get(email="ada@x.example").instrument == "tenor-sax"  # her own choice stays


def test_a_roster_removes_nobody_and_keeps_the_instrument_it_does_not_name(combo: Ensemble) -> None:
    write(rows(), combo.term)
    write(rows(HEAD + "Bo Quist,bo@x.example,Combo,\n"), combo.term)
    assert ("Bo Quist", "bo@x.example", "Combo", "player", "bass") in state()
    assert len(state()) == 3


def test_queries_do_not_grow_with_the_roster(combo: Ensemble, django_assert_num_queries) -> None:  # type: ignore[no-untyped-def]
    factories.make_user(email="p0@x.example")
    many = rows(HEAD + "".join(f"P {n},p{n}@x.example,Combo,Flute\n" for n in range(300)))
    with django_assert_num_queries(3):
        plan(many, combo.term)
    with CaptureQueriesContext(connection) as queries:
        write(many, combo.term)
    assert len(queries) <= 24  # SQLite writes bulk rows in batches, by how many columns a person has
    assert Membership.objects.count() == 300


def test_the_preview_writes_nothing(client: Client, director: User, combo: Ensemble) -> None:
    response = client.post("/people/roster/", {"term": combo.term_id, "text": TEXT})
    assert response.status_code == 200
    assert b"Nothing is written yet" in response.content
    assert User.objects.count() == 1


def test_confirming_writes_and_invites(client: Client, director: User, combo: Ensemble, mailoutbox) -> None:  # type: ignore[no-untyped-def]
    response = client.post("/people/roster/", {"term": combo.term_id, "text": TEXT, "write": "1", "invite": "1"})
    assert response.status_code == 302
    assert len(state()) == 3
    assert sorted(letter.to[0] for letter in mailoutbox) == ["ada@x.example", "bo@x.example"]
    assert Invitation.objects.get(user__email="ada@x.example").token in mailoutbox[0].body


def test_a_roster_with_one_bad_row_cannot_be_written_and_keeps_what_was_typed(
    client: Client, director: User, combo: Ensemble
) -> None:
    bad = TEXT + "Cy,cy@x.example,Comboo,Flute\n"
    response = client.post("/people/roster/", {"term": combo.term_id, "text": bad, "write": "1"})
    assert response.status_code == 422
    assert "Line 5:" in response.content.decode()
    assert "Cy,cy@x.example,Comboo,Flute" in response.content.decode()
    assert User.objects.count() == 1


@pytest.mark.parametrize(
    ("name", "data", "words"),
    [
        ("roster.xlsx", b"PK\x03\x04rest", "spreadsheet or document"),
        ("roster.csv", b"name,e-mail,ensemble,instrument\n" + b"x" * 1_000_001, "larger than a megabyte"),
        ("roster.csv", b"\x00\x01\x02\xff", "This is not text."),
    ],
)
def test_files_that_are_no_roster(
    client: Client, director: User, combo: Ensemble, name: str, data: bytes, words: str
) -> None:
    file = SimpleUploadedFile(name, data, content_type="text/csv")
    response = client.post("/people/roster/", {"term": combo.term_id, "file": file})
    assert response.status_code == 422
    assert words in response.content.decode()


def test_text_from_a_roster_is_never_html(client: Client, director: User, combo: Ensemble) -> None:
    text = HEAD + "<script>alert(1)</script>,ada@x.example,Combo,Flute\n"
    page = client.post("/people/roster/", {"term": combo.term_id, "text": text}).content.decode()
    assert "<script>alert" not in page
    assert "&lt;script&gt;alert(1)" in page


def test_a_new_person_with_a_name_that_is_here_is_asked_about(client: Client, director: User, combo: Ensemble) -> None:
    """As at the first package of a school, whose addresses are others than those that people signed up with."""
    factories.make_user("Bo Quist", email="bo@home.example")
    factories.make_user("Cy Orr", email="cy@x.example")
    text = HEAD + "Bo Quist,bo@school.example,Combo,\nCy Orr,cy@x.example,Combo,\nAda Quill,ada@x.example,Combo,\n"
    assert [row.namesake for row in plan(rows(text), combo.term)] == ["bo@home.example", "", ""]
    page = client.post("/people/roster/", {"term": combo.term_id, "text": text}).content.decode()
    assert "Look at 1 new person first" in page
    assert "Bo Quist is here already with bo@home.example" in page


IDS = "name,e-mail,ensemble,instrument,school id\n"


def test_a_person_is_found_by_school_id_before_the_address(client: Client, director: User, combo: Ensemble) -> None:
    """Cases in one go: the id alone fits (a new address), the address alone (the id is added), neither (a new person)."""
    old = factories.make_user("Ada Quill", email="ada@x.example", school_id="S1")
    factories.make_user("Bo Quist", email="bo@x.example")
    text = IDS + "Ada Quill-Moss,ada@new.example,Combo,Flute,S1\nBo Quist,bo@x.example,Combo,,S2\n"
    text += "Cy Orr,cy@x.example,Combo,,S3\nCy Orr,cy@x.example,Octet,,\n"
    assert [entry.changes for entry in plan(rows(text), combo.term)] == [
        ("name was Ada Quill", "address was ada@x.example", "new chair"),
        ("school id added", "new chair"),
        ("new person", "new chair"),
        ("new person", "new chair"),
    ]
    client.post("/people/roster/", {"term": combo.term_id, "text": text, "write": "1"})
    people = set(User.objects.exclude(pk=director.pk).values_list("name", "email", "school_id"))
    assert people == {
        ("Ada Quill-Moss", "ada@new.example", "S1"),
        ("Bo Quist", "bo@x.example", "S2"),
        ("Cy Orr", "cy@x.example", "S3"),
    }
    assert User.objects.get(school_id="S1").pk == old.pk
    assert AuditEntry.objects.filter(about=old, text="E-mail address changed by the roster").count() == 1
    assert {entry.changes for entry in plan(rows(text), combo.term)} == {()}, "repeating it changes nothing"


@pytest.mark.parametrize(
    ("row", "words"),
    [
        ("Ada Quill,bo@x.example,Combo,,S1", "The school id S1 is that of Ada Quill (ada@x.example), the address"),
        ("Ada Quill,ada@x.example,Combo,,S9", "ada@x.example is known here with the school id S1, not S9."),
        ("Ada,new@x.example,Combo,,S1\nAda,ada@x.example,Octet,,", "new@x.example are both Ada Quill here."),
    ],
)
def test_a_row_that_means_two_people_is_written_nowhere(
    client: Client, director: User, combo: Ensemble, row: str, words: str
) -> None:
    factories.make_user("Ada Quill", email="ada@x.example", school_id="S1")
    factories.make_user("Bo Quist", email="bo@x.example")
    before = set(User.objects.values_list("name", "email", "school_id"))
    answer = client.post("/people/roster/", {"term": combo.term_id, "text": IDS + row, "write": "1"})
    assert (answer.status_code, words in answer.content.decode()) == (422, True)
    with pytest.raises(Disputed):
        write(rows(IDS + row), combo.term)
    assert set(User.objects.values_list("name", "email", "school_id")) == before
