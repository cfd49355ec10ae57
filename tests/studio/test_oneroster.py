"""OneRoster packages: columns and values of the CSV binding 1.2 (1EdTech, "OneRoster 1.2 CSV Binding", tables of
manifest, users, classes, enrollments; from memory and public packages), and what is no package."""

from __future__ import annotations

import io
import zipfile

import pytest
from django.core import mail
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from studio.models import Ensemble, Invitation, Membership, Notice, User
from studio.notices import send_digests
from studio.oneroster import CannotRead, read_package
from studio.roster import read_roster
from tests import factories

MANIFEST = (
    "propertyName,value\nmanifest.version,1.0\noneroster.version,1.2\n"
    "file.users,bulk\nfile.classes,bulk\nfile.enrollments,bulk\nfile.courses,absent\n"
)
USERS = (
    "sourcedId,status,dateLastModified,enabledUser,username,userIds,givenName,familyName,middleName,identifier,email\n"
    "u1,,,true,ada,,Ada,Quill,,,ada@school.example\n"
    'u2,,,true,bo,,Bo,"Quist, jr",,,BO@school.example\n'
    "u3,,,true,tess,,Tess,Ortega,,,tess@school.example\n"
    "u4,tobedeleted,,true,gone,,Gone,Away,,,gone@school.example\n"
)
CLASSES = (
    "sourcedId,status,dateLastModified,title,grades,courseSourcedId,classCode,classType,location,schoolSourcedId\n"
    "c1,,,The Tuesday  Octet,,,OCT,scheduled,Room 3,s1\nc2,,,Mathematics 7,,,M7,scheduled,,s1\n"
)
ENROLLMENTS = (
    "sourcedId,status,dateLastModified,classSourcedId,schoolSourcedId,userSourcedId,role,primary,beginDate,endDate\n"
    "e1,,,c1,s1,u1,student,,,\ne2,,,c1,s1,u2,student,,,\ne3,,,c1,s1,u3,teacher,true,,\n"
    "e4,,,c2,s1,u1,student,,,\ne5,,,c1,s1,u4,student,,,\ne6,,,c1,s1,u3,proctor,,,\ne7,tobedeleted,,c1,s1,u9,student,,,\n"
)
WHOLE = {"manifest": MANIFEST, "users": USERS, "classes": CLASSES, "enrollments": ENROLLMENTS}


def package(**changed: str | None) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, text in (WHOLE | changed).items():
            if text is not None:
                archive.writestr(f"{name}.csv", text)
    return out.getvalue()


def test_classes_that_are_ensembles_become_chairs() -> None:
    found = read_package(package(), ["The Tuesday Octet", "Big Band"])
    reading = read_roster(found.text, ["The Tuesday Octet"])
    assert reading.problems == ()
    assert [(row.name, row.email, row.ensemble, row.role, row.school_id) for row in reading.rows] == [
        ("Tess Ortega", "tess@school.example", "The Tuesday Octet", "instructor", "u3"),
        ("Ada Quill", "ada@school.example", "The Tuesday Octet", "player", "u1"),
        ("Bo Quist, jr", "bo@school.example", "The Tuesday Octet", "player", "u2"),
    ]
    assert [remark.rpartition(": ")[2] for remark in found.remarks] == ["3 chairs.", "1 enrolment.", "2 enrolments."]


def test_school_ids_are_those_that_people_have_here_already() -> None:
    """A site that knows people by student number keeps it; with as many of each the standard's own id is taken."""
    users = USERS.replace(",,ada@", ",S-17,ada@").replace(",,BO@", ",S-18,BO@")
    for known, expected in (
        ({"S-17", "S-18", "ada"}, {"", "S-17", "S-18"}),
        ({"ada", "tess"}, {"ada", "bo", "tess"}),
        ({"u1", "S-18"}, {"u1", "u2", "u3"}),
    ):
        found = read_package(package(users=users), ["The Tuesday Octet"], known)
        assert {row.school_id for row in read_roster(found.text, ["The Tuesday Octet"]).rows} == expected
        assert len(found.remarks) == (3 if "u1" in known else 4)


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (b"PK\x03\x04 and nothing", "damaged"),
        (package(manifest=None), "no manifest.csv"),
        (package(manifest=MANIFEST.replace("1.2", "2.0")), "version “2.0”"),
        (package(users=None), "no users.csv"),
        (package(manifest=MANIFEST.replace("file.users,bulk", "file.users,delta")), "no users.csv in bulk"),
        (package(users="sourcedId,givenName\nu1,Ada"), "no column familyName and email"),
        (package(users=USERS + 'u5,,,true,"x'), "not closed"),
        (package(classes=CLASSES.replace("Octet", "Nonet")), "“The Tuesday  Nonet”"),
        (package(enrollments=ENROLLMENTS.splitlines()[0]), "No class"),
    ],
)
def test_what_is_no_package_is_told_in_a_sentence(data: bytes, says: str) -> None:
    with pytest.raises(CannotRead, match=says):
        read_package(data, ["The Tuesday Octet"])


def test_a_package_that_unpacks_to_too_much(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("studio.oneroster.MOST_BYTES", 1000)
    with pytest.raises(CannotRead, match="larger than"):
        read_package(package(users=USERS + "x" * 2000), ["The Tuesday Octet"])


@pytest.mark.django_db
def test_it_is_previewed_and_written_like_a_roster() -> None:
    director = factories.make_director()
    octet: Ensemble = factories.make_ensemble("The Tuesday Octet")
    client = Client()
    client.force_login(director)
    body = {"term": octet.term_id, "file": SimpleUploadedFile("school.zip", package())}
    seen = client.post("/people/roster/", body)
    assert seen.status_code == 200
    assert not User.objects.filter(email="ada@school.example").exists()
    text = seen.context["reading"].text
    client.post("/people/roster/", {"term": octet.term_id, "text": text, "write": "1"})
    roles = dict(Membership.objects.filter(ensemble=octet).values_list("user__email", "role"))
    assert User.objects.get(school_id="u1").email == "ada@school.example"
    assert roles == {
        "ada@school.example": "player",
        "bo@school.example": "player",
        "tess@school.example": "instructor",
    }
    wrong = client.post("/people/roster/", {"term": octet.term_id, "file": SimpleUploadedFile("x.zip", b"PK\x03\x04")})
    assert wrong.status_code == 422
    assert "damaged" in wrong.content.decode()


WITHOUT = USERS.replace("ada@school.example", "")


@pytest.mark.django_db
def test_somebody_without_an_address_has_a_chair_and_no_account() -> None:
    """`email` of a user is optional (OneRoster 1.2 CSV Binding, users.csv). They are told in the preview, found by their
    school id again, never written to, and become accounts when an address comes."""
    director = factories.make_director()
    octet: Ensemble = factories.make_ensemble("The Tuesday Octet")
    client = Client()
    client.force_login(director)

    def send(users: str) -> str:
        body = {"term": octet.term_id, "file": SimpleUploadedFile("school.zip", package(users=users))}
        seen = client.post("/people/roster/", body)
        assert seen.status_code == 200, seen.context["problems"]
        text = seen.context["reading"].text
        client.post("/people/roster/", {"term": octet.term_id, "text": text, "write": "1", "invite": "1"})
        return seen.content.decode()

    page = send(WITHOUT)
    assert "1 person has no e-mail address" in page
    assert "no address: no invitation yet" in page
    assert "invalid" not in page
    ada = User.objects.get(school_id="u1")
    assert (ada.address, ada.is_active, ada.has_usable_password()) == ("", True, False)
    assert Membership.objects.get(user=ada).ensemble == octet
    assert sorted(Invitation.objects.values_list("user__school_id", flat=True)) == ["u2", "u3"]
    Notice.objects.create(user=ada, kind="t", text="New")
    mail.outbox.clear()
    assert send_digests() == 0
    assert mail.outbox == []
    for address in ("/people/", "/people/?show=no-address", f"/people/{ada.pk}/", f"/ensembles/{octet.pk}/"):
        answer = client.get(address)
        assert answer.status_code == 200, address
        assert "invalid" not in answer.content.decode(), address
    assert "has no e-mail address yet" in client.post(f"/people/{ada.pk}/invite", follow=True).content.decode()
    assert not Invitation.objects.filter(user=ada).exists()
    same = {"name": "Ada Quill", "email": "", "school_id": "u1", "instrument": "", "is_active": "on"}
    assert client.post(f"/people/{ada.pk}/", same).status_code == 302
    send(WITHOUT)  # the same again: the same person
    assert User.objects.filter(name="Ada Quill").get() == User.objects.get(pk=ada.pk)
    assert "address added" in send(USERS)
    assert User.objects.get(pk=ada.pk).address == "ada@school.example"
    send(WITHOUT)  # a known address is not lost again
    assert User.objects.get(pk=ada.pk).address == "ada@school.example"
