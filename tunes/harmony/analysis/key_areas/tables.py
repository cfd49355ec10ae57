"""What belongs to a key, and what a stretch costs in it: the data of the segmentation into key areas.

Degrees are semitones above the tonic.  Diatonic sevenths: major and the three minors (logical identity, see any
text, e.g. Nettles & Graf, *The Chord Scale Theory and Jazz Harmony*, 1997).  Borrowed chords: modal interchange
as in Mulholland & Hojnacki, *The Berklee Book of Jazz Harmony* (2013), ch. 5.  The costs are ours.
"""

from __future__ import annotations

from functools import lru_cache

from tunes.harmony.analysis.sounds import AUG, DIM, DOM, HALF, MAJ, MIN, SUS

Chord = tuple[int, str]

DIATONIC: dict[str, frozenset[Chord]] = {
    "major": frozenset(
        {(0, MAJ), (2, MIN), (4, MIN), (5, MAJ), (7, DOM), (7, SUS), (7, MAJ), (7, AUG), (9, MIN), (11, HALF)}
    ),
    "minor": frozenset(
        {
            (0, MIN), (2, HALF), (3, MAJ), (3, AUG), (5, MIN), (7, DOM), (7, SUS), (7, MIN), (7, AUG), (8, MAJ),
            (10, DOM), (10, MAJ), (10, SUS), (11, DIM), (5, DOM), (9, HALF), (2, MIN), (11, HALF),
        }
    ),
}  # fmt: skip
"""Triads and sevenths of the key; in minor those of natural, harmonic and ascending melodic minor."""

REST_DEGREES: dict[str, frozenset[Chord]] = {
    "major": frozenset({(0, MAJ), (2, MIN), (4, MIN), (5, MAJ), (7, MAJ), (9, MIN), (5, MIN), (0, MIN)}),
    "minor": frozenset({(0, MIN), (0, MAJ), (3, MAJ), (5, MIN), (7, MIN), (8, MAJ), (10, MAJ)}),
}
"""Chords at rest that a dominant may point at without leaving the key: the targets of V7/ii, V7/IV …"""

LOOSE_REST: dict[str, frozenset[Chord]] = {
    "major": frozenset({(7, MAJ), (5, MIN), (0, MIN)}),
    "minor": frozenset({(0, MAJ), (3, MAJ), (8, MAJ), (10, MAJ)}),
}
"""Those among them that a whole ii–V–I makes into a key of their own (the relative major of a minor key, …)."""

BORROWED: dict[str, frozenset[Chord]] = {
    "major": frozenset(
        {
            (0, MIN), (2, HALF), (3, MAJ), (5, MIN), (7, MIN), (8, MAJ), (10, MAJ), (10, DOM), (1, MAJ), (6, HALF),
            (0, DOM), (5, DOM),
        }
    ),
    "minor": frozenset({(0, MAJ), (1, MAJ), (0, DOM), (4, MIN), (9, MIN), (5, MAJ)}),
}  # fmt: skip
"""Modal interchange, and the dominant-seventh sounds of the blues on 1 and 4."""

COST_BORROWED = 0.3
COST_DOMINANT = 0.3  # any other dominant or diminished chord is read by its goal
COST_STRANGER = 1.0
COST_APPLIED = 0.35  # a dominant (or its ii) that points at another chord of the key
COST_LOOSE_CADENCE = 2.5
COST_FOREIGN = 6.0  # the same, pointing at a chord at rest outside the key
COST_FOREIGN_REST = 3.0  # that chord itself
COST_HOME_LEFT = 1.0  # the home tonic at rest, read in another key
COST_HOME_CADENCE = 2.0  # a whole cadence to the home tonic, or one at the turn of the form, read in another key
COST_HOME_FIFTH = 0.5  # any other dominant that leads to the home tonic, read in another key
COST_ASIDE = 0.3  # a dominant before a passing 2 that is no chord of the key
COST_OTHER_MODE = 4.0  # the tonic held for two bars or more in the other mode
COST_OTHER_MODE_BRIEF = 0.3  # the same, held for less
COST_OTHER_RUN = 0.1  # a dominant or ii whose run ends on another chord than the tonic of the key
COST_LANDED = 0.5  # a ii of more than a bar to which a dominant has led, read otherwise than as 1
COST_GLANCE = 1.0  # at least so much is against a key that is only glanced at
COST_OPENING = 4.0  # the home tonic that opens the chorus, read in another key
COST_SECTION = 6.0  # a minor chord that fills a section, read in a key that does not hold it
COST_SPLIT = 3.0  # a change of key between a dominant, or its ii, and the chord it leads to
COST_TONIC_SOUND = 1.5  # a minor sixth or minor-major seventh chord read as neither 1 nor 4
TONIC_SOUNDS = frozenset({"m6", "mmaj7"})
"""Sounds of a minor tonic or of minor 4 (melodic minor: Mulholland & Hojnacki 2013, ch. 3)."""
COST_SETTLED = 5.0  # a chord that is a centre of its own, read otherwise than as 1
COST_ROUND = 2.5  # the 1 or the 5 of a turnaround 1 6 2 5, read in another key
COST_FIRM = 1.0  # a bar of a major seventh, read where the key has no such chord
COST_PLAGAL = 2.5  # a major chord after its minor 4 with the sixth, read otherwise than as 1
COST_AIM = 0.3  # a bar of a dominant that is left open, read where it points at nothing
COST_HALF_CADENCE = 2.2  # the 5 of home at the end of eight bars, read in another key
COST_CHANGE = 2.0  # entering another key
COST_AWAY = 0.05  # per bar outside the home key
MARGIN_OPEN = 0.5  # a key that costs no more than this beside the chosen one is heard nearly as well
SECTION_BARS = 6.0  # a minor chord held so long fills a section
MOST_BARS = 2.0  # a longer chord does not count for more


@lru_cache(maxsize=1024)
def chord_cost(degree: int, cls: str, mode: str) -> float:
    """What a bar of a chord costs in a key.

    >>> chord_cost(2, "min", "major"), chord_cost(5, "min", "major"), chord_cost(6, "maj", "major")
    (0.0, 0.3, 1.0)
    """
    if (degree, cls) in DIATONIC[mode]:
        return 0.0
    if (degree, cls) in BORROWED[mode]:
        return COST_BORROWED
    return COST_DOMINANT if cls in (DOM, SUS, AUG, DIM) else COST_STRANGER
