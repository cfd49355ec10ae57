"""The site's locks against public lists of known faults, and how much of them those lists could be asked about.

    python3 -m pip install pip-audit && python3 tools/audit.py
    python3 tools/audit.py --list all.zip

The first asks, by `pip-audit` (of the Python Packaging Authority), the package index and, where that has no such list, the
open list of faults (osv.dev). `pip-audit` alone says "no known vulnerabilities" also when it could look up nothing, as behind a
mirror without its data. This counts: exit code 0 when every package was looked up and none is known to be at fault, 1 when
one is, 2 when any could not be looked up.

The second is for a machine that reaches neither: the list is one file, fetched elsewhere and carried over
(https://osv-vulnerabilities.storage.googleapis.com/PyPI/all.zip, records by the OSV schema). It needs `packaging` alone.
"""

from __future__ import annotations

import argparse
import json
import re
import subprocess
import sys
import zipfile
from collections import defaultdict
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parent.parent
LOCKS = ("requirements.txt", "requirements-s3.txt", "requirements-hearing.txt")
SERVICES = ("pypi", "osv")
PINNED = re.compile(r"^([A-Za-z0-9][\w.-]*)(?:\[[^\]]*\])?==([^\s;\\]+)", re.MULTILINE)
FEWEST = 1000  # records; the list of all Python packages has many times more

Found = list[dict[str, Any]]


def summed(found: Found) -> tuple[int, list[str]]:
    """Exit code and lines for what is known of each package, in the words of `pip-audit --format json`.

    >>> summed([{"name": "a", "version": "1", "vulns": []}])
    (0, ['1 looked up, 0 at fault, 0 could not be looked up'])
    >>> summed([{"name": "a", "skip_reason": "not found"}])[0]
    2
    """
    skipped = [row for row in found if "skip_reason" in row]
    wrong = [row for row in found if row.get("vulns")]
    lines = [
        f"{row['name']} {row['version']}: {fault['id']}, mended in {', '.join(fault.get('fix_versions') or ['no version yet'])}"
        for row in wrong
        for fault in row["vulns"]
    ]
    lines.append(f"{len(found) - len(skipped)} looked up, {len(wrong)} at fault, {len(skipped)} could not be looked up")
    return (1 if wrong else 2 if skipped or not found else 0), lines


def asked(lock: Path) -> tuple[Found, list[str]]:
    """What the services know of the packages of a lock, and what to say of those that did not answer. The second is asked
    only where the first left something out."""
    best: Found = []
    said = []
    for service in SERVICES:
        command = [sys.executable, "-m", "pip_audit", "--disable-pip", "--require-hashes", "--format", "json"]
        done = subprocess.run([*command, "-s", service, "-r", str(lock)], capture_output=True, text=True)
        try:
            found: Found = json.loads(done.stdout)["dependencies"]
        except (ValueError, KeyError):
            said.append(f"{service}: no answer ({(done.stderr.strip().splitlines() or ['nothing said'])[-1][:200]})")
            continue
        best = merged(best, found)
        if not any("skip_reason" in row for row in best):
            break
        said.append(f"{service}: has no such list, or not of every package")
    return best, said


def merged(first: Found, second: Found) -> Found:
    """Of each package what either knows; it was looked up when either could."""
    rows = {row["name"]: row for row in first}
    for row in second:
        if row["name"] not in rows or "skip_reason" in rows[row["name"]]:
            rows[row["name"]] = row
    return list(rows.values())


def read_list(path: Path) -> dict[str, Found]:
    """Records of a list by package name. Raises ValueError for a file that is none, or holds too few to be the whole one."""
    known: dict[str, Found] = defaultdict(list)
    count = 0
    try:
        with zipfile.ZipFile(path) as archive:
            for name in archive.namelist():
                record = json.loads(archive.read(name))
                count += 1
                for part in () if record.get("withdrawn") else record.get("affected", ()):
                    if part.get("package", {}).get("ecosystem") == "PyPI":
                        known[plain(part["package"]["name"])].append({"id": record["id"], **part})
    except (OSError, zipfile.BadZipFile, KeyError) as error:
        raise ValueError(f"{path} is no list of faults: {error}") from error
    if count < FEWEST:
        raise ValueError(f"{path} holds {count} records: too few to be the whole list.")
    return known


def in_list(lock: Path, known: Mapping[str, Found]) -> Found:
    """What a list knows of the packages of a lock."""
    pins = PINNED.findall(lock.read_text(encoding="utf-8"))
    return [
        {"name": name, "version": version, "vulns": list(faults(known.get(plain(name), []), version))}
        for name, version in pins
    ]


def faults(parts: Found, version: str) -> Iterator[dict[str, Any]]:
    for part in parts:
        if version in part.get("versions", ()) or any(within(row, version) for row in part.get("ranges", ())):
            mended = [event["fixed"] for row in part.get("ranges", ()) for event in row["events"] if "fixed" in event]
            yield {"id": part["id"], "fix_versions": mended}


def within(span: Mapping[str, Any], version: str) -> bool:
    """Whether a version lies in a range (OSV schema, "Evaluation"): the events up to it, in order, leave it affected."""
    from packaging.version import Version

    if span.get("type") != "ECOSYSTEM":
        return False
    mine, inside = Version(version), False
    kinds = ("introduced", "fixed", "last_affected")
    events = [(Version(event[kind]), kind) for event in span["events"] for kind in kinds if kind in event]
    for at, kind in sorted(events, key=lambda row: (row[0], kinds.index(row[1]))):
        if kind == "introduced" and mine >= at:
            inside = True
        elif (kind == "fixed" and mine >= at) or (kind == "last_affected" and mine > at):
            inside = False
    return inside


def plain(name: str) -> str:
    """A package's name as PEP 503 makes it."""
    return re.sub(r"[-_.]+", "-", name).lower()


def main(arguments: list[str] | None = None) -> int:
    parser = argparse.ArgumentParser(description="Known faults of the locked packages.")
    parser.add_argument("--list", type=Path, help="a list of faults as one file, instead of asking anybody")
    chosen = parser.parse_args(arguments)
    try:
        known = read_list(chosen.list) if chosen.list else None
    except ValueError as error:
        print(error)
        return 2
    worst = 0
    for lock in LOCKS:
        found, said = (in_list(ROOT / lock, known), []) if known is not None else asked(ROOT / lock)
        code, lines = summed(found)
        print("\n".join(f"{lock}: {line}" for line in (*said, *lines)))
        worst = 1 if 1 in (worst, code) else max(worst, code)
    print(("Audited.", "Packages are at fault.", "This is no audit: not everything could be looked up.")[worst])
    return worst


if __name__ == "__main__":
    sys.exit(main())
