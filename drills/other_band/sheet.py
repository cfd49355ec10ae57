"""One round with the other band: what was chosen, kept in a signed text that the page carries, and what it comes to.

The text names charts, a seed and how much may differ; from it the same round is made again. It says nowhere which bars differ.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from hashlib import sha256

from django.core import signing

from drills.sheets import Material
from tunes.harmony.charts import Chart
from tunes.models import ChartRevision
from tunes.study import ChartUnreadable, StudyChart, chart_of
from tunes.versions.chorus import flat, study_of, with_bars

from .draw import Drawn, draw
from .offers import Offer, of_rules, of_version

SALT, SHOWN_SALT = "drills.other_band", "drills.other_band.shown"
A_DAY = 86_400
MOST_VERSIONS = 6


@dataclass(frozen=True)
class Choice:
    """What a round is made from. `version` is the id of the one that is to be played, 0 for any; `known` are changes that the
    player has heard out before."""

    revision: int
    others: tuple[int, ...]
    seed: int
    amount: str
    choruses: int
    version: int = 0
    known: tuple[str, ...] = ()

    def signed(self, salt: str = SALT) -> str:
        row = [
            self.revision, list(self.others), self.seed, self.amount, self.choruses, self.version, list(self.known),
        ]  # fmt: skip
        return signing.dumps(row, salt=salt, compress=True)

    @property
    def mark(self) -> str:
        """Tells one round of a player from another."""
        return sha256(f"{self.revision}:{self.seed}:{self.amount}:{self.choruses}".encode()).hexdigest()[:16]


def read_choice(text: str, salt: str = SALT) -> Choice | None:
    """The choice that a signed text holds; None for one that was not signed here, or is older than a day."""
    try:
        row = signing.loads(text, salt=salt, max_age=A_DAY)
        revision, others, seed, amount, choruses, version, known = row
    except (signing.BadSignature, ValueError, TypeError):
        return None
    return Choice(revision, tuple(others), seed, amount, choruses, version, tuple(known))


@dataclass(frozen=True)
class Round:
    """A choice with its charts: the chorus as written and as the other band plays it, both bar by bar, in concert pitch."""

    choice: Choice
    material: Material
    others: tuple[ChartRevision, ...]

    @cached_property
    def agreed(self) -> StudyChart:
        study = self.material.study
        written = flat(study.chart, study.key)
        return StudyChart(chart=written, computed=study.computed, analysis=study.analysis)

    @cached_property
    def versions(self) -> tuple[tuple[Offer, ...], ...]:
        """What each of the other versions plays otherwise."""
        return tuple(
            of_version(self.agreed.chart, chart, row.version.name, str(row.version_id))
            for row in self.others
            if (chart := _readable(row)) is not None
        )

    @cached_property
    def drawn(self) -> Drawn | None:
        """What differs, and in which chorus; None where nothing can."""
        wanted = self.choice.version
        versions = [
            offers for offers in self.versions if not wanted or any(o.id.startswith(f"v{wanted}:") for o in offers)
        ]
        return draw(
            versions, of_rules(self.agreed.chart, self.agreed.analysis.readings), amount=self.choice.amount,
            choruses=self.choice.choruses, seed=self.choice.seed, known=self.choice.known,
        )  # fmt: skip

    @cached_property
    def played(self) -> StudyChart:
        """The chorus as the other band plays it."""
        return study_of(with_bars(self.agreed.chart, self.drawn.bars if self.drawn else {}))


def _readable(row: ChartRevision) -> Chart | None:
    try:
        return chart_of(row.text)
    except ChartUnreadable:
        return None


def others_of(material: Material, newest: Sequence[ChartRevision]) -> tuple[ChartRevision, ...]:
    """The newest revisions of a tune's other versions."""
    own = material.revision.version_id
    return tuple(row for row in newest if row.version_id != own)[:MOST_VERSIONS]
