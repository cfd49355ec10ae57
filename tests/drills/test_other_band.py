"""The other band: what it may play, how it is drawn, how an answer is judged, and the round on its page.

What the rules make is held against what the comparison of two charts calls it, which knows nothing of the rules. Named examples:
Pease, *Jazz Composition* (2003) p. 53 (substitute dominants, related iis); a diminished seventh as the upper notes of the
dominant with flat nine is a logical identity; the other examples are common practice, no source.
"""

from __future__ import annotations

import json
import re
from fractions import Fraction
from itertools import pairwise
from types import SimpleNamespace
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from hypothesis import given, settings
from hypothesis import strategies as st

from assessments.selectors.today import desk_of
from drills.models import PracticeCue
from drills.other_band.draw import AMOUNTS, draw
from drills.other_band.judge import Said, judge
from drills.other_band.offers import of_rules, of_version
from drills.other_band.sheet import SHOWN_SALT, Choice, Round, read_choice
from drills.other_band.words import melody_words
from drills.selectors import material
from tests import factories
from tests.drills.studies import FORM, chart, symbol, symbols
from tunes.by_ear.reading import read_chords
from tunes.demo import repertoire, repertoire_more
from tunes.demo.shapes import DemoTune
from tunes.harmony.charts import COMMON_TIME, Chart
from tunes.harmony.charts.bar_count import bar_count
from tunes.harmony.comparison.reharmonise import RULES
from tunes.harmony.comparison.substitutions import compare_chords
from tunes.harmony.comparison.variants import align
from tunes.harmony.pitch.spelling import Key, NoteName, Pitch
from tunes.interchange.melody import Melody, MelodyNote
from tunes.models import EarResult
from tunes.pitch import read_sight, seen
from tunes.study import study_of_text
from tunes.versions.chorus import flat, study_of, with_bars
from tunes.versions.missed import missed_with_the_band

TUNES = [row for module in (repertoire, repertoire_more) for row in vars(module).values() if isinstance(row, DemoTune)]
CHARTS = [FORM, *(version.texts[-1] for tune in TUNES[::2] for version in tune.versions[:1])]


def shape(read: Chart) -> list[tuple[Any, ...]]:
    """What no substitution may change: numbers, metres and lengths of the bars, and their sections."""
    return [(bar.number, bar.metre, bar.beats, read.sections[bar.section].label) for bar in read.bars]


def texts(read: Chart, place: int) -> list[str]:
    return [slot.text for slot in read.bars[place].slots]


# A short chart in C, the rule, and the bars that it may become (the bar is the one with other chords).
EXAMPLES = [
    ("tritone-substitute", "| Dm7 | G7 | Cmaj7 | % |", "Dm7 | Db7 | Cmaj7 | Cmaj7"),
    ("tritone-substitute-with-ii", "| Dm7 | G7 | Cmaj7 | % |", "Dm7 | Abm7 Db7 | Cmaj7 | Cmaj7"),
    ("added-related-ii", "| Cmaj7 | A7 | Dm7 | G7 |", "Cmaj7 | Em7b5 A7 | Dm7 | G7"),
    ("diminished-for-dominant", "| Dm7 | G7 | Cmaj7 | % |", "Dm7 | Bdim7 | Cmaj7 | Cmaj7"),
    ("backdoor", "| Dm7 | G7 | Cmaj7 | % |", "Fm7 | Bb7 | Cmaj7 | Cmaj7"),
    ("suspended", "| Dm7 | G7 | Cmaj7 | % |", "Dm7 | G7sus4 | Cmaj7 | Cmaj7"),
    ("passing-diminished", "| Cmaj7 | Dm7 | G7 | Cmaj7 |", "Cmaj7 C#dim7 | Dm7 | G7 | Cmaj7"),
    ("added-dominant", "| Cmaj7 | Am7 | Dm7 | G7 |", "Cmaj7 E7 | Am7 | Dm7 | G7"),
    ("added-substitute-dominant", "| Cmaj7 | Am7 | Dm7 | G7 |", "Cmaj7 Bb7 | Am7 | Dm7 | G7"),
    ("turned-minor", "| G7 | Fmaj7 | Cmaj7 | % |", "G7 | Fmaj7 Fm6 | Cmaj7 | Cmaj7"),
    ("shared-tones", "| Dm7 | G7 | Cmaj7 | A7 |", "Dm7 | G7 | Em7 | A7"),
    ("chromatic-approach", "| Em7 | Dm7 | G7 | Cmaj7 |", "Em7 Ebm7 | Dm7 | G7 | Cmaj7"),
    ("interchange", "| G7 | Fmaj7 | Cmaj7 | % |", "G7 | Fm6 | Cmaj7 | Cmaj7"),
]


@pytest.mark.parametrize(("rule", "before", "after"), EXAMPLES, ids=[row[0] for row in EXAMPLES])
def test_each_rule_by_an_example(rule: str, before: str, after: str) -> None:
    chorus = flat(chart(f"key: C major\n{before}"))
    made = [
        with_bars(chorus, dict(o.bars)) for o in of_rules(chorus, study_of(chorus).analysis.readings) if o.rule == rule
    ]
    assert after in [" | ".join(" ".join(texts(one, place)) for place in range(len(one.bars))) for one in made]


# What a chord that stands alone for another is, as an answer by ear is told (`comparison.substitutions`).
STANDS_FOR = {
    "tritone-substitute": {"tritone-substitute"}, "diminished-for-dominant": {"rootless-dominant"}, "suspended": {"suspension"},
    "backdoor": {"backdoor"}, "shared-tones": {"third-apart", "upper-part"},
}  # fmt: skip


def test_every_rule_has_its_example() -> None:
    assert [row[0] for row in EXAMPLES if row[0] not in RULES] == []
    assert set(RULES) == {row[0] for row in EXAMPLES}


def test_what_the_rules_make_is_what_the_comparison_calls_it() -> None:
    """Over charts of the demo: form, lengths and numbers stay, exactly the bars that are said differ, by their kind; and one
    chord for another is one that a band may play there."""
    found = 0
    for text in CHARTS:
        chorus = flat(chart(text))
        study = study_of(chorus)
        for offer in of_rules(chorus, study.analysis.readings):
            changed = with_bars(chorus, dict(offer.bars))
            assert shape(changed) == shape(chorus), offer.id
            told = {(row.a, one.kind) for row in align(chorus, changed).rows for one in row.differences}
            assert {place for place, _ in told} == set(offer.places), offer.id
            assert offer.rule in {kind for _, kind in told}, (offer.id, told)
            event = next(e for e in study.events if e.index == offer.goal - 1)
            new = dict(offer.bars)[event.chorus_bar]
            if offer.rule in STANDS_FOR and len(new) == 1 and event.symbol and new[0].symbol:
                relation = compare_chords(event.symbol, new[0].symbol, study.reading(event.index).key).relation
                assert relation.id in STANDS_FOR[offer.rule], (event.symbol.text, new[0].symbol.text, relation.id)
                assert relation.plausible
                found += 1
    assert found > 40


def test_the_flat_seven_is_known_by_ear_under_the_name_that_players_write() -> None:
    """B7 for A flat 7 in D flat: the flat 7, which would be C flat by spelling."""
    flat_seven, five = symbol("B7"), symbol("Ab7")
    assert compare_chords(five, flat_seven, Key.parse("Db")).relation.id == "backdoor"


@settings(max_examples=15)
@given(progression=st.lists(symbols, min_size=2, max_size=10))
def test_any_changes_keep_their_form(progression: list[Any]) -> None:
    chorus = flat(chart("key: C\n| " + " | ".join(one.text for one in progression) + " |"))
    for offer in of_rules(chorus, study_of(chorus).analysis.readings):
        changed = with_bars(chorus, dict(offer.bars))
        assert shape(changed) == shape(chorus)
        assert changed != chorus
        for _, slots in offer.bars:
            assert all(a.end == b.start for a, b in pairwise(slots))


def test_a_chorus_written_out_counts_and_sounds_as_the_chart() -> None:
    for text in CHARTS:
        read = chart(text)
        chorus = flat(read)
        assert bar_count(chorus).chorus == bar_count(read).chorus
        assert [(e.symbol, e.onset, e.duration) for e in chorus.events()] == [
            (e.symbol, e.onset, e.duration) for e in read.events()
        ]


def test_versions_differ_where_the_table_of_versions_says() -> None:
    one = flat(chart("key: C major\n\nA:\n| Cmaj7 | Am7 | Dm7 | G7 |\n| Cmaj7 | A7 | Dm7 G7 | C6 |"))
    other = chart("key: F major\n\nA:\n| Fmaj7 | Dm7 | Gm7 | Gb7 |\n| Fmaj9 | Am7b5 D7 | Gm7 C7 | F6 |")
    offers = of_version(one, other, "in F", "7")
    assert [(o.id, [slot.text for _, slots in o.bars for slot in slots]) for o in offers] == [
        ("v7:4", ["Db7"]), ("v7:6", ["Em7b5", "A7"]),
    ]  # fmt: skip
    assert all(shape(with_bars(one, dict(o.bars))) == shape(one) for o in offers)


@given(seed=st.integers(1, 10**8), amount=st.sampled_from(sorted(AMOUNTS)), choruses=st.integers(2, 8))
def test_a_seed_draws_the_same_and_never_the_first_chorus(seed: int, amount: str, choruses: int) -> None:
    chorus = flat(chart(FORM))
    rules = of_rules(chorus, study_of(chorus).analysis.readings)
    versions = [of_version(chorus, chart(FORM.replace("| Gm7 C7 |", "| G7 C7 |")), "other", "3")]
    drawn = draw(versions, rules, amount=amount, choruses=choruses, seed=seed)
    assert drawn
    assert drawn == draw(versions, rules, amount=amount, choruses=choruses, seed=seed)
    assert 2 <= drawn.chorus <= choruses
    bars = [bar for offer in drawn.offers for bar in offer.places]
    assert len(bars) == len(set(bars))
    if amount == "one":
        assert len(drawn.offers) == 1
        assert drawn.offers[0].version, "versions come before rules"
        later = draw(versions, rules, amount=amount, choruses=choruses, seed=seed, known=[o.id for o in versions[0]])
        assert later
        assert later.offers[0].rule, "what is known comes last"
    elif amount == "some":
        assert len(drawn.offers) in (2, 3)
        starts = sorted(bars)
        firsts = [offer.places for offer in drawn.offers]
        assert all(min(abs(a - b) for a in one for b in two) >= 2 for one in firsts for two in firsts if one != two), (
            starts
        )
    else:
        assert drawn.offers == versions[0]


AGREED = "| Dm7 | G7 | Cmaj7 | A7 |\n| Dm7 | G7 | Cmaj7 | % |"
PLAYED = "| Dm7 | Db7 | Cmaj7 | A7 |\n| Dm7 | G7 | Cmaj7 | % |"
# What was said of which bar (place: chords, guide tone), the points, heard and strays. One bar changed: G7 became Db7.
ANSWERS = [
    ("all right", {1: ("Db7", "F")}, 1.0, 1, 0),
    ("enharmonic, and the other guide tone", {1: ("C#7", "B")}, 1.0, 1, 0),
    ("the bar alone", {1: ("", "")}, 0.4, 1, 0),
    ("a chord that shares its upper notes", {1: ("Bdim7", "F")}, 0.4 + 0.4 * 0.0 + 0.2, 1, 0),
    ("another kind on the right root", {1: ("Dbm7", "")}, 0.4 + 0.4 * 0.5, 1, 0),
    ("what the chart has", {1: ("G7", "F")}, 0.4 + 0.2, 1, 0),
    ("a chord tone for the guide tone", {1: ("Db7", "Ab")}, 0.8 + 0.2 * 0.4, 1, 0),
    ("a note outside", {1: ("Db7", "D")}, 0.8, 1, 0),
    ("one bar off", {2: ("Db7", "F")}, 0.2, 0, 0),
    ("nothing said", {}, 0.0, 0, 0),
    ("a stray bar beside the right one", {1: ("Db7", "F"), 6: ("Em7", "")}, 0.5, 1, 1),
    ("every bar named", dict.fromkeys(range(8), ("", "")), 0.4 / 8, 1, 7),
]


@pytest.mark.parametrize(("name", "said", "score", "heard", "stray"), ANSWERS, ids=[row[0] for row in ANSWERS])
def test_what_is_said_is_judged(
    name: str, said: dict[int, tuple[str, str]], score: float, heard: int, stray: int
) -> None:
    agreed, played = (study_of_text(f"key: C major\n{text}") for text in (AGREED, PLAYED))
    given_ = {
        place: Said(read_chords(text, COMMON_TIME) if text else None, NoteName.parse(note) if note else None)
        for place, (text, note) in said.items()
    }
    judged = judge(agreed, played, [1], given_)
    if name == "a chord that shares its upper notes":
        relation = compare_chords(
            played.events[1].symbol, read_chords("Bdim7", COMMON_TIME).soundings[0].chord, played.key
        )  # type: ignore[arg-type]
        score += 0.4 * relation.relation.credit
    assert judged.score == pytest.approx(score)
    assert (judged.asked, judged.heard, judged.stray) == (1, heard, stray)


# The melody's note over D flat 7 in C, and what is said of it.
MELODIES = [("F5", "The melody goes with it."), ("D5", "The melody has D, outside this harmony"), ("", "")]


@pytest.mark.parametrize(("note", "words"), MELODIES)
def test_whether_the_melody_goes_with_it_is_said(note: str, words: str) -> None:
    agreed, played = (study_of_text(f"key: C major\n{text}") for text in (AGREED, PLAYED))
    melody = Melody((MelodyNote(1, Fraction(0), Fraction(4), Pitch.parse(note)),)) if note else None
    asked = SimpleNamespace(material=SimpleNamespace(study=agreed, melody=melody))
    assert melody_words(asked, SimpleNamespace(place=1), played).startswith(words)  # type: ignore[arg-type]
    assert bool(melody_words(asked, SimpleNamespace(place=1), played)) == bool(words)  # type: ignore[arg-type]


# --- the page


@pytest.fixture
def player(db: None) -> Any:
    return factories.make_player(factories.make_ensemble(), instrument="alto-sax")


def round_page(client: Client, revision: Any, **query: Any) -> Any:
    return client.get(reverse("drills:other_band", args=[revision.pk]), query)


def test_a_round_tells_nothing_before_the_answer_and_everything_after(player: Any, client: Client) -> None:
    client.force_login(player)
    tune = factories.make_tune("Asked for", key="C major")
    revision = factories.make_version(tune, f"key: C major\n\nA:\n{AGREED}")
    factories.make_version(tune, f"key: C major\n\nA:\n{PLAYED}", name="quay version")
    page = round_page(client, revision, seed=5)
    html = page.content.decode()
    assert not re.search("Db7|D♭|B♭7|B♭<|tritone|quay version:", html), (
        "no chord of the other version, written or concert"
    )
    sheet = page.context["sheet"]
    assert read_choice(sheet) == read_choice(round_page(client, revision, seed=5).context["sheet"]), (
        "a seed draws it again"
    )
    sounds = [
        client.get(
            reverse("drills:other_band_chorus", args=[revision.pk]), {"sheet": sheet, "number": number, "seed": "1"}
        ).json()
        for number in (1, 2, 3, 4)
    ]
    differs = [number for number, sound in enumerate(sounds, 1) if sound["piano"] != sounds[0]["piano"]]
    assert len(differs) == 1
    assert not any(re.search("[A-G][b#]?(m|7|maj)", json.dumps(sound)) for sound in sounds), "notes, no chords"
    again = reverse("drills:other_band_again", args=[revision.pk])
    assert client.get(again, {"shown": sheet, "bar": 1}).status_code == 422, "nothing can be compared before the answer"
    # Alto saxophone: concert D flat 7 is read as B flat 7 (written a major sixth higher: Adler, The Study of Orchestration), F as D.
    answer = client.post(
        page.request["PATH_INFO"] + "?seed=5", {"sheet": sheet, "bar-1": "1", "chords-1": "Bb7", "guide-1": "D"}
    )
    told = answer.content.decode()
    assert answer.status_code == 200
    assert "1 of 1 bar heard" in told
    assert f"chorus {differs[0]} of 4" in told
    assert "quay version" in told
    result = EarResult.objects.get()
    assert (result.kind, result.score) == ("other-band", 1)
    client.post(page.request["PATH_INFO"] + "?seed=5", {"sheet": sheet})
    assert EarResult.objects.count() == 1, "a round counts once"
    shown = answer.context["shown"]
    ways = [client.get(again, {"shown": shown, "bar": 1, "way": way}).json() for way in ("written", "played")]
    assert [len(way["bars"]) for way in ways] == [3, 3]
    assert ways[0]["piano"] != ways[1]["piano"]


def test_what_was_missed_is_asked_in_the_quiz_and_planned_for_the_next_day(player: Any, client: Client) -> None:
    client.force_login(player)
    revision = factories.make_version(factories.make_tune("Missed", key="C major"), f"key: C major\n\nA:\n{AGREED}")
    page = round_page(client, revision, seed=8)
    client.post(page.request["PATH_INFO"], {"sheet": page.context["sheet"]})
    result = EarResult.objects.get()
    assert result.score == 0
    missed = missed_with_the_band(player, result.tune, revision)
    assert [bar.version for bar in missed] == [0] * len(missed)
    quiz = client.get(reverse("tunes:variants-quiz", args=[result.tune_id]))
    assert {question.bar for question in quiz.context["questions"]} == {bar.bar for bar in missed}
    assert "another band" in quiz.content.decode()
    right = {question.id: question.answer for question in quiz.context["questions"]}
    done = client.post(reverse("tunes:variants-quiz", args=[result.tune_id]), {"sheet": quiz.context["sheet"]} | right)
    assert done.context["right"] == len(right) > 0

    def planned() -> set[str]:
        return {work.name.split("-")[0] for work in desk_of(player).works}

    assert planned() == set(), "not the same day"
    PracticeCue.objects.update(created=timezone.now() - timezone.timedelta(days=1))
    assert planned() == {"band", "variants"}
    heard = client.post(page.request["PATH_INFO"], {"sheet": round_page(client, revision, seed=8).context["sheet"]})
    assert heard.status_code == 200
    assert EarResult.objects.filter(kind="other-band").count() == 1, "the same round again"
    again = round_page(client, revision, seed=8, choruses=5)
    found = Round(read_choice(again.context["sheet"]), material(revision.pk), ())  # type: ignore[arg-type]
    assert found.drawn
    seen_as = seen(found.played, read_sight({}, player))
    answers = {"sheet": again.context["sheet"]}
    for bar in found.drawn.bars:
        chords = " ".join(e.symbol.text for e in seen_as.events if e.chorus_bar == bar and e.symbol)
        answers |= {f"bar-{bar}": "1", f"chords-{bar}": chords}
    client.post(page.request["PATH_INFO"], answers)
    assert EarResult.objects.order_by("-pk")[0].score == pytest.approx(0.8), "without the note into the bar"
    same = {cue.bar for cue in PracticeCue.objects.all()} <= {
        found.agreed.chart.bars[b].number for b in found.drawn.bars
    }
    assert planned() == (set() if same else {"band", "variants"}), "what is heard now comes back no longer"


def test_what_cannot_be_read_or_has_changed_loses_nothing(player: Any, client: Client, monkeypatch: Any) -> None:
    client.force_login(player)
    tune = factories.make_tune("Kept", key="C major")
    revision = factories.make_version(tune, f"key: C major\n\nA:\n{AGREED}")
    page = round_page(client, revision)
    sheet, address = page.context["sheet"], page.request["PATH_INFO"]
    wrong = client.post(
        address, {"sheet": sheet, "bar-1": "1", "chords-1": "Xb7", "guide-1": "H", "bar-3": "1", "chords-3": "E7"}
    )
    assert wrong.status_code == 422
    html = wrong.content.decode()
    assert 'value="Xb7"' in html
    assert 'value="E7"' in html
    assert "“H” is not a note. Type C, Bb or F#." in html
    drawn = [signed.split(":")[0] for signed in (wrong.context["sheet"], sheet)]  # it is signed anew, with the second
    assert drawn[0] == drawn[1], "the same round stands"
    assert not EarResult.objects.exists()
    factories.make_version(tune, f"key: C major\n\nA:\n{PLAYED}", name="newer")
    for junk in (sheet, "", "x", Choice(revision.pk, (), 1, "one", 4).signed(SHOWN_SALT)):
        assert client.post(address, {"sheet": junk}).status_code == 422
    silent = factories.make_version(factories.make_tune("Silent"), "key: C\n| N.C. | N.C. |")
    assert "no chord" in round_page(client, silent).content.decode()
    held = factories.make_version(factories.make_tune("One chord"), "key: C\n| Cm7 | % | % | % |")
    assert "Nothing here can be played another way" in round_page(client, held).content.decode()
    monkeypatch.setattr("drills.other_band.views.analysis_is_open", lambda user, tune: False)
    assert "waits until your quiz" in round_page(client, revision).content.decode()
    assert client.get(reverse("drills:other_band_chorus", args=[revision.pk]), {"sheet": sheet}).status_code == 404
