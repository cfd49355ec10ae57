"""Archives of every release, restored and migrated by this version, on both databases: nothing of them is lost.

The command itself runs, in a process of its own, over a data folder that was never used.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest
from django.conf import settings
from django.db import connection

ARCHIVES = Path(__file__).resolve().parent.parent / "archives"
RELEASES = ["0.1.0"]
CHECK = """
import django, json, sys
from django.conf import settings
django.setup()
# Pages are asked for without the files that a start collects.
settings.STORAGES["staticfiles"] = {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"}
from django.core.management import call_command
call_command("restore", sys.argv[1])
from django.db import connection
from django.db.migrations.executor import MigrationExecutor
from django.test import Client
from assessments.models import Answer, Attempt, Comment, Evidence, SignOff, Submission
from drills.models import Practice, PracticeItem
from studio.models import Membership, Programme, User
from tunes.models import ChartRevision, Listening
from tunes.study import study_chart
executor = MigrationExecutor(connection)
client = Client(headers={"host": "localhost"})
pages = {}
for email, addresses in (("Dana", ["/work/overview/", "/people/"]), ("Lin", ["/work/review/", "/work/ledger/"]), ("Ana", ["/work/", "/work/progress/"])):
    client.force_login(User.objects.get(name__startswith=email))
    pages |= {address: client.get(address).status_code for address in addresses}
file = Submission.objects.exclude(file="").get().file
print(json.dumps({
    "programme": list(Programme.objects.values_list("name", "time_zone")[0]),
    "people": sorted(User.objects.values_list("name", flat=True)),
    "chairs": sorted(Membership.objects.values_list("user__name", "role", "instrument")),
    "pending": len(executor.migration_plan(executor.loader.graph.leaf_nodes())),
    "attempts": sorted(Attempt.objects.values_list("player__name", "number", "status", "superseded", "step__kind")),
    "answers": sorted(Answer.objects.values_list("text", flat=True)),
    "comment": list(Comment.objects.values_list("text", "bar")[0]),
    "signed": list(SignOff.objects.values_list("player__name", "evidence")[0]),
    "evidence": sorted(Evidence.objects.values_list("player__name", "kind")),
    "practices": list(Practice.objects.order_by("tempo").values_list("went", flat=True)),
    "item": PracticeItem.objects.get().last_went,
    "heard": Listening.objects.get().noticed,
    "file": len(file.read()),
    "bars": len(study_chart(ChartRevision.objects.get()).chart.bars),
    "pages": pages,
}))
"""


@pytest.mark.django_db
@pytest.mark.parametrize("release", RELEASES)
def test_an_archive_of_a_release_comes_up_to_date(release: str, tmp_path: Path) -> None:
    surroundings = dict(os.environ) | {
        "TOPFORM_DATA": str(tmp_path), "TOPFORM_NO_VENV": "1", "DJANGO_SETTINGS_MODULE": "studio.settings",
        "TOPFORM_STATIC": str(tmp_path / "static"),
    }  # fmt: skip
    surroundings.pop("TOPFORM_DB_HOST", None)
    if connection.vendor == "postgresql":
        name = f"upgrade_{connection.settings_dict['NAME']}"
        _fresh_database(name)
        surroundings |= {"TOPFORM_DB_HOST": connection.settings_dict["HOST"], "TOPFORM_DB_NAME": name}
    archive = ARCHIVES / f"{release}-{connection.vendor}.tar.gz"
    done = subprocess.run(
        [sys.executable, "-c", CHECK, str(archive)],
        cwd=settings.BASE_DIR,
        env=surroundings,
        capture_output=True,
        text=True,
    )
    assert done.returncode == 0, done.stderr[-3000:]
    found = json.loads(done.stdout.strip().splitlines()[-1])
    assert found["programme"] == ["The first programme", "Europe/Lisbon"]
    assert found["people"] == ["Ana Player", "Bo Player", "Dana Director", "Lin Leader"]
    assert found["chairs"] == [
        ["Ana Player", "player", "tenor-sax"], ["Bo Player", "player", "trumpet"], ["Lin Leader", "instructor", ""],
    ]  # fmt: skip
    assert found["pending"] == 0
    # The mark for a go that a later one has replaced came after 0.1.0; the migration sets it.
    assert found["attempts"] == [
        ["Ana Player", 1, "handed-in", True, "function"], ["Ana Player", 2, "reviewed", False, "function"],
        ["Bo Player", 1, "handed-in", False, "hand-in"], ["Bo Player", 1, "open", False, "function"],
    ]  # fmt: skip
    assert found["answers"] == ["1", "1", "1", "wrong"]
    assert found["comment"] == ["Hear where the 5 of 2 goes.", 2]
    assert found["signed"] == ["Ana Player", "Played at the lesson."]
    assert ["Ana Player", "function"] in found["evidence"]
    assert ["Ana Player", "sign-off"] in found["evidence"]
    # What were keys in 0.1.0 are the words of the page now.
    assert found["practices"] == ["fell apart", "with slips", "steady", "with ease"]
    assert found["item"] == "steady"
    assert found["heard"] == "The bass walks up into the bridge."
    assert found["file"] == 44
    assert found["bars"] == 8
    assert set(found["pages"].values()) == {200}, found["pages"]


def _fresh_database(name: str) -> None:
    """An empty database beside the test's own, in the cluster of the tests."""
    import psycopg

    given = connection.settings_dict
    with psycopg.connect(host=given["HOST"], user=given["USER"], dbname="postgres", autocommit=True) as own:
        own.execute(f'DROP DATABASE IF EXISTS "{name}"')
        own.execute(f'CREATE DATABASE "{name}"')
