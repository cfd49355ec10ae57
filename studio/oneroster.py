"""A OneRoster 1.2 package (CSV binding, 1EdTech) read into the rows of a roster. Pure: nothing is written.

A package is a ZIP with `manifest.csv` and one file for each kind of record; here `users.csv`, `classes.csv` and
`enrollments.csv` are used (1.1 packages have the same columns of these). A class whose title is the name of an ensemble
of the term becomes its chairs; all other classes of the school are left out and counted. What comes out is roster text,
so that it is previewed, corrected and written like every roster.

`sourcedId` is the school id of a person, unless more of the school ids that are known here stand in another column that
names people: then those are taken, so that a site whose ids are student numbers keeps them.
"""

from __future__ import annotations

import csv
import io
import zipfile
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass

MOST_BYTES = 40_000_000  # of one file unpacked: the rosters of a large school
MOST_ROWS = 400_000
NEEDED: Mapping[str, tuple[str, ...]] = {
    "users": ("sourcedId", "givenName", "familyName", "email"),
    "classes": ("sourcedId", "title"),
    "enrollments": ("classSourcedId", "userSourcedId", "role"),
}
ROLES = {
    "student": "player",
    "teacher": "instructor",
}  # CSV binding, enrollments.role; proctors and others have no chair
VERSIONS = ("1.1", "1.2")
GONE = "tobedeleted"  # CSV binding, status
IDS = ("sourcedId", "identifier", "username")  # columns of users.csv that may hold the school id, in this order
NAMED = 6  # classes that are named when none fits

Row = dict[str, str]
Chair = tuple[str, str, str, str, str]  # name, address, ensemble, role, school id


class CannotRead(Exception):
    """The package is no package, or lacks something; the message says what and what to do."""


@dataclass(frozen=True)
class Package:
    """Roster text, and what to say beside it."""

    text: str
    remarks: tuple[str, ...]


def read_package(data: bytes, ensembles: Iterable[str], known_ids: Collection[str] = ()) -> Package:
    """Roster text of a package. `known_ids`: the school ids of people here. Raises `CannotRead` with one sentence for
    everything that is not one."""
    files = _files(data)
    known = {_fold(name): name for name in ensembles}
    classes = {row["sourcedId"]: known.get(_fold(row["title"]), "") for row in files["classes"] if _stands(row)}
    users = {row["sourcedId"]: row for row in files["users"] if _stands(row)}
    column = _id_column(users.values(), frozenset(known_ids))
    chairs, elsewhere, without = _chairs(files["enrollments"], classes, users, column)
    if not chairs:
        titles = sorted({row["title"] for row in files["classes"] if _stands(row)})
        some = ", ".join(f"“{title}”" for title in titles[:NAMED]) + (" …" if len(titles) > NAMED else "")
        raise CannotRead(
            "No class of this package has the name of an ensemble of the term. "
            f"The package has {some or 'no class'}; give the ensembles those names, or choose another term."
        )
    remarks = [f"Read as a OneRoster package: {len(chairs)} chairs."]
    if column != IDS[0]:
        remarks.append(f"School ids are taken from the column “{column}”, because those of people here stand in it.")
    if elsewhere:
        remarks.append(f"Left out, in classes that are no ensembles of this term: {_enrolments(elsewhere)}.")
    if without:
        remarks.append(f"Left out, without a person or with a role that has no chair here: {_enrolments(without)}.")
    return Package(_text(chairs), tuple(remarks))


def _files(data: bytes) -> dict[str, list[Row]]:
    try:
        archive = zipfile.ZipFile(io.BytesIO(data))
    except zipfile.BadZipFile as error:
        raise CannotRead("This ZIP file is damaged. Export the package again.") from error
    names = set(archive.namelist())
    if "manifest.csv" not in names:
        raise CannotRead("This is a ZIP file but no OneRoster package: it has no manifest.csv at its top.")
    manifest = {
        row.get("propertyName", ""): row.get("value", "")
        for row in _rows(archive, "manifest", ("propertyName", "value"))
    }
    version = manifest.get("oneroster.version", "")
    if version not in VERSIONS:
        raise CannotRead(f"This package says version “{version[:20]}”; versions {' and '.join(VERSIONS)} are read.")
    found = {}
    for name, columns in NEEDED.items():
        if manifest.get(f"file.{name}") != "bulk" or f"{name}.csv" not in names:
            raise CannotRead(f"The package has no {name}.csv in bulk. Export all of users, classes and enrollments.")
        found[name] = _rows(archive, name, columns)
    return found


def _rows(archive: zipfile.ZipFile, name: str, columns: tuple[str, ...]) -> list[Row]:
    """Records of one file, bounded by what is really unpacked, not by what the ZIP says of itself."""
    try:
        with archive.open(f"{name}.csv") as opened:
            raw = opened.read(MOST_BYTES + 1)
    except (zipfile.BadZipFile, RuntimeError, NotImplementedError, OSError) as error:
        raise CannotRead(f"{name}.csv cannot be unpacked. Export the package again, without a password.") from error
    if len(raw) > MOST_BYTES:
        raise CannotRead(f"{name}.csv is larger than {MOST_BYTES // 1_000_000} MB.")
    try:
        text = raw.decode("utf-8-sig").replace("\x00", "")
        reader = csv.DictReader(io.StringIO(text, newline=""), strict=True)
        missing = [column for column in columns if column not in (reader.fieldnames or ())]
        if missing:
            raise CannotRead(f"{name}.csv has no column {' and '.join(missing)}.")
        rows: list[dict[str, str]] = []
        for row in reader:
            if len(rows) >= MOST_ROWS:
                raise CannotRead(f"{name}.csv has more than {MOST_ROWS:,} records.")
            rows.append({key: (value or "").strip() for key, value in row.items() if isinstance(key, str)})
        return rows
    except UnicodeDecodeError as error:
        raise CannotRead(f"{name}.csv is not UTF-8, which the standard asks for.") from error
    except csv.Error as error:
        raise CannotRead(f"{name}.csv, near line {reader.line_num}: a quotation mark is not closed.") from error


def _chairs(
    enrollments: list[Row], classes: Mapping[str, str], users: Mapping[str, Row], column: str
) -> tuple[list[Chair], int, int]:
    """Every chair; how many enrolments are elsewhere, and how many are nobody's."""
    chairs: dict[tuple[str, str], Chair] = {}
    elsewhere = without = 0
    for row in filter(_stands, enrollments):
        ensemble, person, role = (
            classes.get(row["classSourcedId"]),
            users.get(row["userSourcedId"]),
            ROLES.get(row["role"].lower()),
        )
        if not ensemble:
            elsewhere += 1
        elif person is None or role is None:
            without += 1
        else:
            name = f"{person.get('preferredFirstName') or person['givenName']} {person['familyName']}".strip()
            key = (row["userSourcedId"], ensemble)
            if key not in chairs or role == "instructor":
                chairs[key] = (name, person["email"], ensemble, role, person.get(column, ""))
    return sorted(chairs.values(), key=lambda row: (row[2], row[3], row[0])), elsewhere, without


def _enrolments(number: int) -> str:
    return f"{number} enrolment{'' if number == 1 else 's'}"


def _id_column(users: Iterable[Row], known: frozenset[str]) -> str:
    """The column with the most school ids that are known here; the standard's own when none has any."""
    rows = list(users)
    found = {column: sum(row.get(column, "") in known for row in rows) for column in IDS}
    return max(IDS, key=lambda column: found[column])


def _stands(row: Row) -> bool:
    return row.get("status", "").lower() != GONE


def _fold(text: str) -> str:
    return " ".join(text.casefold().split())


def _text(chairs: Iterable[Chair]) -> str:
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(("name", "e-mail", "ensemble", "role", "school id"))
    writer.writerows(chairs)
    return out.getvalue()
