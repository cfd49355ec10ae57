"""The 33 chord kinds of MusicXML 4.0 as spelled degrees, and what `<degree>` does to them.

Source: W3C, MusicXML 4.0 XSD (2021), types `kind-value` and `degree`. A degree here is `(number, alter)`
against the major scale of the root: `(7, -1)` is the minor seventh.
"""

from __future__ import annotations

from dataclasses import dataclass

Degree = tuple[int, int]
Degrees = frozenset[Degree]

_MAJOR: tuple[Degree, ...] = ((1, 0), (3, 0), (5, 0))
_MINOR: tuple[Degree, ...] = ((1, 0), (3, -1), (5, 0))
_DOMINANT = (*_MAJOR, (7, -1))
_MAJOR_7 = (*_MAJOR, (7, 0))
_MINOR_7 = (*_MINOR, (7, -1))

KINDS: dict[str, Degrees] = {
    name: frozenset(degrees)
    for name, degrees in {
        "major": _MAJOR,
        "minor": _MINOR,
        "augmented": ((1, 0), (3, 0), (5, 1)),
        "diminished": ((1, 0), (3, -1), (5, -1)),
        "dominant": _DOMINANT,
        "major-seventh": _MAJOR_7,
        "minor-seventh": _MINOR_7,
        "diminished-seventh": ((1, 0), (3, -1), (5, -1), (7, -2)),
        "augmented-seventh": ((1, 0), (3, 0), (5, 1), (7, -1)),
        "half-diminished": ((1, 0), (3, -1), (5, -1), (7, -1)),
        "major-minor": (*_MINOR, (7, 0)),
        "major-sixth": (*_MAJOR, (6, 0)),
        "minor-sixth": (*_MINOR, (6, 0)),
        "dominant-ninth": (*_DOMINANT, (9, 0)),
        "major-ninth": (*_MAJOR_7, (9, 0)),
        "minor-ninth": (*_MINOR_7, (9, 0)),
        "dominant-11th": (*_DOMINANT, (9, 0), (11, 0)),
        "major-11th": (*_MAJOR_7, (9, 0), (11, 0)),
        "minor-11th": (*_MINOR_7, (9, 0), (11, 0)),
        "dominant-13th": (*_DOMINANT, (9, 0), (11, 0), (13, 0)),
        "major-13th": (*_MAJOR_7, (9, 0), (11, 0), (13, 0)),
        "minor-13th": (*_MINOR_7, (9, 0), (11, 0), (13, 0)),
        "suspended-second": ((1, 0), (2, 0), (5, 0)),
        "suspended-fourth": ((1, 0), (4, 0), (5, 0)),
        "power": ((1, 0), (5, 0)),
        "pedal": ((1, 0),),
        "other": ((1, 0),),
    }.items()
}


@dataclass(frozen=True)
class FunctionalKind:
    """A kind named by what it does: the sound it makes on the root written, and how we say so.

    `degrees` are against the root written in the file. Neapolitan, Italian, French, German: any harmony
    textbook's definition (common practice, no single source): a major triad on the lowered second; a
    sixth chord whose augmented sixth sounds as a minor seventh above its own bass. Tristan: the sonority
    1 #4 #6 #9 sounds as a half-diminished seventh.
    """

    degrees: Degrees
    says: str


FUNCTIONAL: dict[str, FunctionalKind] = {
    "Neapolitan": FunctionalKind(KINDS["major"], "Neapolitan sixth read as the major triad on its root"),
    "Italian": FunctionalKind(KINDS["dominant"], "Italian sixth read as a dominant seventh on its root"),
    "French": FunctionalKind(
        frozenset(((1, 0), (3, 0), (5, -1), (7, -1))), "French sixth read as a dominant seventh flat five"
    ),
    "German": FunctionalKind(KINDS["dominant"], "German sixth read as a dominant seventh on its root"),
    "Tristan": FunctionalKind(KINDS["half-diminished"], "Tristan chord read as a half-diminished seventh"),
    "pedal": FunctionalKind(KINDS["power"], "pedal point read as root and fifth"),
}

ALL_KINDS: frozenset[str] = frozenset(KINDS) | frozenset(FUNCTIONAL) | {"none"}


# Values that programs write although the XSD has no such value; read as what they plainly mean.
SPELLED_OTHERWISE: dict[str, str] = {
    "minor-major": "major-minor",
    "dominant-seventh": "dominant",
    "half-diminished-seventh": "half-diminished",
    "suspended": "suspended-fourth",
}


def known_kind(name: str) -> str:
    """The XSD's own value for a kind, whatever its case; the name itself when there is none."""
    plain = SPELLED_OTHERWISE.get(name.lower(), name)
    return next((kind for kind in ALL_KINDS if kind.lower() == plain.lower()), plain)


@dataclass(frozen=True)
class Change:
    """One `<degree>`: `how` is add, alter or subtract; `alter` in semitones as the file gives it."""

    number: int
    alter: int
    how: str


def apply_changes(base: Degrees, changes: tuple[Change, ...]) -> Degrees:
    """`base` after every `<degree>`, by the rules of the XSD.

    An added degree counts from a dominant chord (so an added 7 with alter 0 is the minor seventh), and
    may stand beside another form of itself, as both ninths of an altered dominant do. An altered one
    counts from the degree already there, and is added when the kind has none.
    """
    degrees = set(base)
    for change in changes:
        there = {degree for degree in degrees if degree[0] == change.number}
        if change.how == "subtract":
            degrees -= there
        elif change.how == "alter" and there:
            degrees = (degrees - there) | {(number, alter + change.alter) for number, alter in there}
        else:
            degrees.add((change.number, change.alter - _seventh(change.number)))
    return frozenset(degrees)


def _seventh(number: int) -> int:
    return 1 if number == 7 else 0


def changes_for(kind: str, wanted: Degrees) -> tuple[Change, ...]:
    """The `<degree>` elements that turn `kind` into `wanted`, so that `apply_changes` gives it back.

    >>> changes_for("dominant", KINDS["dominant"] | {(9, -1), (9, 1)})
    (Change(number=9, alter=-1, how='add'), Change(number=9, alter=1, how='add'))
    """
    base = dict(KINDS[kind])
    forms: dict[int, list[int]] = {}
    for number, alter in sorted(wanted):
        forms.setdefault(number, []).append(alter)
    found: list[Change] = []
    for number in sorted(set(base) | set(forms)):
        alters = forms.get(number, [])
        if not alters:
            found.append(Change(number, 0, "subtract"))
            continue
        rest = alters
        if number in base:
            keep = base[number] if base[number] in alters else alters[0]
            rest = [alter for alter in alters if alter != keep]
            if keep != base[number]:
                found.append(Change(number, keep - base[number], "alter"))
        found += [Change(number, alter + _seventh(number), "add") for alter in rest]
    return tuple(found)


def nearest_kind(wanted: Degrees) -> str:
    """The kind that needs the fewest changes to become `wanted`; of equals the one with most notes."""
    usable = [kind for kind in KINDS if kind not in ("pedal", "other")]
    return min(usable, key=lambda kind: (len(changes_for(kind, wanted)), -len(KINDS[kind] & wanted)))


def symbol_degrees(degrees: Degrees) -> frozenset[str]:
    """Degrees as our chord symbols write them: (7, -1) is "b7"."""
    return frozenset(("b" * -alter if alter < 0 else "#" * alter) + str(number) for number, alter in degrees)


_STEPS = (0, 2, 4, 5, 7, 9, 11)


def pitch_classes(degrees: Degrees) -> frozenset[int]:
    """Semitones above the root, 0 to 11."""
    return frozenset((_STEPS[(number - 1) % 7] + alter) % 12 for number, alter in degrees)
