"""Cutting lines from solos, naming them, throwing them away."""

from __future__ import annotations

from django.db import IntegrityError, transaction

from drills.kept_lines import cut_from
from drills.models import KeptLine
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
        "degrees": f" {' '.join(signed(degree) for degree in line.degrees)} "[:300],
    }  # fmt: skip
    try:
        with transaction.atomic():
            return KeptLine.objects.create(kept=kept, first=first, last=last, **fields)
    except IntegrityError:
        return KeptLine.objects.get(kept=kept, first=first, last=last)


def called(name: str) -> str:
    """A name as it is kept: no white space round it, not too long, without what no database takes (the zero byte)."""
    return name.replace("\x00", "").strip()[:80]


def name_line(*, row: KeptLine, name: str) -> None:
    """What the class calls it; empty for none."""
    KeptLine.objects.filter(pk=row.pk).update(name=called(name))


def remove_line(*, row: KeptLine) -> None:
    row.delete()
