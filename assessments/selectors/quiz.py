"""What the quiz page and the feedback page show: fields on the chart before, marks on it after."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import groupby
from typing import Any

from drills.kinds import question_kind
from drills.question_kind import Needs, QuestionKind
from drills.questions import prompt_for
from studio.instruments import INSTRUMENTS
from tunes.by_ear.selectors import hearing_times
from tunes.drawing import ChartView, draw_study
from tunes.harmony.chords import ChordSymbol
from tunes.harmony.pitch.spelling import UNISON, Interval, Key, sensible
from tunes.models import ChartRevision, Recording
from tunes.recordings.selectors import caution_due
from tunes.study import StudyChart, analysis_of, chart_of, study_of_text

from ..bars import Bars
from ..called import called_in
from ..kinds import BY_EAR, BY_HEART
from ..models import Answer, Attempt, Quiz, Step
from .by_ear import as_heard
from .review import MissedQuestion, SheetRow


@dataclass(frozen=True)
class Field:
    """One field of the quiz page. `number` counts from 1; `place` names its bar and `played` counts it; `same_as` is set where
    nothing is asked because the section comes again: the name of the bar that is asked instead."""

    id: str
    kind: str
    prompt: str
    number: int = 0
    place: str = ""
    played: int | None = None
    besides: str = ""
    event: int | None = None
    answer_form: str = "text"
    text: str = ""
    version: int = 0
    same_as: str = ""
    context: Mapping[str, Any] = field(default_factory=dict)
    symbol: ChordSymbol | None = None  # in the pitch the player reads

    @property
    def about(self) -> QuestionKind:
        """How a question of its kind is answered."""
        return question_kind(self.kind)


@dataclass(frozen=True)
class Hearing:
    """What changes by ear are taken from. `times` holds where each written bar begins and ends, in seconds."""

    recording: Recording | None
    times: Mapping[int, list[float]]

    @property
    def sound(self) -> Any:
        """The programme's own file of it, or None."""
        return getattr(self.recording, "sound", None)


@dataclass(frozen=True)
class EarSection:
    """One section of the empty form: its letter, the fields of its bars, and how often it comes as it is asked."""

    label: str
    fields: tuple[Field, ...]

    @property
    def times(self) -> int:
        return int(self.fields[0].context.get("times") or 1)


@dataclass(frozen=True)
class QuizPage:
    """Everything the page of an open attempt shows. Never holds a key."""

    fields: tuple[Field, ...]
    view: ChartView | None
    on_chart: bool
    home: str  # concert, as stored with the quiz
    shown_key: str
    pitch: str
    written: str
    clef: str = "treble"
    fifths: int = 0
    hearing: Hearing | None = None  # for changes by ear
    called: Key | None = None  # by heart: the concert key that is called

    @property
    def by_heart(self) -> bool:
        """Whether the empty form is filled from memory."""
        return bool(self.fields) and self.fields[0].kind == BY_HEART

    @property
    def by_numbers(self) -> bool:
        """Whether the numbers of the chords are asked instead of the chords."""
        return self.by_heart and self.fields[0].context.get("part") == "numbers"

    @property
    def sections(self) -> tuple[EarSection, ...]:
        """The empty form of changes by ear, section by section."""
        rows = groupby(
            self.fields, key=lambda f: (f.context.get("group"), f.context.get("pass"), f.context.get("section"))
        )
        return tuple(EarSection(str(key[2] or ""), tuple(fields)) for key, fields in rows)

    @property
    def begun(self) -> bool:
        """Whether anything is written already, and so kept."""
        return any(field.text for field in self.fields)

    @property
    def asks_notes(self) -> bool:
        """Whether names of notes are asked for, which a keyboard and a staff help to give."""
        return any(field.about.notes for field in self.fields)


def quiz_page(
    attempt: Attempt, asked: Sequence[Mapping[str, Any]], home: str, typed: Mapping[str, str] | None = None
) -> QuizPage:
    """The page of an attempt. `asked` are the questions without their keys; `typed` stands in fields instead of what is saved."""
    saved = {a.question: a for a in Answer.objects.filter(attempt=attempt)}
    kind, asked_as = attempt.step.kind, question_kind(attempt.step.kind)
    study = study_for(attempt)
    symbols, bars = symbols_of(study), Bars(study.chart)
    asked = bars.told(asked)
    fields = tuple(_field(n, q, saved.get(q["id"]), symbols, attempt.written) for n, q in enumerate(asked, 1))
    if kind in (BY_EAR, BY_HEART):
        once = not attempt.step.assignment.ask_repeats
        fields = tuple(replace(f, besides=bars.besides(q, once=once)) for f, q in zip(fields, asked, strict=True))
    fields = tuple(replace(f, text=typed[f.id]) if typed and f.id in typed else f for f in fields)
    on_chart = not asked_as.hides_chart and all(f.event is not None for f in fields)
    extras = {**_copies(asked), **{f.event: f for f in fields if f.event is not None}} if on_chart else {}
    view = None
    if not asked_as.hides_chart:
        view = draw_study(study, written_out=attempt.step.assignment.ask_repeats, analysed=False, extras=extras)
    clef = INSTRUMENTS[attempt.instrument].clef if attempt.instrument in INSTRUMENTS else "treble"
    hearing = hearing_of(attempt.step, study) if asked_as.needs is Needs.RECORDING and attempt.is_open else None
    return QuizPage(
        fields,
        view,
        on_chart,
        home,
        study.key.display,
        pitch_of(attempt),
        attempt.written,
        clef,
        study.key.fifths,
        hearing,
        called_key(home, attempt.written, attempt.instrument) if kind == BY_HEART else None,
    )


def called_key(home: str, written: str, instrument: str) -> Key | None:
    """The concert key in which something was called; `written` and `instrument` as an attempt has them."""
    row = INSTRUMENTS.get(instrument)
    return called_in(home, written, row.interval.simple if row else UNISON)


def hearing_of(step: Step, study: StudyChart) -> Hearing:
    """The recording chosen when the step was assigned, or the tune's reference if that one is gone: three queries."""
    rows = Recording.objects.filter(tune=step.assignment.tune_id).select_related("sound")
    chosen = rows.filter(pk=step.options.get("recording") or 0) | rows.filter(is_reference=True)
    found = sorted(chosen, key=lambda row: row.pk != step.options.get("recording"))
    recording = found[0] if found else None
    return Hearing(recording, hearing_times(recording, study.chart))


def heard_from_answers(user: Any, step: Step, study: StudyChart, rows: Sequence[SheetRow]) -> dict[str, Any]:
    """What a page needs to let the bar of an answer be heard: the recording, question → index of its written bar, and whether the
    caution about ears is due. Empty without a sound that has the form mapped on it."""
    hearing = hearing_of(step, study)
    bars = {row.mark.question: study.events[row.events[0]].bar for row in rows if row.events}
    if not hearing.sound or not hearing.times or not bars:
        return {}
    return {"hearing": hearing, "hear": bars, "caution": caution_due(user, "hearing")}


def bars_of_step(step: Step) -> Bars:
    """The bars of the chart that a step was issued from. One query."""
    return Bars(chart_of(ChartRevision.objects.values_list("text", flat=True).get(pk=step.assignment.revision_id)))


def study_for(attempt: Attempt) -> StudyChart:
    """The chart of an attempt in the pitch it was started in."""
    revision = attempt.step.assignment.revision
    study = study_of_text(revision.text, analysis_of(revision))  # labels are not shown: no overrules needed
    study = as_heard(attempt.step, study)
    return read_as(study, attempt.instrument, attempt.written, called=attempt.step.kind == BY_HEART)


def read_as(study: StudyChart, instrument: str, written: str, *, called: bool = False) -> StudyChart:
    """A study in the pitch in which something was begun; `called`: also in the key that its interval leads to."""
    found = INSTRUMENTS.get(instrument)
    if called:
        shown = study.transposed(sensible(study.key.transposed(Interval.parse(written))))
        return shown if found is None or found.is_concert else replace(shown, written_for=found.key)
    if found is None or found.is_concert or written == "P1":
        return study
    return study.for_instrument(found)


def pitch_of(attempt: Attempt) -> str:
    """How the pitch of the page is labelled."""
    instrument = INSTRUMENTS.get(attempt.instrument)
    if instrument is None or instrument.is_concert:
        return "Concert pitch"
    return f"Written for {instrument.name[0].lower()}{instrument.name[1:]}"


def _field(
    number: int, q: Mapping[str, Any], saved: Answer | None, symbols: Mapping[int, ChordSymbol | None], written: str
) -> Field:
    return Field(
        id=q["id"],
        kind=q["kind"],
        prompt=prompt_for(q, written),
        number=number,
        place=q["place"],
        played=q["played"],
        event=q.get("event"),
        answer_form=q.get("answer_form", "text"),
        text=saved.text if saved else "",
        version=saved.version if saved else 0,
        context=q.get("context") or {},
        symbol=symbols.get(q["event"]) if q.get("event") is not None else None,
    )


def _copies(asked: Sequence[Mapping[str, Any]]) -> dict[int, Field]:
    """Events that come again and are not asked: each points at the bar that is."""
    return {
        event: Field(id="", kind=q["kind"], prompt="", same_as=q["place"])
        for q in asked
        for event in q.get("also") or ()
    }


def symbols_of(study: StudyChart) -> dict[int, ChordSymbol | None]:
    """The chord of every event, in the pitch of the study."""
    return {event.index: event.symbol for event in study.events}


def feedback_view(attempt: Attempt, study: StudyChart, rows: Sequence[SheetRow]) -> ChartView | None:
    """The chart with the marks under its chords, for kinds that are answered there."""
    extras = {r.events[0]: r for r in rows if r.events}
    if not extras or len(extras) < len(rows):
        return None
    return _with_every_place(study, extras, written_out=attempt.step.assignment.ask_repeats)


def _with_every_place(study: StudyChart, extras: Mapping[int, Any], *, written_out: bool) -> ChartView:
    """The chart with something at chosen events; its repeats are written out where a second time has something of its own."""
    view = draw_study(study, written_out=written_out, analysed=False, extras=extras)
    if written_out or set(extras) <= {slot.event for slot in view.rows}:
        return view
    return draw_study(study, written_out=True, analysed=False, extras=extras)


def ensemble_view(step: Step, rows: Sequence[MissedQuestion]) -> ChartView | None:
    """The chart in concert pitch with how many missed what, for steps whose every question stands under a chord of its own.
    Read `step` with its assignment's revision."""
    extras = {row.question["event"]: row for row in rows if row.question.get("event") is not None}
    if not extras or len(extras) < len(rows):
        return None
    revision = step.assignment.revision
    study = as_heard(step, study_of_text(revision.text, analysis_of(revision)))
    return _with_every_place(study, extras, written_out=step.assignment.ask_repeats)


def quiz_of(attempt: Attempt, *, with_key: bool) -> Quiz:
    """The stored quiz of an attempt's step; the key only when asked for."""
    rows = Quiz.objects.filter(step_id=attempt.step_id)
    return rows.get() if with_key else rows.defer("questions").get()
