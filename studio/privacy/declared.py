"""What becomes of every row that points at a person, in one table. A foreign key that is missing here fails a test."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from enum import Enum
from typing import Any

from django.apps import apps
from django.db import models

Visible = Callable[[Any, Any], Any]


class Fate(Enum):
    """What erasure does with a row."""

    DELETE = "deleted"
    KEEP = "kept, under no name"
    BLANK = "kept, under no name, without the words and files named"


def everything(rows: Any, person: Any) -> Any:
    return rows


@dataclass(frozen=True)
class Declared:
    """One way from a model to a person. `field` may lead over other rows (`attempt__player`).

    `blank`: what is emptied (text, file, JSON). `export`: the name of its file in the person's archive, "" for what is not
    about the person but only made by them; `shows`: which of the rows they may see now; `leaves_out`: columns of no meaning
    to a person, or secrets.
    """

    model: str
    field: str
    fate: Fate
    blank: tuple[str, ...] = ()
    export: str = ""
    shows: Visible = everything
    leaves_out: tuple[str, ...] = ()

    @property
    def table(self) -> type[models.Model]:
        return apps.get_model(self.model)

    def rows(self, person: Any) -> Any:
        return self.table._base_manager.filter(**{self.field: person})

    @property
    def files(self) -> tuple[str, ...]:
        """Names of the columns that hold files."""
        return tuple(f.name for f in self.table._meta.concrete_fields if isinstance(f, models.FileField))


TABLE: list[Declared] = []
NAMES_IN: list[tuple[str, str]] = []
"""(model, text column) in which the site itself writes names of people: there a name becomes "somebody"."""


def declare(*rows: Declared) -> None:
    """Add an app's rows."""
    TABLE.extend(rows)


def names_in(*columns: tuple[str, str]) -> None:
    """Name the columns in which the site writes names."""
    NAMES_IN.extend(columns)
