"""Write the golden readings again (see the package)."""

from __future__ import annotations

import difflib
import sys

from tests.harmony import golden
from tunes.harmony.analysis.version import version


def main(check: bool) -> int:
    changed = 0
    kept = golden.VERSION.read_text(encoding="utf-8").strip() if golden.VERSION.exists() else ""
    for path in golden.files():
        text, old = golden.split(path)
        new = golden.written(text)
        if new == old:
            continue
        changed += 1
        before, after = old.splitlines(), new.splitlines()
        print("\n".join(difflib.unified_diff(before, after, path.name, path.name, n=0, lineterm="")))
        if old and kept == version():
            print(
                f"{path.name}: the reading differs though the engine is the same ({kept}): it is not deterministic, or its version misses a module."
            )
            return 1
        if not check:
            path.write_text(f"{text}\n{golden.RULE}\n{new}", encoding="utf-8")
    if not check and (changed or not kept):
        golden.VERSION.write_text(f"{version()}\n", encoding="utf-8")
    print(f"{changed} of {len(golden.files())} readings {'would change' if check else 'changed'}.")
    return 1 if check and changed else 0


if __name__ == "__main__":
    raise SystemExit(main("--check" in sys.argv))
