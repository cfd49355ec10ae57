"""How pages grow with a programme: S, M and L filled, every page timed, the growth printed as an exponent.

    .venv/bin/python tests/bench/scale.py                         S, M and L on SQLite
    .venv/bin/python tests/bench/scale.py --database both --sizes M 2M
    .venv/bin/python tests/bench/scale.py --keep /tmp/scale      databases of SQLite are kept there and used again

S is 24 people over one year, M 240 over five, L 480 over twenty (2M: 320 over eight, where L costs too much); players stay
four years. From M to L the people who are here now double as well: what grows with them alone, as a list of who has not done
what must, has the exponent 0.33 there. M20 is M after twenty years: `--sizes M M20` is the growth by history alone. Each page is asked for in this process, once to warm it and then `--times` times; the table has the best time in
milliseconds, the exponent of its growth between the last two sizes, in attempts (0 stays flat, 1 grows as they do), and
the p95 of the last. A busy machine shows in the p95, little in the best. Beside them what no other work on the machine
changes: the work of the database for one call of the page (SQLite: thousands of instructions of its virtual machine;
PostgreSQL: pages of 8 kB that were read) and how that grows.
Below it: the first search of a progression in a process, letters to 400 people (queries for each hundred), a backup.
Aims: exponent at most 0.2, p95 at most 300 ms, overview and queue at most 150 ms, letters under 10 s.
"""

from __future__ import annotations

import argparse
import json
import math
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parent.parent.parent
sys.path.insert(0, str(ROOT))
AIM_EXPONENT, AIM_MS = 0.2, 300
CLOSER = {"overview": 150, "queue": 150}


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--sizes", nargs="+", default=["S", "M", "L"], choices=["S", "M", "2M", "M20", "L"])
    parser.add_argument("--database", choices=["sqlite", "postgres", "both"], default="sqlite")
    parser.add_argument("--times", type=int, default=12)
    parser.add_argument("--keep", type=Path)
    parser.add_argument("--one", help=argparse.SUPPRESS)  # measures one size, in a process of its own
    options = parser.parse_args()
    if options.one:
        print(json.dumps(measure(options.one, options.database, options.keep, options.times)))
        return 0
    databases = ["sqlite", "postgres"] if options.database == "both" else [options.database]
    return max(report(name, options) for name in databases)


def report(database: str, options: argparse.Namespace) -> int:
    found = []
    for size in options.sizes:
        command = [sys.executable, __file__, "--one", size, "--database", database, "--times", str(options.times)]
        command += ["--keep", str(options.keep)] if options.keep else []
        done = subprocess.run(command, stdout=subprocess.PIPE, check=True, text=True)
        found.append(json.loads(done.stdout.strip().splitlines()[-1]))
    print(
        f"\n{database}: "
        + ", ".join(f"{size} {one['attempts']} attempts" for size, one in zip(options.sizes, found, strict=True))
    )
    print(
        f"{'page, best ms':26}"
        + "".join(f"{size:>9}" for size in options.sizes)
        + f"{'exponent':>10}{'p95':>7}{'queries':>9}{'work':>9}{'exponent':>10}"
    )
    missed = 0
    for page in found[-1]["pages"]:
        times = [one["pages"][page][0] for one in found]
        _, p95, queries, work = found[-1]["pages"][page]
        growth = _exponent(found, times)
        wrong = (growth > AIM_EXPONENT and times[-1] > 60) or p95 > CLOSER.get(page, AIM_MS)
        missed += wrong
        cells = "".join(f"{ms:9.0f}" for ms in times)
        more = _exponent(found, [max(1, one["pages"][page][3]) for one in found])
        print(f"{page:26}{cells}{growth:10.2f}{p95:7.0f}{queries:9}{work:9}{more:10.2f}  {'over' if wrong else ''}")
    for name in found[-1]["other"]:
        values = [one["other"][name] for one in found]
        print(f"{name:40}" + "".join(f"{value:>14}" for value in values))
    print(f"pages over an aim: {missed} of {len(found[-1]['pages'])} (an exponent counts from 60 ms)", flush=True)
    return 0


def _exponent(found: list[dict[str, Any]], times: list[float]) -> float:
    if len(found) < 2:
        return float("nan")
    (less, more), (before, after) = (one["attempts"] for one in found[-2:]), times[-2:]
    return math.log(after / before) / math.log(more / less)


def measure(size: str, database: str, keep: Path | None, times: int) -> dict[str, Any]:
    """One size: filled unless it was kept, then every page."""
    folder = (keep or Path(tempfile.mkdtemp(prefix="topform-scale-"))) / f"{size}-{database}"
    fresh = not (folder / "filled").exists()
    folder.mkdir(parents=True, exist_ok=True)
    os.environ |= {
        "DJANGO_SETTINGS_MODULE": "studio.settings",
        "TOPFORM_DATA": str(folder),
        "TOPFORM_HOSTS": "testserver",
    }
    os.environ.setdefault("TOPFORM_SECRET_KEY", "only-for-this-measurement-0123456789-0123456789")
    if database == "postgres":
        from tests import postgres

        fresh = True
        os.environ |= {"TOPFORM_DB_HOST": postgres.start(), "TOPFORM_DB_NAME": "postgres", "TOPFORM_DB_POOL": "0"}
    import django

    django.setup()
    from django.conf import settings

    settings.STORAGES = settings.STORAGES | {
        "staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"}
    }
    settings.EMAIL_BACKEND = "django.core.mail.backends.locmem.EmailBackend"
    if fresh:
        _fill(size, folder)
    else:
        from studio.update import bring_up_to_date

        bring_up_to_date(lambda text: print(text, file=sys.stderr), keep_archive=False)
        # As the worker would have it after an update; the charts of this programme read alike in every version.
        from tunes.engine import version
        from tunes.models import ChartRevision

        ChartRevision.objects.exclude(engine=version()).update(engine=version())
    from assessments.models import Attempt
    from studio import warm

    pages = Pages(times)
    first = pages.first_search()
    warm.settle()  # as a web process does
    return {
        "attempts": Attempt.objects.count(),
        "pages": pages.all(),
        "other": {"first search of a progression, s": first} | others(folder),
    }


def _fill(size: str, folder: Path) -> None:
    from studio.update import bring_up_to_date
    from tests.bench.scale_site import SIZES, Filling

    def say(text: object) -> None:
        print(text, file=sys.stderr, flush=True)

    start = time.perf_counter()
    bring_up_to_date(say, keep_archive=False)
    Filling(SIZES[size], say).fill()
    (folder / "filled").touch()
    say(f"{size} filled in {time.perf_counter() - start:.0f} s")


class Pages:
    """The pages of a director, of somebody who leads, of a player, as they are after the last term began."""

    def __init__(self, times: int) -> None:
        from django.test import Client

        from assessments.models import Attempt
        from studio.models import Ensemble, User

        self.times = times
        self.director = User.objects.get(is_director=True)
        ensemble = Ensemble.objects.order_by("-term__starts", "name").exclude(name="Pattern").first()
        assert ensemble
        self.ensemble = ensemble
        leader = ensemble.memberships.get(role="instructor").user
        player = ensemble.memberships.filter(role="player").first().user  # type: ignore[union-attr]
        self.clients = {}
        for name, user in (("director", self.director), ("leader", leader), ("player", player)):
            self.clients[name] = Client()
            self.clients[name].force_login(user)
        waiting = Attempt.objects.filter(
            status="handed-in", superseded=False, step__assignment__ensemble=ensemble
        ).first()
        self.work = ensemble.assignments.order_by("pk").first()
        self.sheet, self.step = (waiting.pk, waiting.step_id) if waiting else (0, 0)

    def addresses(self) -> list[tuple[str, str, str]]:
        ensemble, director, leader, player = self.ensemble.pk, "director", "leader", "player"
        return [
            ("overview", director, "/work/overview/"), ("queue", director, "/work/review/"),
            ("queue, reviewed", director, "/work/review/?state=reviewed"), ("queue, missing", director, "/work/review/?state=missing"),
            ("queue, by name", director, "/work/review/?player=0012"),
            ("overview of a leader", leader, "/work/overview/"), ("queue of a leader", leader, "/work/review/"),
            ("reviewed, of a leader", leader, "/work/review/?state=reviewed"),
            ("a sheet", leader, f"/work/review/{self.sheet}/"),
            ("sheet of an ensemble", leader, f"/work/assignments/steps/{self.step}/ensemble/"),
            ("assignments", director, "/work/assignments/"), ("assignments of a leader", leader, "/work/assignments/"),
            ("one assignment", leader, f"/work/assignments/{self.work.pk}/"),
            ("assigning", director, "/work/assignments/new/"),
            ("an ensemble", leader, f"/work/ensembles/{ensemble}/"), ("ledger", leader, f"/work/ledger/?ensemble={ensemble}"),
            ("ledger, no choice", director, "/work/ledger/"),
            ("plan", leader, f"/work/ledger/plan/?ensemble={ensemble}"), ("known tunes", leader, f"/work/ledger/known/?ensemble={ensemble}"),
            ("people", director, "/people/"), ("people, by name", director, "/people/?q=0012"), ("terms", director, "/people/terms/"),
            ("log", director, "/people/log/"), ("ensembles", director, "/ensembles/"), ("new ensemble", director, "/ensembles/new/"),
            ("new term", director, "/work/terms/new/"), ("state", director, "/state/"),
            ("tunes", player, "/tunes/"), ("tunes, search", player, "/tunes/?q=0012"), ("progressions", player, "/tunes/idioms/"),
            ("desk", player, "/work/"), ("every assignment", player, "/work/every/"), ("progress", player, "/work/progress/"),
            ("own ledger", player, "/work/ledger/mine/"), ("notices", player, "/notices/"), ("takes", player, "/drills/takes/"),
        ]  # fmt: skip

    def first_search(self) -> float:
        """The page of progressions in a process that has read no chart yet."""
        from tests import factories
        from tunes.models import Idiom

        if not Idiom.objects.exists():
            factories.make_idiom("landing", "2min 5dom 1maj")
        start = time.perf_counter()
        self.clients["director"].get("/tunes/idioms/")
        return round(time.perf_counter() - start, 2)

    def all(self) -> dict[str, tuple[float, float, int, int]]:
        from django.db import connection
        from django.test.utils import CaptureQueriesContext

        found = {}
        for name, who, address in self.addresses():
            with CaptureQueriesContext(connection) as queries:
                answer = self.clients[who].get(address)
            number = len(queries)
            if answer.status_code != 200:
                print(f"{name}: {address} answers {answer.status_code}", file=sys.stderr)
                continue
            if os.environ.get("SCALE_SQL") == name:
                for one in sorted(queries.captured_queries, key=lambda one: -float(one["time"]))[:3]:
                    print(one["time"], one["sql"], file=sys.stderr)
            times = sorted(self.once(who, address) for _ in range(self.times))
            work = database_work(lambda who=who, address=address: self.once(who, address))
            found[name] = (times[0], times[min(len(times) - 1, int(len(times) * 0.95))], number, work)
        return found

    def once(self, who: str, address: str) -> float:
        start = time.perf_counter()
        self.clients[who].get(address)
        return (time.perf_counter() - start) * 1000


def database_work(what: Callable[[], object]) -> int:
    """What the database did for one call: thousands of instructions of SQLite, or pages that PostgreSQL read."""
    from django.db import connection

    connection.ensure_connection()
    if connection.vendor == "postgresql":
        before = _pages_read()
        what()
        return _pages_read() - before
    steps = [0]

    def step() -> int:
        steps[0] += 1
        return 0

    connection.connection.set_progress_handler(step, 1000)
    try:
        what()
    finally:
        connection.connection.set_progress_handler(None, 0)
    return steps[0]


def _pages_read() -> int:
    from django.db import connection

    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_stat_force_next_flush()")
        cursor.execute("SELECT pg_stat_clear_snapshot()")
        cursor.execute("SELECT blks_hit + blks_read FROM pg_stat_database WHERE datname = current_database()")
        return int(cursor.fetchone()[0])


def others(folder: Path) -> dict[str, Any]:
    """What is done for everybody, or with everything."""
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    from studio.backup import make_backup
    from studio.models import Notice, User
    from studio.notices import send_digests

    people = list(User.objects.filter(is_director=False).order_by("-pk")[:400])
    Notice.objects.filter(mailed=None).update(mailed="2020-01-01T00:00Z")
    User.objects.update(digest_sent=None)
    Notice.objects.bulk_create(Notice(user=user, kind="t", text=f"Thing {n}") for user in people for n in range(3))
    with CaptureQueriesContext(connection) as queries:
        took = _seconds(send_digests)
    found: dict[str, Any] = {
        "letters": len(people),
        "letters, s": took,
        "queries a hundred letters": round(100 * len(queries) / len(people)),
    }
    most = [0]

    def watch(*_: Any) -> None:
        most[0] = max(most[0], sum(part.stat().st_size for part in (folder / "backups").rglob("*") if part.is_file()))

    found["backup, s"] = _seconds(lambda: make_backup(folder / "backups", tell=watch))
    found["backup, MB in its folder at most"] = most[0] >> 20
    archive = max((folder / "backups").glob("topform-*.zip"))
    found["archive, MB"] = archive.stat().st_size >> 20
    archive.unlink()
    return found


def _seconds(what: Callable[[], object]) -> float:
    start = time.perf_counter()
    what()
    return round(time.perf_counter() - start, 2)


if __name__ == "__main__":
    sys.exit(main())
