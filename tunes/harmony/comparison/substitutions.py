"""What a chord that somebody heard is to the chord that was agreed: the same, a substitution, or something else.

For changes taken down by ear: root, quality and function are judged apart, and a chord that can sound in that
place is named by what it does.  ``CREDITS`` says how much of the chord each relation earns (1 = all); the facts
behind it are logical (shared notes) or named, the shares are common practice, no source.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from tunes.harmony.chords.symbol import ChordSymbol
from tunes.harmony.pitch.spelling import Key, NoteName
from tunes.harmony.readings.function import Function, family_of


@dataclass(frozen=True, slots=True)
class ChordRelation:
    """One row of the table: what the heard chord is, in one sentence, and the share it earns.

    ``plausible``: a band may well play it there.
    """

    id: str
    name: str
    sentence: str
    credit: float
    plausible: bool


_ROWS: tuple[ChordRelation, ...] = (
    ChordRelation("same", "The same chord", "Root and kind are right.", 1.0, True),
    ChordRelation("same-bass-differs", "The same chord over another bass", "The chord is right; the bass note is another.", 0.7, True),
    ChordRelation("plain-triad", "Its triad", "Bass and triad are right; the 7th was left out.", 0.8, True),
    ChordRelation("same-notes", "The same notes from another root", "The same notes; the bass decides the name.", 0.9, True),
    ChordRelation("suspended-slash", "A suspension by another name", "The same bass with its 4th and 7th, written as a chord over it.", 0.9, True),
    ChordRelation("suspension", "Suspended or not", "The same root; the 3rd is held back in one of them.", 0.9, True),
    ChordRelation("tritone-substitute", "Tritone substitute", "The two share their 3rd and 7th, and both fall to the same goal.", 0.75, True),
    ChordRelation("rootless-dominant", "Diminished for dominant", "The diminished chord is the dominant's upper notes without the root.", 0.75, True),
    ChordRelation("upper-part", "The upper part of the chord", "All its notes belong to the chord that was agreed.", 0.75, True),
    ChordRelation("two-for-five", "Its 2 or its 5", "The other one of a 2 and its 5: the right pair, in another place.", 0.5, True),
    ChordRelation("third-apart", "A third apart", "They share all notes but one, and do the same in the key.", 0.5, True),
    ChordRelation("backdoor", "The other way home", "Both lead home: one falls a fifth, the other rises a step.", 0.5, True),
    ChordRelation("other-quality", "Right root, another kind", "The root is right; listen to the 3rd and the 7th.", 0.5, False),
    ChordRelation("bass-only", "The bass note", "The bass is right; the chord on it was not given.", 0.5, False),
    ChordRelation("chord-tone-bass", "A note of the chord", "Not the bass, but a note of the chord.", 0.25, False),
    ChordRelation("same-role", "The same role", "Another chord, with the same role in the key.", 0.25, True),
    ChordRelation("fits-key", "Another chord of the key", "It belongs to the key, but does something else.", 0.0, False),
    ChordRelation("contradicts", "Against the key", "It has notes that neither the key nor the agreed chord has.", 0.0, False),
)  # fmt: skip
RELATIONS: dict[str, ChordRelation] = {row.id: row for row in _ROWS}


@dataclass(frozen=True, slots=True)
class ChordComparison:
    """The verdict on one chord: ``root`` and ``quality`` right or not, ``function`` "same", "similar" or
    "other", the relation, and the heard notes that neither key nor agreed chord has."""

    relation: ChordRelation
    root: bool
    quality: bool
    function: str
    foreign: tuple[NoteName, ...] = ()
    said: str = ""

    @property
    def sentence(self) -> str:
        """What is said of it: of this chord, where there is more to say than of its kind."""
        return self.said or self.relation.sentence


def compare_chords(
    agreed: ChordSymbol, heard: ChordSymbol | NoteName, key: Key, function: Function | None = None
) -> ChordComparison:
    """How a heard chord (or bare bass note) stands to the agreed one in its local key.

    >>> from tunes.harmony.chords import parse_symbol
    >>> g7, db7 = parse_symbol("G7").symbol, parse_symbol("Db7").symbol
    >>> compare_chords(g7, db7, Key.parse("C")).relation.id
    'tritone-substitute'
    """
    if isinstance(heard, NoteName):
        return _bass(agreed, heard)
    relation = next((name for name, holds in _TESTS if holds(agreed, heard, key)), "")
    foreign = foreign_notes(agreed, heard, key)
    if not relation:
        relation = "contradicts" if foreign else ("same-role" if _roles(agreed, heard, key, function) else "fits-key")
    row = RELATIONS[relation]
    same_root = agreed.root.pc == heard.root.pc
    if relation in ("same", "same-bass-differs", "plain-triad", "same-notes", "suspended-slash", "suspension"):
        job = "same"
    else:
        job = "similar" if row.plausible else "other"
    said = _which_of_the_pair(heard) if relation == "two-for-five" else ""
    if relation == "other-quality":
        said = _what_differs(agreed, heard)
    if relation == "upper-part" and not heard.pcs <= agreed.pcs:
        said = "Its notes are the upper ones of the chord that was agreed, with its 9th."
    return ChordComparison(row, same_root, agreed.family == heard.family, job, foreign, said)


_NAMES = {"3": "3rd", "4": "3rd", "2": "3rd", "5": "5th", "7": "7th", "6": "7th"}


def _what_differs(agreed: ChordSymbol, heard: ChordSymbol) -> str:
    """Of two kinds of chord on one root, which of 3rd, 5th and 7th (with what stands for them) are not the same."""
    pairs = [
        {_NAMES.get(degree.lstrip("#b")): tone.pc for degree, tone in zip(one.degrees, one.tones, strict=True)}
        for one in (agreed, heard)
    ]
    differ = [name for name in ("3rd", "5th", "7th") if pairs[0].get(name) != pairs[1].get(name)]
    return f"The root is right; listen to the {' and the '.join(differ)}." if differ else ""


def _which_of_the_pair(heard: ChordSymbol) -> str:
    """Of a 2 and its 5, which was heard in the other one's place."""
    if _dominant(heard):
        return "You heard the 5 of this pair; here its 2 still sounds."
    return "You heard the 2 of this pair; here its 5 sounds already."


def _bass(agreed: ChordSymbol, heard: NoteName) -> ChordComparison:
    bass = agreed.bass or agreed.root
    if heard.pc == bass.pc:
        return ChordComparison(RELATIONS["bass-only"], heard.pc == agreed.root.pc, False, "other")
    name = "chord-tone-bass" if heard.pc in agreed.pcs else "contradicts"
    return ChordComparison(RELATIONS[name], heard.pc == agreed.root.pc, False, "other")


def foreign_notes(agreed: ChordSymbol, heard: ChordSymbol, key: Key) -> tuple[NoteName, ...]:
    """Notes of the heard chord outside both the key (harmonic leading note included) and the agreed chord."""
    inside = key_pcs(key) | agreed.pcs
    return tuple(tone for tone in heard.tones if tone.pc not in inside)


def key_pcs(key: Key) -> frozenset[int]:
    """Pitch classes of the major scale, of the natural and harmonic minor scale together, or of a church mode.

    >>> sorted(key_pcs(Key.parse("A minor")))
    [0, 2, 4, 5, 7, 8, 9, 11]
    """
    major = NoteName.from_fifths(key.fifths).pc
    inside = {(major + step) % 12 for step in (0, 2, 4, 5, 7, 9, 11)}
    return frozenset(inside | ({(key.tonic.pc + 11) % 12} if key.word == "minor" else set()))


def _up(one: ChordSymbol, other: ChordSymbol) -> int:
    """Semitones from one root up to another."""
    return (other.root.pc - one.root.pc) % 12


def _core(symbol: ChordSymbol) -> frozenset[int]:
    """Pitch classes of root, 3rd, 5th and 7th: extensions are colour."""
    return frozenset(
        tone.pc
        for degree, tone in zip(symbol.degrees, symbol.tones, strict=True)
        if degree.lstrip("#b") in ("1", "2", "3", "4", "5", "6", "7")
    )


def _same(agreed: ChordSymbol, heard: ChordSymbol, key: Key) -> bool:
    return _same_body(agreed, heard) and _bass_of(agreed) == _bass_of(heard)


def _same_body(agreed: ChordSymbol, heard: ChordSymbol) -> bool:
    return agreed.root.pc == heard.root.pc and agreed.family == heard.family


def _bass_of(symbol: ChordSymbol) -> int:
    return (symbol.bass or symbol.root).pc


def _same_over_other_bass(agreed: ChordSymbol, heard: ChordSymbol, key: Key) -> bool:
    return _same_body(agreed, heard)


def _plain_triad(agreed: ChordSymbol, heard: ChordSymbol, key: Key) -> bool:
    """The triad of a seventh chord over the right bass: G for G7, C/E for C7/E, Bdim for Bm7b5."""
    whole = len(heard.degrees) == 3 and set(heard.degrees) <= set(agreed.degrees)
    return whole and agreed.root.pc == heard.root.pc and _bass_of(agreed) == _bass_of(heard)


def _same_notes(agreed: ChordSymbol, heard: ChordSymbol, key: Key) -> bool:
    return _core(agreed) == _core(heard)


def _suspension(agreed: ChordSymbol, heard: ChordSymbol, key: Key) -> bool:
    return agreed.root.pc == heard.root.pc and {agreed.family, heard.family} in (
        {"suspended", "dominant"},
        {"suspended", "major"},
    )


def _suspended_slash(agreed: ChordSymbol, heard: ChordSymbol, key: Key) -> bool:
    """G7sus for Dm7/G and F/G, and the other way about: one bass, and over it the 4th and the 7th (logical identity)."""
    for sus, slash in ((agreed, heard), (heard, agreed)):
        if sus.family == "suspended" and slash.bass is not None and slash.bass.pc == _bass_of(sus) == sus.root.pc:
            return {(sus.root.pc + 5) % 12, (sus.root.pc + 10) % 12} <= slash.pcs and _third_of(sus) not in slash.pcs
    return False


def _third_of(symbol: ChordSymbol) -> int:
    return (symbol.root.pc + 4) % 12


def _tritone(agreed: ChordSymbol, heard: ChordSymbol, key: Key) -> bool:
    return _up(agreed, heard) == 6 and _dominant(agreed) and _dominant(heard)


def _dominant(symbol: ChordSymbol) -> bool:
    return symbol.family == "dominant" or (symbol.family == "suspended" and symbol.has("b7"))


def _rootless(agreed: ChordSymbol, heard: ChordSymbol, key: Key) -> bool:
    for one, other in ((agreed, heard), (heard, agreed)):
        if _dominant(one) and other.family == "diminished" and _up(one, other) % 3 == 1:
            return True
    return False


def _upper(agreed: ChordSymbol, heard: ChordSymbol, key: Key) -> bool:
    """Bdim or Dm for G7 and G9: no fewer than three notes, all of them in the agreed chord with its ninth."""
    ninth = (agreed.root.pc + 2) % 12
    inside = agreed.pcs | ({ninth} if agreed.family in ("dominant", "suspended", "minor", "major") else set())
    return len(heard.pcs) >= 3 and heard.pcs <= inside and heard.root.pc != agreed.root.pc


def _two_five(agreed: ChordSymbol, heard: ChordSymbol, key: Key) -> bool:
    for two, five in ((agreed, heard), (heard, agreed)):
        if two.family in ("minor", "half-diminished") and _dominant(five) and _up(two, five) in (5, 11):
            return True
    return False


def _third_apart(agreed: ChordSymbol, heard: ChordSymbol, key: Key) -> bool:
    shared = _core(agreed) & _core(heard)
    return len(shared) >= 3 and _up(agreed, heard) in (3, 4, 8, 9) and not foreign_notes(agreed, heard, key)


def _backdoor(agreed: ChordSymbol, heard: ChordSymbol, key: Key) -> bool:
    """The 5 and the flat 7, by ear: B7 is the flat 7 of D flat, where nobody writes C flat."""
    steps = {(symbol.root.pc - key.tonic.pc) % 12 for symbol in (agreed, heard)}
    return steps == {7, 10} and _dominant(agreed) and _dominant(heard)


def _other_quality(agreed: ChordSymbol, heard: ChordSymbol, key: Key) -> bool:
    return agreed.root.pc == heard.root.pc


_TESTS: tuple[tuple[str, Callable[[ChordSymbol, ChordSymbol, Key], bool]], ...] = (
    ("same", _same),
    ("same-bass-differs", _same_over_other_bass),
    ("plain-triad", _plain_triad),
    ("same-notes", _same_notes),
    ("suspended-slash", _suspended_slash),
    ("suspension", _suspension),
    ("tritone-substitute", _tritone),
    ("rootless-dominant", _rootless),
    ("upper-part", _upper),
    ("two-for-five", _two_five),
    ("third-apart", _third_apart),
    ("backdoor", _backdoor),
    ("other-quality", _other_quality),
)

_DEGREE_ROLES: dict[int, str] = {0: "tonic", 4: "tonic", 9: "tonic", 3: "tonic", 2: "predominant", 5: "predominant",
                                 8: "predominant", 7: "dominant", 11: "dominant"}  # fmt: skip


def _roles(agreed: ChordSymbol, heard: ChordSymbol, key: Key, function: Function | None) -> bool:
    """Whether the heard chord, by its degree, has the role of the agreed one."""
    role = family_of(function.role) if function else _DEGREE_ROLES.get((agreed.root.pc - key.tonic.pc) % 12, "none")
    return role != "none" and _DEGREE_ROLES.get((heard.root.pc - key.tonic.pc) % 12) == role
