"""The site's locks against a public list of known faults, and how much of them that list could be asked about.

    python3 -m pip install pip-audit && python3 tools/audit.py

`pip-audit` (of the Python Packaging Authority) says "no known vulnerabilities" also when it could look up nothing, as behind
a mirror that has none of its data. This counts: exit code 0 when every package was looked up and none is known to be at
fault, 1 when one is, 2 when any could not be looked up.
"""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parent.parent
LOCKS = ("requirements.txt", "requirements-s3.txt", "requirements-hearing.txt")


def summed(found: list[dict[str, Any]]) -> tuple[int, list[str]]:
    """Exit code and lines for what `pip-audit --format json` says of each package.

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


def main() -> int:
    worst = 0
    for lock in LOCKS:
        command = [sys.executable, "-m", "pip_audit", "--disable-pip", "--require-hashes", "--format", "json"]
        done = subprocess.run([*command, "-r", str(ROOT / lock)], capture_output=True, text=True)
        try:
            code, lines = summed(json.loads(done.stdout)["dependencies"])
        except (ValueError, KeyError):
            code, lines = 2, [f"could not be looked up: {(done.stderr.strip().splitlines() or ['no answer'])[-1]}"]
        print("\n".join(f"{lock}: {line}" for line in lines))
        worst = 1 if 1 in (worst, code) else max(worst, code)
    return worst


if __name__ == "__main__":
    sys.exit(main())
