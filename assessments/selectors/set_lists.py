"""Set lists: the tunes of a day with who knows which, and when each player was last signed off."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db.models import Max

from studio.models import User
from tunes.access import holds
from tunes.drawing import ChartView, draw_study
from tunes.harmony.pitch.spelling import Key
from tunes.models import ChartRevision, Tune
from tunes.pitch import Sight, pitch_label, seen
from tunes.study import analysis_of, study_of_text

from ..models import SetList, SetTune, SignOff
from .ledger import learned_pairs, players_of, requirements


@dataclass(frozen=True)
class SetRow:
    """One tune of the list: who of the players does not know it, and who was signed off when."""

    row: SetTune
    tune: Tune
    unknown: tuple[User, ...]
    players: int
    signed: tuple[tuple[User, datetime | None], ...]

    @property
    def known(self) -> int:
        return self.players - len(self.unknown)

    @property
    def key(self) -> str:
        """The key of the day in words."""
        return Key.parse(self.row.key).display if self.row.key else ""


@dataclass(frozen=True)
class Card:
    """One tune to print: `view` is None where its chords are held back from the reader, for the reason `held`."""

    row: SetTune
    tune: Tune
    view: ChartView | None
    pitch: str
    held: str


def tunes_of_set(set_list: SetList, *, whole: bool = False) -> list[SetTune]:
    """The tunes in order; with `whole` their charts too. One query."""
    rows = set_list.tunes.select_related("revision__version__tune")
    return list(rows if whole else rows.defer("revision__text", "revision__analysis"))


def set_rows(set_list: SetList) -> list[SetRow]:
    """The list with what its players know: five queries."""
    rows = tunes_of_set(set_list)
    tunes = [row.revision.version.tune_id for row in rows]
    players = list(players_of(set_list.ensemble))
    known: dict[int, set[int]] = defaultdict(set)
    for pair in learned_pairs([p.pk for p in players], requirements(), tune__in=tunes):
        known[pair["tune"]].add(pair["player"])
    signs = SignOff.objects.filter(player__in=players, tune__in=tunes, taken_back=None).order_by()
    signed = {(tune, player): on for tune, player, on in signs.values_list("tune", "player").annotate(Max("created"))}
    return [
        SetRow(
            row,
            row.revision.version.tune,
            tuple(p for p in players if p.pk not in known[row.revision.version.tune_id]),
            len(players),
            tuple((p, signed.get((row.revision.version.tune_id, p.pk))) for p in players),
        )
        for row in rows
    ]


def cards(user: Any, rows: Sequence[SetTune], sight: Sight) -> list[Card]:
    """The charts of a list in the key of the day, as `sight` shows them; held ones without chords."""
    held = holds(user, [row.revision.version.tune_id for row in rows])
    return [_card(row, sight, held.get(row.revision.version.tune_id)) for row in rows]


def _card(row: SetTune, sight: Sight, hold: Any) -> Card:
    tune = row.revision.version.tune
    if hold is not None and hold.chords:
        return Card(row, tune, None, "", hold.reason)
    study = study_of_text(row.revision.text, analysis_of(row.revision))
    own = Sight(key=Key.parse(row.key) if row.key else None, instrument=sight.instrument)
    shown = seen(study, own)
    return Card(row, tune, draw_study(shown, analysed=False), pitch_label(shown, own, own.key or study.key), "")


def chart_to_play(tune: Tune) -> ChartRevision | None:
    """The newest revision of the agreed chart, or of any."""
    rows = ChartRevision.objects.filter(version__tune=tune).defer("text", "analysis")
    return rows.order_by("-version__is_agreed", "version_id", "-number").first()
