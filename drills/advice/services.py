"""What writes advice: asking for it, hearing a take in the background, contesting it."""

from __future__ import annotations

from typing import Any

from django.db import transaction
from django.utils import timezone

from drills.advice.models import TakeAdvice
from drills.advice.spelling import spell_of
from drills.hearing.extra import NotInstalled, available
from drills.takes.models import Take
from studio.jobs import Progress, start_job

KIND = "hear-take"
SOLO_VERSION = 1
NO_SOUND = "The sound of this take is deleted; nothing is heard of it."
DAMAGED = "The machine could not read the sound of this take through. Playing it here may still work; if not, record it again."


class UnknownNote(ValueError):
    """There is no such note in the advice."""


def ask(take: Take, *, again: bool = False) -> TakeAdvice | None:
    """Have a take heard, once; with `again` anew, what was contested forgotten. None where the site cannot hear."""
    if not available() or take.gone:
        return None
    with transaction.atomic():
        found, made = TakeAdvice.objects.select_for_update().get_or_create(take=take)
        if not made:
            if not again or found.state == TakeAdvice.State.WAITING:
                return found
            found.state, found.reason, found.data, found.contested = TakeAdvice.State.WAITING, "", {}, []
            found.heard = None
            found.save()
        start_job(take.player, KIND, {"take": take.pk})
    return found


def hear(progress: Progress) -> dict[str, Any]:
    """Hear one take. Safe to repeat: the same take gives the same advice."""
    found = TakeAdvice.objects.select_related("take__player").filter(take=progress.payload.get("take")).first()
    if found is None:
        return {"heard": False}
    take = found.take
    state, reason, data = _read(take)
    TakeAdvice.objects.filter(pk=found.pk).update(state=state, reason=reason[:300], data=data, heard=timezone.now())
    return {"heard": state == TakeAdvice.State.HEARD}


def _read(take: Take) -> tuple[str, str, dict[str, Any]]:
    """(state, reason, data) of a take."""
    from drills.hearing.expected import CannotBeHeard
    from tunes.samples import CannotDecode

    declined = TakeAdvice.State.DECLINED
    if take.gone or not take.file:
        return declined, NO_SOUND, {}
    try:
        return _heard(take)
    except CannotBeHeard as problem:
        return declined, str(problem), {}
    except (CannotDecode, FileNotFoundError):
        return declined, DAMAGED, {}
    except NotInstalled as problem:
        return declined, str(problem), {}


def _heard(take: Take) -> tuple[str, str, dict[str, Any]]:
    from drills.hearing.expected import score_of
    from drills.hearing.judge import judge

    bars = [(float(row[1]), float(row[2])) for row in take.played.get("bars") or ()]
    notes = [(float(start), float(length), int(midi)) for start, length, midi in take.played.get("notes") or ()]
    if not notes:
        return _solo(take)
    score = score_of(notes, bars, tempo=float(take.tempo), choruses=take.choruses, swing=take.swing)
    sound = _listen(take)
    advice = judge(
        sound,
        score,
        spell_of(take),
        begins=take.starts_at,
        leak_level=take.leak,
        fixed=take.heard_with != Take.HeardWith.NOTHING,
    )
    state = TakeAdvice.State.HEARD if advice.state == "heard" else TakeAdvice.State.DECLINED
    return state, advice.reason, advice.to_json()


def _listen(take: Take) -> Any:
    """The sound of a take as frames and events; here the numeric libraries are loaded."""
    from drills.hearing.tracker import listen
    from tunes.samples import blocks_of

    with take.file.open("rb") as file:
        return listen(blocks_of(file, take.media_type))


def _solo(take: Take) -> tuple[str, str, dict[str, Any]]:
    """A solo: no line to compare with, so only what was heard."""
    from drills.hearing.judge import LEAK, NOTHING, TOO_LOUD, leak_of
    from drills.hearing.solo import heard_notes

    sound = _listen(take)
    leak = leak_of(sound, take.leak)
    if leak is not None and leak > TOO_LOUD:
        return TakeAdvice.State.DECLINED, LEAK, {}
    notes = [one for one in heard_notes(sound.events) if one.second > take.starts_at - 4 * 60 / take.tempo]
    if not notes:
        return TakeAdvice.State.DECLINED, NOTHING, {}
    rows = [[one.second, one.length, one.midi, one.cents, one.confidence, one.sure] for one in notes]
    return TakeAdvice.State.HEARD, "", {"version": SOLO_VERSION, "solo": rows}


@transaction.atomic
def contest(*, take: Take, note: str, back: bool = False) -> TakeAdvice:
    """The player says that a note was played as written, or takes that back. Raises `UnknownNote`."""
    found = TakeAdvice.objects.select_for_update().filter(take=take).first()
    rows = found.data.get("notes", ()) if found else ()
    if found is None or note not in {f"{row['chorus']}:{row['index']}" for row in rows}:
        raise UnknownNote
    kept = [one for one in found.contested if one != note]
    found.contested = kept if back else [*kept, note]
    found.save(update_fields=["contested"])
    return found
