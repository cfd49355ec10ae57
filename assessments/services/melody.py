"""A melody taken down by ear: kept as typed, checked phrase by phrase, brought back from memory after days."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime

from django.db import transaction

from drills.comparers.note_names import read_notes
from studio.models import User
from tunes.harmony.pitch.spelling import Interval
from tunes.melody.phrase_check import Check, check
from tunes.models import PhraseByEar, Tune

from ..models import Recall
from ..selectors.melody import Line, MelodyPage
from .recall import recalled

LONGEST = 400


def keep_and_check(
    *,
    player: User,
    tune: Tune,
    page: MelodyPage,
    texts: Mapping[str, str],
    asked: str,
    written: Interval,
    now: datetime,
) -> dict[str, Check]:
    """Keep what was typed for every phrase, and check the one that is asked ("all": every phrase with something in it).

    `texts` and the result are by the name of a phrase; `written` leads from concert pitch to what the player types. When
    the last phrase is right for the first time, or when all are checked from memory, it is settled when the melody comes
    back.
    """
    found: dict[str, Check] = {}
    with transaction.atomic():
        for line in page.lines:
            text = texts.get(line.name, "").replace("\x00", "")[:LONGEST]
            row = line.row or PhraseByEar(user=player, tune=tune, first=line.first, last=line.last)
            if line.row is None and not text.strip():
                continue
            if not line.hidden:
                row.text = text
            if text.strip() and line.notes and asked in (line.name, "all"):
                found[line.name] = _checked(row, line, text, written, now)
            row.save()
        _settle(player, tune, page, found, asked, now)
    return found


def _checked(row: PhraseByEar, line: Line, text: str, written: Interval, now: datetime) -> Check:
    notes = [note - written for note in read_notes(text).notes]
    made = check(notes, line.kept)
    row.right, row.notes, row.checked = made.right, made.notes, now
    if made.complete and row.taken is None:
        row.taken = now
    return made


def _settle(player: User, tune: Tune, page: MelodyPage, found: Mapping[str, Check], asked: str, now: datetime) -> None:
    if page.from_memory and asked == "all":
        hidden = [line for line in page.lines if line.hidden]
        notes = sum(line.notes for line in hidden)
        right = sum(found[line.name].right for line in hidden if line.name in found)
        percent = round(100 * right / notes) if notes else 0
    elif page.recall is None and PhraseByEar.objects.filter(user=player, tune=tune, taken__isnull=False).count() == sum(
        bool(line.notes) for line in page.lines
    ):
        percent = 100
    else:
        return
    recalled(player_id=player.pk, tune_id=tune.pk, what=Recall.What.MELODY, percent=percent, now=now)
