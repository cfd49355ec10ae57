"""The harmonic analysis of a chart: what every chord does, where it is heading, and why.

    >>> from tunes.harmony.charts import parse_chart
    >>> chart = parse_chart("| Dm7 | G7 | Cmaj7 | % |").chart
    >>> [(r.function.numeral, r.resolves_to) for r in analyse(chart).readings][:3]
    [('ii7', 1), ('V7', 2), ('Imaj7', None)]

This module is the one place that states the order in which a chart is read: `PASSES`, each a pure function from draft to draft
(`passes`), so that no pass sees what a later one says.  Before them the chords become sounds and stretches, and the grammar
reads the whole cyclic form (`preparation`).  The types of the result live in `readings` and are exported here.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from tunes.harmony.analysis.key_areas.names import KeyNames
from tunes.harmony.analysis.passes import names, readings
from tunes.harmony.analysis.passes.areas import areas
from tunes.harmony.analysis.passes.draft import Draft, Pass, run, steps
from tunes.harmony.analysis.passes.goals import GOALS
from tunes.harmony.analysis.preparation.skeleton import skeleton
from tunes.harmony.analysis.sounds import Sound, sounds_of
from tunes.harmony.analysis.version import version
from tunes.harmony.charts.bars import Event
from tunes.harmony.charts.model import Chart
from tunes.harmony.chords.symbol import ChordSymbol
from tunes.harmony.explain.rules import RULES, Rule
from tunes.harmony.pitch.spelling import Key
from tunes.harmony.readings.function import Function
from tunes.harmony.readings.landing import landing
from tunes.harmony.readings.reading import Alternative, Analysis, KeyArea, Reading
from tunes.harmony.readings.reason import Args, Reason
from tunes.harmony.readings.rule_ids import RuleId

__all__ = [
    "PASSES", "RULES", "Alternative", "Analysis", "Function", "KeyArea", "Reading", "Rule", "analyse",
    "analyse_events", "analyse_sounds", "landing", "trace",
]  # fmt: skip

PATTERNS = Pass(
    "patterns", "what shows only over several chords: progressions, clichés, cycles, pedals, modes", readings.patterns
)
PASSES: tuple[Pass, ...] = (
    *GOALS,
    Pass("key-areas", "the form cut into stretches of one key, and what other keys would cost more", names.key_areas),
    Pass("names", "what each chord is called in its key, by the first rule that holds", names.names),
    Pass("own-colour", "a chord of another kind than its stretch is named by its own kind", names.own_colour),
    Pass("in-company", "what a name says once the chords after it are named", names.in_company),
    Pass("into-the-blues", "a dominant before a seventh at home does not run on", names.into_the_blues),
    Pass("suspended", "a suspended dominant settles into its own third first", names.suspended),
    Pass("heard-goals", "a goal too far off to be heard is not promised", names.heard_goals),
    Pass("readings", "where each chord goes and how, with the reason", readings.readings),
    Pass("second-readings", "other ways to hear it", readings.second_readings),
    Pass("areas", "what speaks for each key", areas),
    PATTERNS,
    Pass("landing", "resolutions still to come", readings.landing_profile),
)
"""The order of the analysis."""
_OF_SOUNDS = tuple(one for one in PASSES if one is not PATTERNS)


def analyse(chart: Chart, held: Mapping[int, Key] | None = None) -> Analysis:
    """The reading of one chorus. `held` gives, by event, keys that a person has fixed."""
    return analyse_events(chart.events(), given=chart.key, held=held)


def analyse_events(
    events: Sequence[Event], given: Key | None = None, held: Mapping[int, Key] | None = None
) -> Analysis:
    """The same for a bare sequence of events. `given` is the key a chart states: it settles the spelling; a church mode is home."""
    draft = _begin_events(events, given, held)
    return _silent(len(events), given) if draft is None else _finished(run(draft, PASSES))


def analyse_sounds(
    symbols: Sequence[ChordSymbol | None], sounds: Sequence[Sound], beats: float,
    given: Key | None = None, held: Mapping[int, Key] | None = None,
) -> Analysis:  # fmt: skip
    """The same for symbols with their sounds already timed, without what shows only over several chords; `beats` is the length
    of a bar."""
    draft = _begin(symbols, sounds, beats, given, held)
    return _silent(len(sounds), given) if draft is None else _finished(run(draft, _OF_SOUNDS))


def trace(chart: Chart) -> Iterator[tuple[Pass, Draft]]:
    """The draft after every pass, in order; nothing for a chart without a chord."""
    draft = _begin_events(chart.events(), chart.key, None)
    if draft is not None:
        yield Pass("preparation", "which chord prepares which, in the home key", lambda made: made), draft
        yield from steps(draft, PASSES)


def _begin_events(events: Sequence[Event], given: Key | None, held: Mapping[int, Key] | None) -> Draft | None:
    sounds, beats = sounds_of(events)
    return _begin([event.symbol for event in events], sounds, beats, given, held)


def _begin(
    symbols: Sequence[ChordSymbol | None], sounds: Sequence[Sound], beats: float,
    given: Key | None, held: Mapping[int, Key] | None,
) -> Draft | None:  # fmt: skip
    """The first draft; None when no chord sounds."""
    typed = None if given is None else (given.tonic.pc, given.mode)
    bones = skeleton(
        sounds, beats, typed if given is not None and given.church else None, typed
    )  # a mode by name is meant
    if bones is None:
        return None
    names_of_keys = KeyNames(symbols, bones.home, given)
    return Draft(
        symbols=symbols, sounds=sounds, given=given, held=held or {}, bones=bones, key_names=names_of_keys,
        stretch_of={event: at for at, c in enumerate(bones.chords) for event in range(c.first, c.last + 1)},
    )  # fmt: skip


def _finished(draft: Draft) -> Analysis:
    home = draft.key_names.key(draft.bones.home)
    return Analysis(home=home, areas=draft.areas, readings=draft.readings, landing=draft.landing, engine=version())


def _silent(count: int, given: Key | None) -> Analysis:
    home = given or Key.parse("C")
    why = Reason(rule=RuleId.SILENCE, args=Args(key=home))
    said = (KeyArea(key=home, first=0, last=count - 1, reason=why),) if count else ()
    silent = tuple(readings.no_chord(event, home) for event in range(count))
    return Analysis(home=home, areas=said, readings=silent, landing=(None,) * count, engine=version())
