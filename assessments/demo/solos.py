"""The demo's assignment about a solo: one step of every kind, its players in every state; a line practised in several keys."""

from __future__ import annotations

import datetime as dt
import uuid
from typing import Any

from django.utils import timezone

from drills.models import KeptLine
from drills.services import line_keys
from drills.services.lines import keep_line
from drills.vocabulary import NothingToCut
from studio.instruments import CONCERT
from studio.models import User
from tunes.harmony.pitch.spelling import Pitch
from tunes.models import Solo, SoloAsk, SoloRevision
from tunes.solos import selectors, services
from tunes.solos.notes import Bars
from tunes.solos.reading import read_solo

from ..models import Assignment, Attempt, Step
from ..services import review
from ..services.answer import Save, save_answers
from ..services.assign import StepPlan, assign
from ..services.hand_in import hand_in, send, start_attempt
from ..services.sign_off import sign_off

TUNE, LINE_TUNE, ENSEMBLE = "Low Tide Ledger", "Cobalt Street", "first"
WORDS = {
    "recurs": (
        "Bars 6 and 12 are the same line, the second time into the 1.",
        "The shape of bar 2 comes back in bar 10.",
    ),
    "apply-line": ("Played it in F minor and B flat minor from bars 4 and 9.", "In three tunes of this term, slowly."),
}
SAID = "Bar 6, beat 3: hear it once more at half speed."
LINE_KEYS = (
    (5, 112, "with ease"),
    (10, 104, "steady"),
    (0, 96, "steady"),
    (3, 84, "with slips"),
    (8, 72, "fell apart"),
)


def load_solo_steps(world: Any) -> Assignment | None:
    """The assignment, once its solo is there; None without it."""
    solo = Solo.objects.filter(revision__version__tune__title=TUNE, shared_with=world.ensembles[ENSEMBLE]).first()
    kept = selectors.newest(solo) if solo else None
    if solo is None or kept is None:
        return None
    leader = world.leader(ENSEMBLE)
    players = [player for player in world.players(ENSEMBLE) if player != leader]
    due = timezone.make_aware(dt.datetime.combine(world.today + dt.timedelta(days=5), dt.time(23, 59)))
    made = assign(
        by=leader, ensemble=world.ensembles[ENSEMBLE], revision=solo.revision, title="A solo on Low Tide Ledger", release="due", tell=False,
        instructions="Four bars a day. Sing each before you write it. Rest your lips and ears in between.",
        steps=[
            StepPlan("write-out", due=due, title="Write out bars 1 to 4", options={"solo": solo.pk, "first": 1, "last": 4}),
            StepPlan("write-out", due=due, title="Write out a chorus, two of you", options={}),
            StepPlan("solo-notes", due=due, options={"solo": solo.pk, "first": 1, "last": 2}),
            StepPlan("recurs", due=due, options={}), StepPlan("apply-line", due=due, options={}), StepPlan("sign-off", due=due),
        ],
    )  # fmt: skip
    for number, player in enumerate(players[:5]):
        _play(made, player, number, solo, kept, leader)
    step = made.steps.get(kind="sign-off")
    sign_off(step=step, players=players[3:4], by=leader, evidence="Played the chorus with the recording, at tempo")
    _line(world, leader)
    return made


def _play(made: Assignment, player: User, number: int, solo: Solo, kept: SoloRevision, leader: User) -> None:
    """0 has not begun, 1 has begun, 2 handed in, 3 was reviewed, 4 got one back."""
    if number == 0:
        return
    written = _version(solo, kept, player, number)
    for step in made.steps.exclude(kind="sign-off"):
        step.assignment = made
        token = uuid.uuid5(uuid.NAMESPACE_URL, f"{step.kind} {step.position} {player.pk}")
        if step.kind == "solo-notes":
            attempt = _quiz(step, player, number)
        elif step.kind == "write-out":
            attempt = send(step=step, player=player, token=token, solo=written) if number > 1 or step.options else None
        else:
            attempt = (
                send(step=step, player=player, token=token, note=WORDS[step.kind][number % 2]) if number > 1 else None
            )
        if attempt is not None and number > 2:
            _look(attempt, number, leader, step)


def _look(attempt: Attempt, number: int, leader: User, step: Step) -> None:
    attempt.refresh_from_db()
    if step.kind == "write-out":
        token = uuid.uuid5(uuid.NAMESPACE_URL, f"said {attempt.pk}")
        review.comment(attempt=attempt, by=leader, text=SAID, bar=6, token=token)
    back = number == 4 and step.kind == "write-out"
    act = review.return_for_another_go if back else review.accept
    act(attempt_id=attempt.pk, by=leader, version=attempt.version)


def _quiz(step: Step, player: User, number: int) -> Attempt | None:
    attempt = start_attempt(step=step, player=player)
    questions = step.quiz.questions
    part = questions if number > 1 else questions[: len(questions) // 2]
    wrong = {n for n in range(len(part)) if n % (number + 2) == 1}
    saves = [
        Save(row["id"], f"{'1' if n in wrong else row['key']['degree']}, {row['key']['role']}", n + 1)
        for n, row in enumerate(part)
    ]
    client = uuid.uuid5(uuid.NAMESPACE_URL, f"quiz {step.pk} {player.pk}")
    save_answers(attempt_id=attempt.pk, player_id=player.pk, client=client, saves=saves)
    return hand_in(attempt_id=attempt.pk, player_id=player.pk) if number > 1 else None


def _version(solo: Solo, kept: SoloRevision, player: User, number: int) -> SoloRevision:
    """The solo as this player wrote it down: nearly the same, each with slips of their own."""
    form = selectors.form_of(solo, selectors.reader_of(player))
    bars = selectors.read_stored(kept.notes, len(form.bars))
    mine = services.begin(
        by=player, revision=solo.revision, recording=solo.recording, player=solo.player, instrument=solo.instrument,
        covers=selectors.covers(solo), rights=solo.rights, bars=len(bars),
    )  # fmt: skip
    slipped = _slipped(bars, number)
    services.save_draft(solo=mine, bars=slipped, serial=0, client="")
    return services.keep(solo=mine, bars=slipped, by=player)


def _slipped(bars: Bars, number: int) -> Bars:
    """One note a step too low in bar `number`, one an octave too high in bar 6 for every other player."""
    rows = [list(bar) for bar in bars]
    for bar, by in ((number - 1, -2), *([(5, 12)] if number % 2 else [])):
        place = next((n for n, entry in enumerate(rows[bar]) if entry.pitch and not entry.tie), None)
        if place is not None:
            entry = rows[bar][place]
            assert entry.pitch
            name = Pitch.nearest(entry.pitch.name, entry.pitch.midi + by) if by == 12 else _below(entry.pitch)
            rows[bar][place] = type(entry)(entry.length, name, entry.tuplet, entry.tie, entry.ghost, entry.guess)
    return tuple(tuple(row) for row in rows)


def _below(pitch: Pitch) -> Pitch:
    """The note a whole step lower by ear, on the letter below."""
    octave, letter = divmod(pitch.steps - 1, 7)
    natural = Pitch.parse(f"{'CDEFGAB'[letter]}{octave}")
    return Pitch.parse(f"{'CDEFGAB'[letter]}{'b' if pitch.midi - natural.midi > 2 else ''}{octave}")


def _line(world: Any, leader: User) -> KeptLine | None:
    """The line that has a name in the first solo, cut by who wrote it, practised in five keys, heard in one."""
    solo = Solo.objects.filter(revision__version__tune__title=LINE_TUNE, shared_with=world.ensembles[ENSEMBLE]).first()
    if solo is None or selectors.newest(solo) is None:
        return None
    writer = solo.written_by
    kept = selectors.newest(solo)
    form = selectors.form_of(solo, CONCERT)
    bars = selectors.read_stored(kept.notes if kept else {}, len(form.bars))
    lines = read_solo(bars, form, selectors.covers(solo), form.shift).lines
    if not lines:
        return None
    place = max(lines, key=lambda line: line.length * len(line.places)).places[0]
    length = max(lines, key=lambda line: line.length * len(line.places)).length
    try:
        row = keep_line(solo=solo, first=place.start, last=place.start + length, by=writer, name="The long way down")
    except NothingToCut:
        return None
    for asked in SoloAsk.objects.filter(solo=solo):  # who wrote it down has said what they hear; then their lines open
        services.answer(ask=asked, player=writer, said={"scale": "the plain scale of the chord"})
    now = timezone.now()
    for days, (tonic, tempo, went) in enumerate(LINE_KEYS):
        token = str(uuid.uuid5(uuid.NAMESPACE_URL, f"{LINE_TUNE} {tonic}"))
        line_keys.record(
            user=writer,
            line=row,
            tonic=tonic,
            tempo=tempo,
            went=went,
            token=token,
            now=now - dt.timedelta(days=9 - days),
        )
    line_keys.heard(
        player=writer,
        line=row,
        tonic=5,
        tempo=116,
        by=leader,
    )
    return row
