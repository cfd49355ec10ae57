"""Cutting lines from solos, naming them, throwing them away."""

from __future__ import annotations

from django.db import IntegrityError, transaction

from drills.kept_lines import cut_from
from drills.models import KeptLine, LineKey
from drills.vocabulary import CutLine
from studio.models import User
from tunes.models import Solo
from tunes.solos import selectors
from tunes.solos.reading import signed


def keep_line(*, solo: Solo, first: int, last: int, by: User, name: str = "") -> KeptLine:
    """Keep the notes `first` to `last` (from 0) of the newest notes of a solo as a line; cut twice, it is the same one.

    Raises `drills.vocabulary.NothingToCut` with what to choose instead.
    """
    kept = selectors.newest(solo)
    if kept is None:
        from drills.vocabulary import NothingToCut

        raise NothingToCut("nothing of this solo is kept yet")
    line = cut_from(solo, kept, first, last)
    fields = {
        "solo": solo, "name": called(name), "functions": line.functions[:200], "pattern": line.pattern[:200], "by": by,
        "heights": heights_of(line), "degrees": f" {' '.join(signed(degree) for degree in line.degrees)} "[:300],
    }  # fmt: skip
    try:
        with transaction.atomic():
            return KeptLine.objects.create(kept=kept, first=first, last=last, **fields)
    except IntegrityError:
        return KeptLine.objects.get(kept=kept, first=first, last=last)


def heights_of(line: CutLine) -> str:
    """What a line is found by when its notes are played."""
    return " ".join(str(note.height) for note in line.notes)


def called(name: str) -> str:
    """A name as it is kept: no white space round it, not too long, without what no database takes (the zero byte)."""
    return name.replace("\x00", "").strip()[:80]


def name_line(*, row: KeptLine, name: str) -> None:
    """What the class calls it; empty for none."""
    KeptLine.objects.filter(pk=row.pk).update(name=called(name))


class StillPractised(ValueError):
    """Others practise the line: their evidence stays, and so does the line."""


def remove_line(*, row: KeptLine, by: User) -> None:
    """Raises `StillPractised`."""
    others = LineKey.objects.filter(line=row).exclude(user=by).values("user").distinct().count()
    if others:
        raise StillPractised(f"{others} other player{'s' if others > 1 else ''} practise this line; it stays")
    row.delete()
