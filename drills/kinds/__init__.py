"""The kinds of question, one module each, found by themselves: a module here holds one `QUESTION_KIND`.

>>> question_kind("nearest").name
'Nearest note'
"""

from __future__ import annotations

import pkgutil
from collections import Counter
from collections.abc import Callable, Mapping
from functools import cache
from importlib import import_module
from types import MappingProxyType

from drills.question_kind import QuestionKind


@cache
def question_kinds() -> Mapping[str, QuestionKind]:
    """Id → kind, in the order of their places. Raises `ValueError` where two share an id or a place."""
    modules = (import_module(f"{__name__}.{found.name}") for found in pkgutil.iter_modules(__path__))
    kinds: list[QuestionKind] = sorted((module.QUESTION_KIND for module in modules), key=lambda kind: kind.place)
    for shared in (Counter(kind.id for kind in kinds), Counter(kind.place for kind in kinds)):
        for value, times in shared.items():
            if times > 1:
                raise ValueError(f"{times} kinds of question say that they are {value!r}.")
    return MappingProxyType({kind.id: kind for kind in kinds})


def question_kind(kind: str) -> QuestionKind:
    """One kind by its id; `KeyError` for an unknown one."""
    return question_kinds()[kind]


def kinds_that(test: Callable[[QuestionKind], bool]) -> tuple[str, ...]:
    """The ids of the kinds that pass a test, in the order of their places."""
    return tuple(kind.id for kind in question_kinds().values() if test(kind))
