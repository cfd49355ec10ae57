"""The import rules of the house, function-local imports included."""

from __future__ import annotations

import ast
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
APPS = ("studio", "tunes", "drills", "assessments", "api")

# Plain Python about music: these count apart from `tunes`, need the standard library only, and everyone may stand on them.
GROUND = ("tunes.harmony", "tunes.melody")

# Who may import whom.
MAY_IMPORT = {
    "tunes.harmony": {"tunes.harmony"},
    "tunes.melody": {"tunes.harmony", "tunes.melody"},
    "studio": {"studio", *GROUND},
    "tunes": {"studio", "tunes", *GROUND},
    "drills": {"studio", "tunes", *GROUND, "drills"},
    "assessments": {"studio", "tunes", *GROUND, "drills", "assessments"},
    # The second face of the site, beside its pages: calls everyone, only the roof knows it.
    "api": {"studio", "tunes", *GROUND, "drills", "assessments", "api"},
}
# The roof composes every app.
ROOF = ("studio.urls", "studio.settings", "studio.views.home", "studio.demo")

# Rooms of one app, lowest first: a room may not import from one above it.
ROOMS = {"models": 0, "access": 1, "selectors": 1, "services": 2, "forms": 3, "views": 4, "urls": 5}

# Libraries with a heavy or awkward edge have one door each.
DOORS = {
    "boto3": ("studio.second_place",),
    "botocore": ("studio.second_place",),
    "portalocker": ("studio.locks",),
    "music21": ("tunes.interchange",),
    "mido": ("tunes.notation.midi",),
    "verovio": ("drills.engraving",),
    "av": ("tunes.audio", "tunes.samples"),
    "swift_f0": ("drills.hearing.tracker",),
    "onnxruntime": (),
    "typst": ("drills.printing",),
    "joserfc": ("api.campus.jose",),
    "urllib3": ("api.campus.outward",),
}

# The packages of the theory engine from the ground up, and what each stands on besides itself. A package may import only
# from packages above it in this list, so no two lean on each other.
HARMONY = {
    "problems": (),
    "pitch": (),
    "chords": ("problems", "pitch"),
    "charts": ("problems", "pitch", "chords"),
    "form": ("pitch", "charts"),
    "readings": ("pitch",),
    "progressions": ("problems", "pitch", "readings"),
    "answers": ("problems", "pitch", "chords", "readings"),
    "explain": ("pitch", "readings"),
    "comparison": ("pitch", "chords", "charts", "readings"),
    "analysis.sounds": ("chords", "charts"),
    "analysis.relations": ("analysis.sounds",),
    "analysis.models": (),
    "analysis.version": (),
    "analysis.home_key": ("analysis.sounds", "analysis.models"),
    "analysis.preparation": ("analysis.sounds", "analysis.relations", "analysis.home_key", "analysis.models"),
    "analysis.key_areas": (
        "pitch", "chords", "analysis.sounds", "analysis.relations", "analysis.home_key", "analysis.preparation",
    ),
    "analysis.naming": (
        "readings", "explain", "analysis.sounds", "analysis.relations", "analysis.home_key", "analysis.preparation",
        "analysis.key_areas",
    ),
    "analysis.alternatives": (
        "pitch", "readings", "analysis.sounds", "analysis.home_key", "analysis.preparation", "analysis.key_areas",
        "analysis.naming",
    ),
    "analysis.patterns": ("pitch", "readings", "progressions"),
    "analysis.passes": (
        "pitch", "chords", "readings", "analysis.sounds", "analysis.relations", "analysis.home_key", "analysis.preparation",
        "analysis.key_areas", "analysis.naming", "analysis.alternatives", "analysis.patterns",
    ),
    "analysis.pipeline": (
        "pitch", "chords", "charts", "readings", "explain", "analysis.sounds", "analysis.preparation", "analysis.key_areas",
        "analysis.passes", "analysis.version",
    ),
    "scales": ("pitch", "chords", "readings", "analysis.patterns"),
    "__main__": ("charts", "form", "readings", "explain", "scales", "analysis.pipeline", "analysis.passes"),
}  # fmt: skip

# Rooms of one subject inside `tunes`, and the other such rooms that each may use. What is no such room (models, services,
# study …) carries them and knows none of them; the pages may call what is named for them.
SUBJECTS = {
    "notation": (),
    "interchange": ("notation",),
    "recordings": (),
    "by_ear": ("recordings",),
    "checks": ("by_ear",),
    "versions": ("recordings",),
    "lead_sheets": ("interchange",),
    "top_of_form": ("recordings",),
    "solos": ("recordings", "top_of_form", "interchange"),
    "views": ("checks", "recordings"),
}
COMPOSES = ("urls", "demo", "jobs", "open_sheets")  # what brings a whole app together


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
    """The app a module belongs to, with each part of the ground as a storey of its own; None for libraries."""
    for ground in GROUND:
        if module == ground or module.startswith(ground + "."):
            return ground
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
        f"line {line}: {target}"
        for line, target in imports(path)
        if (there := storey(target)) is not None and there not in MAY_IMPORT[here]
    ]
    assert wrong == [], f"{module} may not import from there"


@pytest.mark.parametrize("path", [p for p in modules() if storey(name_of(p)) in GROUND], ids=name_of)
def test_the_ground_uses_the_standard_library_only(path: Path) -> None:
    foreign = [
        f"line {line}: {target}"
        for line, target in imports(path)
        if storey(target) is None and target.split(".")[0] not in sys.stdlib_module_names
    ]
    assert foreign == []


def package(module: str) -> str | None:
    """The package of the theory engine that a module belongs to, as `HARMONY` names it; None elsewhere.

    >>> package("tunes.harmony.analysis.naming.labels.label"), package("tunes.harmony.pitch.spelling.Key")
    ('analysis.naming', 'pitch')
    """
    parts = module.split(".")
    if parts[:2] != ["tunes", "harmony"] or len(parts) < 3:
        return None
    return ".".join(parts[2:4]) if parts[2] == "analysis" and len(parts) > 3 else parts[2]


def test_the_packages_of_harmony_are_a_ladder() -> None:
    """Every package stands in the table, and only on packages above it there."""
    found = {package(name_of(path)) for path in modules()} - {None, "analysis"}
    assert found == set(HARMONY), "give the package a row in HARMONY"
    names = list(HARMONY)
    for at, name in enumerate(names):
        assert set(HARMONY[name]) <= set(names[:at]), name


@pytest.mark.parametrize("path", [p for p in modules() if package(name_of(p))], ids=name_of)
def test_packages_of_harmony_import_downwards(path: Path) -> None:
    module = name_of(path)
    here = package(module) or ""
    allowed = {here, *HARMONY.get(here, ())}
    wrong = [
        f"line {line}: {target}"
        for line, target in imports(path)
        if (there := package(target)) and there not in allowed
    ]
    assert wrong == [], f"{module} may not import from there"


def subject(module: str) -> str | None:
    """The room of one subject inside `tunes`."""
    parts = module.split(".")
    return (
        parts[1]
        if parts[0] == "tunes" and storey(module) == "tunes" and len(parts) > 1 and parts[1] in SUBJECTS
        else None
    )


def test_every_package_of_tunes_has_a_row() -> None:
    known = {*SUBJECTS, *ROOMS, *COMPOSES, *(ground.split(".")[1] for ground in GROUND), "migrations", "templatetags"}
    found = {path.name for path in (ROOT / "tunes").iterdir() if (path / "__init__.py").exists()}
    assert found <= known, "give the room a row in SUBJECTS"
    assert {name for name in SUBJECTS if not (ROOT / "tunes" / name).is_dir()} == set()


@pytest.mark.parametrize("path", [p for p in modules() if storey(name_of(p)) == "tunes"], ids=name_of)
def test_subjects_of_tunes_keep_to_themselves(path: Path) -> None:
    module = name_of(path)
    if len(module.split(".")) > 1 and module.split(".")[1] in COMPOSES:
        return
    here = subject(module)
    allowed = {here, *SUBJECTS.get(here or "", ())}
    wrong = [
        f"line {line}: {target}"
        for line, target in imports(path)
        if (there := subject(target)) and there not in allowed
    ]
    assert wrong == [], f"{module} may not import from there"


def room(module: str) -> str | None:
    """models, selectors … of a module like `tunes.services.charts` or `tunes.services`, or `tunes.checks.services`."""
    parts = module.split(".")
    if subject(module) not in (None, "views"):
        parts = [parts[0], *parts[2:]]
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
        f"line {line}: {target}"
        for line, target in imports(path)
        if (head := target.split(".")[0]) in DOORS and not inside(module, DOORS[head])
    ]
    assert wrong == []


@pytest.mark.parametrize("door", sorted({door for doors in DOORS.values() for door in doors}))
def test_every_door_exists(door: str) -> None:
    assert door in {name_of(path) for path in modules()}


def test_the_rules_can_fail(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A module that reaches up, from inside a function, is caught."""
    (tmp_path / "studio").mkdir()
    bad = tmp_path / "studio" / "reach.py"
    bad.write_text("def f():\n    from assessments.models import Attempt\n    return Attempt\n")
    monkeypatch.setattr(sys.modules[__name__], "ROOT", tmp_path)
    with pytest.raises(AssertionError, match="may not import"):
        test_imports_point_down(bad)
