"""One page of the handbook."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cached_property

LINK = re.compile(r"\[([^\]]+)\]\(([\w:-]+)\)")
LABEL = re.compile(r"\*([^*]+)\*")


@dataclass(frozen=True)
class Task:
    """`steps` are done in turn, `more` is good to know. `routes`: pages where the task is, which link here. `teaches`: it is
    for instructors and directors. `also`: everyday words by which it is looked for and which it does not say."""

    slug: str
    title: str
    lead: str
    steps: tuple[str, ...]
    more: tuple[str, ...] = ()
    routes: tuple[str, ...] = ()
    teaches: bool = False
    also: str = ""

    @cached_property
    def text(self) -> str:
        """All of its words, as they are typed."""
        return "\n".join((self.title, self.lead, *self.steps, *self.more))

    @cached_property
    def words(self) -> str:
        """The same to be searched: small letters, without the signs of labels and links."""
        return " ".join((LINK.sub(r"\1", self.text).replace("*", ""), self.also)).lower()

    @property
    def labels(self) -> list[str]:
        """What it says stands on a page."""
        return LABEL.findall(LINK.sub("", self.text))

    @property
    def links(self) -> list[str]:
        """The routes that it leads to."""
        return [route for _, route in LINK.findall(self.text)]
