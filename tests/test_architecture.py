"""The import rules of the house, function-local imports included."""
from __future__ import annotations

import ast
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
APPS = ("studio", "tunes", "drills", "assessments", "api")

# Who may import whom. `tunes.harmony` is the ground: it counts apart from `tunes` and everyone may stand on it.
MAY_IMPORT = {
    "tunes.harmony": {"tunes.harmony"},
    "studio": {"studio", "tunes.harmony"},
    "tunes": {"studio", "tunes", "tunes.harmony"},
    "drills": {"studio", "tunes", "tunes.harmony", "drills"},
    "assessments": {"studio", "tunes", "tunes.harmony", "drills", "assessments"},
    # The second face of the site, beside its pages: calls everyone, only the roof knows it.
    "api": {"studio", "tunes", "tunes.harmony", "drills", "assessments", "api"},
}
# The roof composes every app.
ROOF = ("studio.urls", "studio.settings", "studio.views.home", "studio.demo")

# Rooms of one app, lowest first: a room may not import from one above it.
ROOMS = {"models": 0, "access": 1, "selectors": 1, "services": 2, "forms": 3, "views": 4, "urls": 5}

# Libraries with a heavy or awkward edge have one door each.
DOORS = {
    "music21": ("tunes.interchange",),
    "verovio": ("drills.engraving",),
    "av": ("tunes.audio", "drills.audio", "studio.audio"),
    "typst": ("drills.engraving", "drills.printing"),
}


def modules() -> list[Path]:
    return sorted(path for app in APPS for path in (ROOT / app).rglob("*.py") if "migrations" not in path.parts)


def name_of(path: Path) -> str:
    parts = path.relative_to(ROOT).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


def imports(path: Path) -> Iterator[tuple[int, str]]:
    """Line and dotted name of everything that the module imports, at any depth, outside `if TYPE_CHECKING`."""
    package = name_of(path) if path.name == "__init__.py" else name_of(path).rpartition(".")[0]
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            yield from ((node.lineno, alias.name) for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            base = node.module or ""
            if node.level:
                above = package.split(".")[: len(package.split(".")) - node.level + 1]
                base = ".".join([*above, *([base] if base else [])])
            yield from ((node.lineno, f"{base}.{alias.name}") for alias in node.names)


def storey(module: str) -> str | None:
    """The app a module belongs to, with `tunes.harmony` as a storey of its own; None for libraries."""
    if module == "tunes.harmony" or module.startswith("tunes.harmony."):
        return "tunes.harmony"
    head = module.split(".")[0]
    return head if head in APPS else None


def inside(module: str, places: tuple[str, ...]) -> bool:
    return any(module == place or module.startswith(place + ".") for place in places)


@pytest.mark.parametrize("path", modules(), ids=name_of)
def test_imports_point_down(path: Path) -> None:
    module = name_of(path)
    here = storey(module)
    assert here is not None
    if inside(module, ROOF):
        return
    wrong = [
        f"line {line}: {target}" for line, target in imports(path)
        if (there := storey(target)) is not None and there not in MAY_IMPORT[here]
    ]
    assert wrong == [], f"{module} may not import from there"


@pytest.mark.parametrize("path", [p for p in modules() if storey(name_of(p)) == "tunes.harmony"], ids=name_of)
def test_harmony_uses_the_standard_library_only(path: Path) -> None:
    foreign = [
        f"line {line}: {target}" for line, target in imports(path)
        if storey(target) is None and target.split(".")[0] not in sys.stdlib_module_names
    ]
    assert foreign == []


def room(module: str) -> str | None:
    """models, selectors … of a module like `tunes.services.charts` or `tunes.services`."""
    parts = module.split(".")
    return parts[1] if len(parts) > 1 and parts[0] in APPS and parts[1] in ROOMS else None


@pytest.mark.parametrize("path", [p for p in modules() if room(name_of(p))], ids=name_of)
def test_rooms_of_an_app_import_downwards(path: Path) -> None:
    module = name_of(path)
    here = ROOMS[room(module) or ""]
    wrong = []
    for line, target in imports(path):
        there = room(target)
        if there and target.split(".")[0] == module.split(".")[0] and ROOMS[there] > here:
            wrong.append(f"line {line}: {target}")
    assert wrong == [], f"{module} reaches up"


@pytest.mark.parametrize("path", modules(), ids=name_of)
def test_awkward_libraries_are_imported_at_their_door(path: Path) -> None:
    module = name_of(path)
    wrong = [
        f"line {line}: {target}" for line, target in imports(path)
        if (head := target.split(".")[0]) in DOORS and not inside(module, DOORS[head])
    ]
    assert wrong == []


def test_the_rules_can_fail(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A module that reaches up, from inside a function, is caught."""
    (tmp_path / "studio").mkdir()
    bad = tmp_path / "studio" / "reach.py"
    bad.write_text("def f():\n    from assessments.models import Attempt\n    return Attempt\n")
    monkeypatch.setattr(sys.modules[__name__], "ROOT", tmp_path)
    with pytest.raises(AssertionError, match="may not import"):
        test_imports_point_down(bad)
