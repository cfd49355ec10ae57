"""Lines carried: every placed note keeps its degree, the range is respected, nothing stands over a chord it was not made for.

The places are checked by walking the charts, which knows nothing of the index. Progressions and lines are invented.
"""

from __future__ import annotations

import re
from fractions import Fraction as F
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st
from lxml import etree

from drills.engraving import engrave
from drills.lines.compass import compass_of
from drills.lines.notate import notate
from drills.midi import to_midi
from drills.musicxml import to_musicxml
from drills.vocabulary import (
    CutLine,
    NothingToCut,
    Place,
    VocabularyIndex,
    approached_from_the_other_side,
    cut,
    from_another_beat,
    in_other_time,
    in_twelve_keys,
    inverted,
    over_form,
    over_place,
)
from drills.vocabulary.carry import chords_in
from studio.instruments import INSTRUMENTS
from tests.drills.studies import FORM, FakeStudy
from tests.tunes.musicxml_schema import schema
from tunes.harmony.analysis.pipeline import analyse
from tunes.harmony.charts import Chart, parse_chart, transpose_chart
from tunes.harmony.pitch.spelling import Key, NoteName, degree_interval, transposition
from tunes.melody import Grid, Note, changes_of

MAJOR = "key: C\n| Dm7 | G7 | Cmaj7 | % |"
MINOR = "key: C minor\n| Dm7b5 | G7 | Cm7 | % |"
SHORT = "key: C\n| Dm7 G7 | Cmaj7 |"
TUNE = """key: F
[A]
| Fmaj7 | % | Gm7 | C7 |
| Fmaj7 | D7 | Gm7 C7 | Fmaj7 |
[B]
| Cm7 | F7 | Bbmaj7 | % |
| Bbm7 | Eb7b9 | Abmaj7 | Gm7 C7 |
[C]
| Am7b5 | D7 | Gm7 | % |
| Gm7 | C7 | Fmaj7 | % |
"""
PLAYERS = ("alto-sax", "trumpet", "trombone", "bass", "voice-alto")


def line_from(text: str, pitches: list[int], onsets: list[float], first: int = 0, last: int | None = None) -> CutLine:
    """A line cut from a made-up solo; onsets in crotchets from bar 1, each note as long as the way to the next, a quaver at most."""
    chart = parse_chart(text).chart
    changes, grid = changes_of(chart, analyse(chart))
    times = [F(x).limit_denominator(48) for x in onsets]
    notes = [Note(t, F(1, 2), midi) for t, midi in zip(times, pitches, strict=True)]
    return cut(notes, changes, grid, first, len(notes) - 1 if last is None else last, "invented")


TWO_FIVE_ONE = line_from(MAJOR, [62, 65, 69, 72, 71, 68, 67, 65, 64], [0, 0.5, 1, 1.5, 4, 4.5, 5, 5.5, 8])
FIVE_ONE = line_from(MAJOR, [65, 68, 66, 67, 65, 63, 64], [4.5, 5, 5.5, 6, 6.5, 7, 8])
FIVE_ONE_MINOR = line_from(MINOR, [65, 68, 67, 65, 63], [5, 5.5, 6, 6.5, 8])
IN_ONE_BAR = line_from(SHORT, [65, 69, 71, 68, 67], [0, 1, 2, 3, 4])


def index_of(*texts: str) -> tuple[VocabularyIndex[int], list[Chart]]:
    index: VocabularyIndex[int] = VocabularyIndex()
    charts = [parse_chart(text).chart for text in texts]
    for n, chart in enumerate(charts):
        index.add(n, chart, analyse(chart))
    return index, charts


def study_of(chart: Chart) -> FakeStudy:
    analysis = analyse(chart)
    return FakeStudy(chart, chart.key or analysis.home, analysis)


# --- cutting ---


def test_a_line_knows_its_functions_its_place_in_the_bar_and_its_degrees() -> None:
    assert TWO_FIVE_ONE.pattern == "2min 5dom 1maj"
    assert TWO_FIVE_ONE.degrees == ("1", "b3", "5", "b7", "3", "b9", "1", "b7", "3")
    assert TWO_FIVE_ONE.functions == "2 to 5 to 1, from beat 1 over the 2"
    assert [note.height for note in TWO_FIVE_ONE.notes] == [0, 3, 7, 10, 9, 6, 5, 3, 2]
    assert TWO_FIVE_ONE.by_chord == (("2", ("1", "b3", "5", "b7")), ("5", ("3", "b9", "1", "b7")), ("1", ("3",)))
    assert FIVE_ONE_MINOR.functions == "5 to 1 minor, from beat 2 over the 5"
    assert FIVE_ONE_MINOR.pattern == "5dom 1min"
    assert (TWO_FIVE_ONE.begins, TWO_FIVE_ONE.landing, TWO_FIVE_ONE.source) == (F(-8), F(0), "invented")


def test_a_line_over_one_chord_knows_what_it_leads_to_or_comes_from() -> None:
    dominant = line_from(MAJOR, [65, 68, 67, 65], [4, 5, 6, 7])
    assert (dominant.pattern, [chord.played for chord in dominant.chords]) == ("5dom 1maj", [True, False])
    minor = line_from(MINOR, [65, 68, 67, 65], [4, 5, 6, 7])
    assert minor.pattern == "5dom 1min"
    home = line_from(MAJOR, [64, 67, 71], [8, 9, 10])
    assert (home.pattern, [chord.played for chord in home.chords]) == ("5dom 1maj", [False, True])


def test_what_cannot_be_cut_says_why() -> None:
    with pytest.raises(NothingToCut, match="no chord sounds at note 1"):
        line_from("key: C\n| N.C. | G7 | Cmaj7 |", [60, 65], [0, 4])
    with pytest.raises(NothingToCut, match="one chord alone"):
        line_from("key: C\n| Cmaj7 | % |", [60, 64], [0, 4])
    with pytest.raises(NothingToCut, match="notes 1 to 1"):
        line_from(MAJOR, [60], [0], 0, 3)
    with pytest.raises(NothingToCut, match="at most"):
        line_from(MAJOR, [60] * 70, [n / 8 for n in range(70)])
    with pytest.raises(NothingToCut, match="through a stretch without"):
        line_from("key: C\n| G7 | N.C. | Cmaj7 |", [65, 64], [0, 8])


# --- places ---


def walked(line: CutLine, chart: Chart) -> set[int]:
    """Events where the line's chords stand one after the other with room for every note, found by walking: roots and
    classes by the chart's own symbols, times by its bars. Key and function are not asked."""
    changes, grid = changes_of(chart, analyse(chart), choruses=2)
    merged = [c for n, c in enumerate(changes) if n == 0 or c.symbol != changes[n - 1].symbol]
    wanted = chords_in(line, Key.parse("C"))
    families = [symbol.family for symbol in wanted]
    landing = max(note.chord for note in line.notes)
    found = set()
    half = len(merged) // 2
    for n in range(half):
        run = merged[n : n + len(wanted)]
        if len(run) < len(wanted) or any(c.symbol is None for c in run) or [c.symbol.family for c in run] != families:
            continue
        up = (run[0].symbol.root.pc - wanted[0].root.pc) % 12
        if any((c.symbol.root.pc - s.root.pc) % 12 != up for c, s in zip(run, wanted, strict=True)):
            continue
        ends = [c.start for c in merged[n + 1 : n + 1 + len(run)]]
        if len(ends) < len(run):
            continue
        zero = run[landing].start
        if (zero - grid.bar_at(zero).start) != line.landing:
            continue
        if all(run[note.chord].start <= zero + note.at and zero + note.end <= ends[note.chord] for note in line.notes):
            found.add(run[0].event)
    return found


@pytest.mark.parametrize("line", [TWO_FIVE_ONE, FIVE_ONE, FIVE_ONE_MINOR, IN_ONE_BAR], ids=lambda one: one.functions)
def test_the_places_are_those_that_a_walk_through_the_charts_finds(line: CutLine) -> None:
    index, charts = index_of(MAJOR, MINOR, SHORT, TUNE, FORM)
    places = index.find(line)
    fitting = {(name, place.first) for name, place in places[: places.fitting]}
    expected = {(n, event) for n, chart in enumerate(charts) for event in walked(line, chart)}
    assert fitting == expected
    assert all(not place.fits for _, place in places[places.fitting :])


def test_major_and_minor_goals_are_apart() -> None:
    index, _ = index_of(TUNE)
    major, minor = index.find(FIVE_ONE), index.find(FIVE_ONE_MINOR)
    assert not {p.first for _, p in major[:]} & {p.first for _, p in minor[:]}
    assert minor.fitting == 2  # D7 before Gm7 in the first and in the last section


REASONS = [
    (IN_ONE_BAR, MAJOR, "the 2 is over 4 beats before the 1 here|comes on beat"),
    (TWO_FIVE_ONE, SHORT, "the 2 begins 4 beats before the 1 here, the line begins on it 8 before"),
    (line_from(MAJOR, [65, 69, 74, 71], [4, 5, 6, 7]), "key: C\n| Dm7 | G7b9 | Cmaj7 | % |", "the line has the 9th where the chart writes G7"),
    (FIVE_ONE, "key: C\nmetre: 3/4\n| Dm7 | G7 | Cmaj7 | % |", "bars here have 3 crotchets, the line is made for 4"),
    (FIVE_ONE, "key: C\n| Dm7 G7 | Cmaj7 |", "has 2 beats here, the line needs|begins .* before the .* here, the line begins on it|is over .* here, the line stays on it"),
    (line_from(MAJOR, [67, 65, 64], [6, 7, 8]), "key: C\n| G7 Cmaj7 | Cmaj7 |", "the 1 comes on beat 3 here, in the line on beat 1"),
]  # fmt: skip


@pytest.mark.parametrize(("line", "text", "why"), REASONS)
def test_a_place_that_does_not_fit_says_why(line: CutLine, text: str, why: str) -> None:
    index, _ = index_of(text)
    places = index.find(line)
    assert places.fitting == 0
    assert len(places) > 0
    assert re.search(why, places[0][1].why_not), places[0][1].why_not


def test_half_a_bar_away_and_half_the_time_only_when_asked() -> None:
    index, charts = index_of("key: C\n| G7 Cmaj7 | Cmaj7 |", SHORT)
    line = line_from(MAJOR, [67, 65, 64], [6, 7, 8])
    assert index.find(line).fitting == 1
    moved = index.find(line, half_bars=True)
    assert [(name, place.moved) for name, place in moved[: moved.fitting]] == [(0, True), (1, False)]
    music = over_place(study_of(charts[0]), line, moved[0][1], compass_of(INSTRUMENTS["trumpet"], written=False)).line
    assert music is not None
    assert "Half a bar from where it was in the bar." in [remark.text for remark in music.remarks]
    quick = in_other_time(TWO_FIVE_ONE, F(1, 2))
    assert index.find(TWO_FIVE_ONE).fitting == 0
    assert [name for name, _ in index.find(quick)[: index.find(quick).fitting]] == [1]
    assert quick.changed == "in half the time"


def test_a_chart_that_leaves_takes_its_places_with_it() -> None:
    index, _ = index_of(MAJOR, TUNE)
    before = {name for name, _ in index.find(FIVE_ONE)[:]}
    index.discard(1)
    assert before == {0, 1}
    assert {name for name, _ in index.find(FIVE_ONE)[:]} == {0}
    assert len(index) == 1


# --- carried ---

KEYS = [Key(NoteName.from_fifths(n)) for n in range(-6, 6)]
FIGURES = st.lists(
    st.tuples(st.integers(55, 82), st.integers(0, 16)), min_size=2, max_size=10, unique_by=lambda pair: pair[1]
)


@st.composite
def any_line(draw: st.DrawFn) -> CutLine:
    figures = sorted(draw(FIGURES), key=lambda pair: pair[1])
    return line_from(draw(st.sampled_from([MAJOR, MINOR])), [midi for midi, _ in figures], [n / 2 for _, n in figures])


@given(any_line(), st.sampled_from(KEYS), st.sampled_from(PLAYERS))
def test_a_carried_line_keeps_its_degrees_its_rhythm_its_chords_and_the_range(
    line: CutLine, key: Key, player: str
) -> None:
    """Its own progression in another key, with the tune's before and after, for an instrument in written pitch."""
    source = parse_chart(MINOR if "half" in line.pattern or "1min" in line.pattern else MAJOR).chart
    chart = transpose_chart(source, transposition(Key.parse("C"), key))
    index: VocabularyIndex[str] = VocabularyIndex()
    index.add("it", chart, analyse(chart))
    places = index.find(line)
    compass = compass_of(INSTRUMENTS[player])
    assert places.fitting >= 1
    for _, place in places[: places.fitting]:
        carried = over_place(study_of(chart), line, place, compass, player)
        if carried.line is None:
            assert "spans" in carried.why_not
            assert line.span > 12
            continue
        check(line, place, carried.line, compass.low, compass.high)


def check(line: CutLine, place: Place, music, low: int, high: int) -> None:  # type: ignore[no-untyped-def]
    """The notes of the line among those of the music, told by their place in time."""
    landing = place.starts[max(note.chord for note in line.notes)]
    zero = next(c.start for c in music.chords if c.event == place.events[max(n.chord for n in line.notes)]) - landing
    by_start = {note.start: note for note in music.notes if note.pitch}
    heights = []
    for note in line.notes:
        here = by_start[landing + note.at + zero]
        chord = next(c for c in music.chords if c.start <= here.start < c.end)
        assert chord.event == here.event
        assert here.degree == note.degree
        assert here.duration == note.duration
        assert here.pitch.midi % 12 == (chord.symbol.root + degree_interval(note.degree)).pc
        assert low <= here.pitch.midi <= high
        assert abs(here.pitch.name.alter) < 2 or here.degree in (
            "3",
            "7",
        )  # the leading note of a minor key keeps its name
        heights.append(here.pitch.midi)
    turns = [
        (b - a) - (n.height - m.height) for (a, b), (m, n) in zip(pairwise(heights), pairwise(line.notes), strict=True)
    ]
    assert set(turns) <= {0, 12, -12}
    assert sum(turn != 0 for turn in turns) <= 1
    assert sum(note.duration for note in music.notes) == music.duration


@given(any_line(), st.sampled_from(PLAYERS))
def test_twelve_keys_are_twelve_times_the_same_line(line: CutLine, player: str) -> None:
    compass = compass_of(INSTRUMENTS[player])
    found = in_twelve_keys(line, compass, written_for=player)
    assert len({key.tonic.pc for key, _ in found}) == 12
    for key, carried in found:
        if carried.line is None:
            assert "spans" in carried.why_not
            continue
        symbols = chords_in(line, key)
        notes = [note for note in carried.line.notes if note.pitch]
        own = [n for n in notes if any(n.start == note.start for note in notes)]
        pcs = [(symbols[note.chord].root + degree_interval(note.degree)).pc for note in line.notes]
        sounding = [note.pitch.midi % 12 for note in own if note.pitch]
        assert any(sounding[k : k + len(pcs)] == pcs for k in range(len(sounding) - len(pcs) + 1))
        assert all(compass.low <= note.pitch.midi <= compass.high for note in notes if note.pitch)
        assert sum(note.duration for note in carried.line.notes) == carried.line.duration


def test_a_line_too_wide_turns_once_or_says_that_it_does_not_fit() -> None:
    """Three octaves on a voice of an octave and a sixth: none; an octave and a half that lies across the range: a turn, named."""
    voice = compass_of(INSTRUMENTS["voice-alto"])
    wide = line_from(MAJOR, [43, 65, 79, 67], [4, 5, 6, 8])
    assert all("spans 36 semitones" in carried.why_not for _, carried in in_twelve_keys(wide, voice))
    steps = line_from(MAJOR, [55, 59, 62, 65, 69, 74, 77, 79, 76], [4, 4.5, 5, 5.5, 6, 6.5, 7, 7.5, 8])
    turned = [
        carried for _, carried in in_twelve_keys(steps, voice) if any("on an octave" in text for text in carried.done)
    ]
    assert turned
    assert all(carried.line is not None for carried in turned)


def test_spelled_by_degree_and_as_it_is_read() -> None:
    """The flat nine as flat nine; B double flat is read as A; the leading note of a minor key keeps its double sharp."""
    flute = compass_of(INSTRUMENTS["flute"])
    names = {key.short: [note.pitch.name.text for note in carried.line.notes if note.pitch]
             for key, carried in in_twelve_keys(FIVE_ONE_MINOR, flute) if carried.line}  # fmt: skip
    assert names["Cm"][-5:] == ["F", "Ab", "G", "F", "Eb"]
    minor = line_from(MINOR, [68, 71, 72], [5, 6, 8])
    sharp = {key.short: carried.line for key, carried in in_twelve_keys(minor, flute)}
    assert [n.pitch.name.text for n in sharp["G#m"].notes if n.pitch][-3:] == ["E", "F##", "G#"]
    flat = {key.short: carried.line for key, carried in in_twelve_keys(FIVE_ONE, flute)}
    assert [n.pitch.name.text for n in flat["Gb"].notes if n.pitch][:2] == ["Cb", "D"]


def test_joined_by_the_nearest_chord_tone() -> None:
    index, charts = index_of(TUNE)
    places = index.find(FIVE_ONE)
    place = next(place for _, place in places[: places.fitting])
    music = over_place(study_of(charts[0]), FIVE_ONE, place, compass_of(INSTRUMENTS["trumpet"], written=False)).line
    assert music is not None
    notes = [note for note in music.notes if note.pitch]
    after = notes[-1]
    chord = next(c for c in music.chords if c.event == after.event)
    assert chord.symbol is not None
    assert after.degree in chord.symbol.degrees
    assert abs(after.pitch.midi - notes[-2].pitch.midi) <= 2  # type: ignore[union-attr]


def test_a_line_that_stops_over_the_five_is_led_home_and_begins_with_a_rest() -> None:
    """The flat nine falls to the 5th of the 1; the root that it begins on is not struck before it (common practice, no source)."""
    stops = line_from(MAJOR, [67, 65, 71, 68], [5, 5.5, 6, 6.5])
    index, charts = index_of(TUNE)
    places = index.find(stops)
    assert places.fitting
    for _, place in places[: places.fitting]:
        music = over_place(study_of(charts[0]), stops, place, compass_of(INSTRUMENTS["trumpet"], written=False)).line
        assert music is not None
        assert [note.degree for note in music.notes if note.pitch] == ["1", "b7", "3", "b9", "5"]
        assert music.notes[0].pitch is None
        assert music.notes[0].duration < music.bars[0].length, "no bar of rest before it"


def test_through_the_form_the_line_stands_wherever_it_fits_and_guide_tones_between() -> None:
    index, charts = index_of(TUNE)
    places = index.find(FIVE_ONE)
    music = over_form(
        study_of(charts[0]),
        FIVE_ONE,
        [place for _, place in places[:]],
        compass_of(INSTRUMENTS["alto-sax"], written=False),
    )
    assert music.duration == 24 * 4
    assert sum(note.duration for note in music.notes) == music.duration
    degrees = [note.degree for note in music.notes if note.pitch]
    size = len(FIVE_ONE.degrees)
    standing = sum(tuple(degrees[n : n + size]) == FIVE_ONE.degrees for n in range(len(degrees)))
    said = sum("does not fit" in remark.text or "left out" in remark.text for remark in music.remarks)
    assert standing == places.fitting >= 3
    assert standing + said == len(places)
    assert set(degrees) >= {"3", "b7", "b3", "7"}


def test_a_place_through_the_repeat_of_the_form() -> None:
    """Gm7 C7 at the end, F at the top: the line runs into the next chorus, and its bars are those of end and top."""
    text = "key: F\n| Fmaj7 | % | Gm7 | C7 |"
    index, charts = index_of(text)
    places = index.find(FIVE_ONE)
    assert [place.starts for _, place in places[: places.fitting]] == [(F(12), F(16))]
    music = over_place(study_of(charts[0]), FIVE_ONE, places[0][1], compass_of(INSTRUMENTS["flute"])).line
    assert music is not None
    assert [bar.number for bar in music.bars][:2] == [4, 1]
    form = over_form(study_of(charts[0]), FIVE_ONE, [places[0][1]], compass_of(INSTRUMENTS["flute"]))
    assert any("past the end" in remark.text for remark in form.remarks)


@pytest.mark.parametrize("player", ["alto-sax", "trombone"])
def test_it_is_engraved_and_written_like_every_other_line(player: str) -> None:
    """MusicXML 4.0 schema, W3C Music Notation Community Group, 2021."""
    compass = compass_of(INSTRUMENTS[player])
    for _, carried in in_twelve_keys(TWO_FIVE_ONE, compass, written_for=player)[:4]:
        assert carried.line is not None
        assert schema().validate(etree.fromstring(to_musicxml(carried.line).encode())), schema().error_log
        assert len(notate(carried.line)) == len(carried.line.bars)
        assert to_midi(carried.line)[:4] == b"MThd"
    assert "<svg" in engrave(carried.line).svg


# --- variants ---


def test_from_another_beat() -> None:
    later = from_another_beat(FIVE_ONE_MINOR, 1) if FIVE_ONE_MINOR.ends < 1 else FIVE_ONE_MINOR
    assert later.changed in ("", "a beat later")
    alone = line_from(MAJOR, [65, 68, 67], [4, 4.5, 5])
    shifted = from_another_beat(alone, 2)
    assert [note.at - old.at for note, old in zip(shifted.notes, alone.notes, strict=True)] == [2, 2, 2]
    assert shifted.degrees == alone.degrees
    with pytest.raises(NothingToCut, match="another chord"):
        from_another_beat(alone, 4)


def test_turned_round_it_falls_where_it_rose() -> None:
    """Step for step round the last note in the scale of the chord, common practice: G B D F over G7 from the top is F D B G."""
    rising = line_from(MAJOR, [67, 71, 74, 77, 76], [4, 5, 6, 7, 8])
    turned = inverted(rising)
    assert [b.height - a.height > 0 for a, b in pairwise(rising.notes)] == [True, True, True, False]
    assert [b.height - a.height > 0 for a, b in pairwise(turned.notes)] == [False, False, False, True]
    assert turned.notes[-1].degree == rising.notes[-1].degree
    assert [note.at for note in turned.notes] == [note.at for note in rising.notes]


def test_the_target_from_its_other_side() -> None:
    below = line_from(MAJOR, [65, 71, 74, 63, 64], [4, 5, 6, 7, 8])
    assert below.notes[3].leads == 4
    above = approached_from_the_other_side(below)
    assert above.notes[3].height - above.notes[4].height == below.notes[4].height - below.notes[3].height == 1
    assert above.degrees[:3] == below.degrees[:3]
    assert above.degrees[4] == below.degrees[4]
    with pytest.raises(NothingToCut, match="approaches"):
        approached_from_the_other_side(line_from(MAJOR, [67, 71, 74], [4, 5, 6]))


@given(any_line())
def test_variants_stay_lines(line: CutLine) -> None:
    """Whatever is turned round has the same rhythm and chords, degrees that agree with its heights, and fits somewhere."""
    turned = inverted(line)
    symbols = chords_in(line, Key.parse("C"))
    pcs = [(symbols[note.chord].root + degree_interval(note.degree)).pc for note in turned.notes]
    assert [(b - a) % 12 for a, b in pairwise(pcs)] == [(b.height - a.height) % 12 for a, b in pairwise(turned.notes)]
    assert [(n.at, n.duration, n.chord) for n in turned.notes] == [(n.at, n.duration, n.chord) for n in line.notes]


def test_even_grid_without_a_chart() -> None:
    """A line may be typed over chords that come from no chart."""
    changes, _ = changes_of(parse_chart(MAJOR).chart)
    typed = cut(
        [Note(F(5), F(1), 71), Note(F(8), F(1), 72)], changes, Grid.even(parse_chart(MAJOR).chart.metre, 4), 0, 1
    )
    assert typed.pattern == "5dom 1maj"
