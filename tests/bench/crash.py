"""Every fault that a machine can have, tried again and again on a real site: what was acknowledged, lost, how soon it is back.

    .venv/bin/python tests/bench/crash.py                  everything, ten times each
    .venv/bin/python tests/bench/crash.py killed-upload locked --times 20 --minutes 5

Each fault is one row: tries; saves (answers, hand-ins) that the site acknowledged with 200 or a redirect; how many of those
are not there afterwards (aim: 0); answers of 500 (aim: 0); seconds until the site works again, median and worst. A fault that
needs what this machine lacks (root for a small disk, PostgreSQL) says so. Stops after `--minutes` with what it has.
"""

from __future__ import annotations

import argparse
import contextlib
import os
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
import traceback
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent.parent
sys.path.insert(0, str(ROOT))

from tests.bench import crash_site  # noqa: E402
from tests.bench.crash_site import House, Skip  # noqa: E402


@dataclass
class Row:
    """What came of one fault."""

    name: str
    tries: int = 0
    acknowledged: int = 0
    lost: int = 0
    errors: int = 0
    wrong: list[str] = field(default_factory=list)
    skipped: str = ""
    house: House | None = None
    seconds: list[float] = field(default_factory=list)

    def add(self, house: House, seconds: float | None) -> None:
        self.tries += 1
        self.acknowledged += len(house.acknowledged)
        self.lost += house.lost()
        self.errors += house.errors
        self.wrong += house.wrong
        house.settle()
        if seconds is not None:
            self.seconds.append(seconds)

    def line(self) -> str:
        times = sorted(self.seconds)
        back = f"{statistics.median(times):9.2f}{times[-1]:9.2f}" if times else f"{'–':>9}{'–':>9}"
        return (
            f"{self.name:20}{self.tries:6}{self.acknowledged:14}{self.lost:6}{self.errors:6}{len(self.wrong):7}{back}"
        )


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("faults", nargs="*", help=", ".join(FAULTS))
    parser.add_argument("--times", type=int, default=10)
    parser.add_argument("--minutes", type=float, default=25.0)
    options = parser.parse_args()
    until = time.monotonic() + 60 * options.minutes
    rows = [Row(name) for name in options.faults or FAULTS]
    with contextlib.ExitStack() as kept:
        for number in range(options.times):  # every fault has its turn before one has its second
            for row in rows:
                if time.monotonic() < until and not row.skipped:
                    run(row, number, kept)
            show(rows)
    return 1 if any(row.lost or row.errors or row.wrong for row in rows) else 0


def show(rows: list[Row]) -> None:
    print(
        f"\n{'fault':20}{'tries':>6}{'acknowledged':>14}{'lost':>6}{'500s':>6}{'wrong':>7}{'median s':>9}{'worst s':>9}"
    )
    for row in rows:
        print(
            row.line(),
            *[f"\n    {words}" for words in row.wrong[:3]],
            f"  not tried: {row.skipped}" if row.skipped else "",
            flush=True,
        )


def run(row: Row, number: int, kept: contextlib.ExitStack) -> None:
    """One try, in a new site; what leaves the processes alive is tried again and again in one that runs on."""
    try:
        with contextlib.ExitStack() as own:
            if row.house is None:
                stack = kept if row.name in RUNS_ON else own
                row.house = stack.enter_context(
                    contextlib.closing(House(stack.enter_context(empty_folder(row.name)), seed=number))
                )
            row.add(row.house, FAULTS[row.name](row.house, number))
            row.house = row.house if row.name in RUNS_ON else None
    except Skip as reason:
        row.skipped = str(reason)
    except Exception:  # the table goes on with the next fault
        row.wrong.append(traceback.format_exc(limit=-3))
        row.house = None


@contextlib.contextmanager
def empty_folder(name: str) -> Iterator[Path]:
    folder = Path(tempfile.mkdtemp(prefix=f"topform-crash-{name}-"))
    try:
        mount = ["mount", "-t", "tmpfs", "-o", "size=120m", "tmpfs", str(folder)]
        if name in SMALL_DISK and (os.geteuid() or subprocess.run(mount).returncode):
            raise Skip("a small disk needs root and the right to mount")
        yield folder
    finally:
        if name in SMALL_DISK:
            subprocess.run(["umount", "-l", folder], stderr=subprocess.DEVNULL)
        shutil.rmtree(folder, ignore_errors=True)


# --- the faults: each returns the seconds until the site worked again


def damaged(house: House, number: int) -> float | None:
    """Three bytes overwritten, an archive cut off: the restore says so and replaces nothing."""
    house.write(5)
    archive = house.backup()
    content = bytearray(archive.read_bytes())
    at = house.random.randrange(len(content) // 4, 3 * len(content) // 4)
    if number % 2:
        content[at : at + 3] = bytes(byte ^ 0xFF for byte in content[at : at + 3])
    else:
        del content[at:]
    archive.write_bytes(content)
    before = house.fingerprint()
    code, said = house.command("restore", str(archive))
    house.expect(code == 1 and ("damaged" in said or "cut off" in said), f"restore said {code}: {said[-300:]}")
    house.expect(house.fingerprint() == before, "something was replaced")
    return None


def killed_parent(house: House, number: int) -> float | None:
    """The start command is killed; its servers go, no restore succeeds while one lives, the next start works."""
    house.start()
    house.write(10)
    archive = house.backup()
    house.site.kill()
    begun = time.monotonic()
    while house.living():
        code, said = house.command("restore", str(archive))
        if code == 0:
            house.expect(not house.living(), "a restore succeeded under a living site")
        else:
            house.expect("Stop it first" in said, said[-300:])
    house.site.communicate()
    house.start()
    return time.monotonic() - begun


def killed_backup(house: House, number: int) -> float | None:
    house.write(5)
    process = house.spawn("backup")
    time.sleep(house.moment(number))
    process.kill()
    process.wait()
    begun = time.monotonic()
    archive = house.backup()
    back = time.monotonic() - begun
    code, said = house.command("backup", "--check", str(archive))
    house.expect(code == 0, said[-300:])
    for left in (house.folder / "backups").glob("topform-*"):
        house.expect(
            house.command("backup", "--check", str(left))[0] == 0, f"{left.name} has its name and is not whole"
        )
    house.expect(not list((house.folder / "backups").glob(".unfinished*")), "something half-written stayed")
    return back


def killed_restore(house: House, number: int) -> float | None:
    """Either the old data or the archive's, whole, after the next start; the old is never gone."""
    house.write(5)
    archive = house.backup()
    then = house.fingerprint()
    house.write(3)
    now = house.fingerprint()
    process = house.spawn("restore", str(archive))
    time.sleep(house.moment(number))
    process.kill()
    process.wait()
    begun = time.monotonic()
    code, said = house.command("prepare")
    house.expect(code == 0, said[-300:])
    back = time.monotonic() - begun
    found = house.fingerprint()
    house.expect(found in (then, now), "neither the old data nor the archive's")
    if found == then != now:
        house.expect(bool(list(house.folder.glob("before-restore-*"))), "the old data are gone")
        house.forget_all()
    return back


def killed_migration(house: House, number: int) -> float | None:
    house.write(5)
    house.step_back()
    process = house.spawn("prepare")
    time.sleep(house.moment(number, longest=2.0))
    process.kill()
    process.wait()
    begun = time.monotonic()
    code, said = house.command("prepare")
    house.expect(code == 0, said[-300:])
    house.expect(
        bool(list((house.folder / "backups").glob("*-before-update.zip"))), "no archive was kept before the update"
    )
    return time.monotonic() - begun


def killed_answers(house: House, number: int) -> float | None:
    house.start()
    with house.writers(4):
        time.sleep(0.5 + house.random.random())
        house.kill_web()
    return house.recover()


def killed_upload(house: House, number: int) -> float | None:
    house.start()
    with house.uploaders(2):
        time.sleep(0.5 + house.random.random())
        house.kill_web()
    return house.recover()


def killed_hand_in(house: House, number: int) -> float | None:
    house.start()
    with house.hand_ins():
        time.sleep(0.15 + house.random.random() / 2)
        house.kill_web()
    return house.recover()


def full_disk(house: House, number: int) -> float | None:
    """Uploads and saves on a full disk are refused with 507; with room again they go on."""
    house.start()
    house.write(5)
    house.fill_disk()
    with house.writers(2), house.uploaders(1):
        time.sleep(4)
    house.expect(house.seen[507] > 0, f"no 507 was seen: {dict(house.seen)}")
    house.free_disk()
    begun = time.monotonic()
    house.until_saved()
    return time.monotonic() - begun


def full_backup(house: House, number: int) -> float | None:
    """The daily backup meets a full disk: the worker lives, `/readyz` says so, the next try succeeds."""
    house.fill_disk(leave=1 << 18)
    house.start(TOPFORM_BACKUP_KEEP="3")
    house.until_ready(lambda said: said["backup"].startswith("failed"))
    house.free_disk()
    house.hurry_rounds()
    begun = time.monotonic()
    house.until_ready(lambda said: said["backup"] == "ok")
    return time.monotonic() - begun


def locked(house: House, number: int) -> float | None:
    """Another program holds SQLite's write lock for ten seconds: saves are refused with 503, sent again, never a 500."""
    house.start()
    with house.writers(3):
        with house.lock_database():
            time.sleep(10)
        begun = time.monotonic()
        house.until_saved()
        back = time.monotonic() - begun
    house.expect(house.seen[503] > 0, f"no 503 was seen: {dict(house.seen)}")
    return back


def database_away(house: House, number: int) -> float | None:
    """PostgreSQL is stopped and started: pages and `/readyz` answer 503 within two seconds, then it goes on."""
    house.use_postgres()
    house.start()
    with house.writers(3):
        time.sleep(1)
        house.postgres("stop", "-m", "immediate")
        time.sleep(0.3)
        for path in ("/readyz", "/account/login/"):
            asked = time.monotonic()
            status = house.get(path)
            took = time.monotonic() - asked
            house.expect(status == 503 and took < 2.0, f"{path}: {status} after {took:.2f} s")
        time.sleep(2)
        house.postgres("start")
        begun = time.monotonic()
        house.until_saved()
        back = time.monotonic() - begun
    return back


FAULTS: dict[str, Callable[[House, int], float | None]] = {
    "damaged": damaged,
    "killed-parent": killed_parent,
    "killed-backup": killed_backup,
    "killed-restore": killed_restore,
    "killed-migration": killed_migration,
    "killed-answers": killed_answers,
    "killed-upload": killed_upload,
    "killed-hand-in": killed_hand_in,
    "full-disk": full_disk,
    "full-backup": full_backup,
    "locked": locked,
    "database-away": database_away,
}
RUNS_ON = {"locked", "full-disk", "database-away"}
SMALL_DISK = {"full-disk", "full-backup"}

if __name__ == "__main__":
    crash_site.prepare_once()
    sys.exit(main())
