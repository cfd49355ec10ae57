"""The other half of the demo's invented tunes."""

from __future__ import annotations

from tunes.demo.repertoire import COBALT, DOORS, FERRY, LETTER, LOW_TIDE, PAPER
from tunes.demo.shapes import DemoIdiom, DemoTune, DemoVersion
from tunes.demo.shapes import DemoRecording as Rec

RIVERS = DemoTune(
    "Three Rivers Meet",
    "S. Achterberg",
    "F major",
    "16 bars",
    "up swing",
    (160, 220),
    notes="Three keys a major third apart. Do not chase the chords: aim for the thirds on the downbeats.",
    recordings=(
        Rec(
            "Tomas Ekwall Trio",
            "Confluence",
            1967,
            "F major",
            184,
            "The piano plays the keys in rootless thirds before the head.",
            reference=True,
        ),
        Rec(
            "Bastian Quillby Octet",
            "Watershed",
            2003,
            "Eb major",
            200,
            "Backgrounds on the last eight make the turns plain.",
            link="https://sound-library.example/quillby/watershed",
        ),
    ),
    versions=(
        DemoVersion(
            "as on the reference",
            (
                (
                    "key: F major\n\nA:\n| Fmaj7 | Ebm7 Ab7 | Dbmaj7 | Bm7 E7 |\n| Amaj7 | Gm7 C7 | Fmaj7 | % |\n"
                    "B:\n| Bbmaj7 | Am7 Ab7 | Gm7 | C7 |\n| Amaj7 C7 | Fmaj7 Ab7 | Dbmaj7 | Gm7 C7 |"
                ),
            ),
            "by-ear",
            0,
            "Head and last chorus agree.",
            True,
        ),
        DemoVersion(
            "for a first reading",
            (
                (
                    "key: F major\n\nA:\n| Fmaj7 | Ab7 | Dbmaj7 | E7 |\n| Amaj7 | C7 | Fmaj7 | % |\n"
                    "B:\n| Bbmaj7 | Am7 D7 | Gm7 | C7 |\n| Fmaj7 | Dm7 | Gm7 | C7 |"
                ),
            ),
            "arrangement",
            None,
            "Without the related iis, for the third ensemble.",
        ),
        DemoVersion(
            "octet, the turns plain",
            (
                (
                    "key: F major\n\nA:\n| Fmaj7 | Ebm7 Ab7 | Dbmaj7 | Bm7 E7 |\n| Amaj7 | Gm7 C7 | Fmaj7 | % |\n"
                    "B:\n| Bbmaj7 | Am7 D7 | Gm7 | C7 |\n| Amaj7 | C7 | Dbmaj7 | C7 |"
                ),
            ),
            "by-ear",
            1,
            "Moved from E flat. The backgrounds of the last eight: no substitute in bar 10, no 2 before the last 5.",
        ),
    ),
)

AWNING = DemoTune(
    "Salt on the Awning",
    "C. Belmonte-Ruiz",
    "D minor",
    "AB, 32 bars",
    "bossa",
    (118, 140),
    has_lyrics=True,
    recordings=(
        Rec(
            "Inácia Vale",
            "Afternoon, Facing the Sea",
            1965,
            "D minor",
            126,
            "Guitar and voice; nothing hides the line in the middle of the chords.",
            reference=True,
            link="https://sound-library.example/vale/afternoon",
        ),
        Rec("Harbour Lane Six", "Second Sailing", 1974, "C minor", 132, "With a tag of four bars at the end."),
    ),
    versions=(
        DemoVersion(
            "as on the reference",
            (
                (
                    "key: D minor\n\nA:\n| Dm7 | % | E7/D | % |\n| Em7b5 | A7b9 | Dm7 | % |\n| Dm(maj7) | Dm7 | Bm7b5 | E7b9 |\n| Am7 | D7 | Gm7 | C7 |\n"
                    "B:\n| Fmaj7 | % | Bbmaj7 | % |\n| Em7b5 | A7b9 | Dm7 | D7b9 |\n| Gm7 | C7 | Fmaj7 | Bbmaj7 |\n| Em7b5 | A7b9 | Dm6 | Em7b5 A7b9 |"
                ),
            ),
            "by-ear",
            0,
            "Sung chorus.",
            True,
        ),
        DemoVersion(
            "six-piece, moved",
            (
                (
                    "key: D minor\n\nA:\n| Dm6 | % | Em7b5 | A7 |\n| Dm6 | % | Cm7 | F7 |\n| Bbmaj7 | % | E7 | % |\n| Am7 | Ab7 | Gm7 | Gb7 |\n"
                    "B:\n| Fmaj7 | % | Bbmaj7 | % |\n| Em7b5 | A7b9 | Dm7 | Db7 |\n| Gm7 | C7 | Fmaj7 | Bb7 |\n| Em7b5 | A7 | Dm6 | A7 |\n\n"
                    "Tag:\n| Bbmaj7 | Em7b5 A7b9 | Dm6 | % |"
                ),
            ),
            "by-ear",
            1,
            "Moved from C minor. The tag is for the last chorus only.",
        ),
    ),
)

PARADE = DemoTune(
    "The Long Parade",
    "H. Nakagawa-Flynn",
    "F major",
    "AABA, 64 bars",
    "fast swing",
    (220, 280),
    notes="Sixty-four bars. Play the form with the eyes shut before you play it fast.",
    recordings=(
        Rec(
            "Kwabena Strand Quartet",
            "Processional",
            1970,
            "F major",
            248,
            "Drums mark every sixteen bars.",
            reference=True,
            link="https://listening-room.example/strand/processional",
        ),
        Rec(
            "Odalys Brandt Quintet",
            "Lamplight Hours",
            1958,
            "F major",
            232,
            "Slower, and the bridge is plainer.",
            link="https://listening-room.example/brandt/lamplight-hours",
        ),
    ),
    versions=(
        DemoVersion(
            "as on the reference",
            (
                (
                    "key: F major\n\nA:\n|: F6 | % | Ebmaj7 | % | Dm7 | G7 | Gm7 | C7 |\n| Am7b5 | D7b9 | Gm7 | Bbm7 Eb7 |1. Am7 | D7 | Gm7 | C7 :|2. Gm7 | C7 | F6 | % |\n\n"
                    "B:\n| Bbm7 | Eb7 | Abmaj7 | % | C#m7 | F#7 | Bmaj7 | % |\n| Em7 | A7 | Dmaj7 | % | Gm7 | % | C7 | % |\n\n"
                    "A:\n| F6 | % | Ebmaj7 | % | Dm7 | G7 | Gm7 | C7 |\n| Am7b5 | D7b9 | Gm7 | Bbm7 Eb7 | Gm7 | C7 | F6 | % |"
                ),
            ),
            "by-ear",
            0,
            "",
            True,
        ),
        DemoVersion(
            "slower take, plainer bridge",
            (
                (
                    "key: F major\n\nA:\n|: F6 | % | Ebmaj7 | % | Dm7 | G7 | C7 | % |\n| D7 | % | Gm7 | Bbm6 |1. F6 | D7 | Gm7 | C7 :|2. C7 | % | F6 | % |\n\n"
                    'B:\n| Eb7 | % | Abmaj7 | % | F#7 | % | Bmaj7 | % |\n| A7 | % | Dmaj7 | % | Gm7 | C7 | "drums alone" N.C. | N.C. |\n\n'
                    "A:\n| F6 | % | Ebmaj7 | % | Dm7 | G7 | C7 | % |\n| D7 | % | Gm7 | Bbm6 | C7 | % | F6 | % |"
                ),
            ),
            "by-ear",
            1,
            "Head out. The band stops for the last two bars of the bridge.",
        ),
    ),
)

ALMANAC = DemoTune(
    "Side Street Almanac",
    "E. Prudhomme-Lee",
    "C major",
    "AABA",
    "medium swing",
    (120, 168),
    notes="Everything here could be said more plainly. First find the plain version, then enjoy this one.",
    recordings=(
        Rec(
            "Bastian Quillby Octet",
            "Eight by Eight",
            1999,
            "C major",
            136,
            "The bass line in the last A tells you which substitutes are meant.",
            reference=True,
            link="https://sound-library.example/quillby/eight-by-eight",
        ),
        Rec(
            "Ferran Ysella",
            "Unposted",
            1972,
            "Bb major",
            124,
            "Plays the plain changes first, then these.",
            link="https://sound-library.example/ysella/unposted",
        ),
    ),
    versions=(
        DemoVersion(
            "as on the reference",
            (
                (
                    "key: C major\n\nA:\n|: Cmaj7 | Fm7 Bb7 | Cmaj7 | Em7 Eb7 |\n| Dm7 | Db7 |1. Cmaj7 Eb7 | Abmaj7 Db7 :|2. Cmaj7 | % |\n\n"
                    "B:\n| Gm7 | Gb7 | Fmaj7 | Bb7 |\n| Cmaj7/E | Ebdim7 | D7 | Ab7 G7 |\n\n"
                    "A:\n| Cmaj7 | Fm7 Bb7 | Cmaj7 | Em7 Eb7 |\n| Dm7 | Db7 | Cmaj7 | % |"
                ),
            ),
            "by-ear",
            0,
            "",
            True,
        ),
        DemoVersion(
            "the plain changes",
            (
                (
                    "key: C major\n\nA:\n|: Cmaj7 | G7 | Cmaj7 | Em7 A7 |\n| Dm7 | G7 |1. Cmaj7 A7 | Dm7 G7 :|2. Cmaj7 | % |\n\n"
                    "B:\n| Gm7 | C7 | Fmaj7 | Bb7 |\n| Cmaj7 | A7 | D7 | G7 |\n\n"
                    "A:\n| Cmaj7 | G7 | Cmaj7 | Em7 A7 |\n| Dm7 | G7 | Cmaj7 | % |"
                ),
            ),
            "by-ear",
            1,
            "First chorus, moved from B flat.",
            True,
        ),
        DemoVersion(
            "octet, out chorus with the coda",
            (
                (
                    "key: C major\n\nA:\n|: segno Cmaj7 | Fm7 Bb7 | Cmaj7 | Em7 Eb7 |\n| Dm7 | Db7 |1. Cmaj7 Eb7 | Abmaj7 Db7 :|2. Cmaj7 | Cmaj7 to coda |\n\n"
                    "B:\n| Gm7 | C7 | Fmaj7 | Bb7 |\n| Em7 | Ebdim7 | Dm7 | G7 D.S. al coda |\n\n"
                    'Coda:\n| Em7 A7 | Dm7 Db7 | Em7 Eb7 | Dm7 Db7 |\n| "drums fill" Cmaj7 | Cmaj7 ||'
                ),
            ),
            "by-ear",
            0,
            "Last chorus. The bridge is plain here, and the coda says the turnaround twice.",
        ),
    ),
)

STAIRS = DemoTune(
    "Counting the Stairs",
    "B. Mwangi-Soder",
    "Bb major",
    "16 bars",
    "medium bounce",
    (108, 144),
    recordings=(
        Rec(
            "Harbour Lane Six",
            "Six at the Quay",
            1971,
            "Bb major",
            120,
            "Tuba: every diminished chord is a step of the bass.",
            reference=True,
            link="https://listening-room.example/harbour-lane/six-at-the-quay",
        ),
        Rec(
            "Ruth Amadi-Hale",
            "Uptown, Walking",
            1959,
            "Db major",
            132,
            "Solo piano.",
            link="https://listening-room.example/amadi-hale/uptown",
        ),
    ),
    versions=(
        DemoVersion(
            "as on the reference",
            (
                (
                    "key: Bb major\n\nA:\n| Bb6 Bdim7 | Cm7 C#dim7 | Dm7 Dbdim7 | Cm7 F7 |\n| Bb7/D | Eb6 Edim7 | Bb6/F G7b9 | Cm7 F7 |\n"
                    "B:\n| D7 | G7 | Cm7 | Ebm6 |\n| Bb6/D Dbdim7 | Cm7 F7 | Bb6 Bbdim7 | Bb6 |"
                ),
            ),
            "by-ear",
            0,
            "",
            True,
        ),
        DemoVersion(
            "with dominants instead",
            (
                (
                    "key: Bb major\n\nA:\n| Bb6 G7 | Cm7 A7 | Dm7 G7 | Cm7 F7 |\n| Bb7 | Eb6 Ebm6 | Bb6 G7 | C7 F7 |\n"
                    "B:\n| D7 | G7 | C7 | F7 |\n| Bb6 G7 | Cm7 F7 | Bb6 | % |"
                ),
            ),
            "printed",
            None,
            "From the folder in room 4.",
        ),
        DemoVersion(
            "piano alone, in stop time",
            (
                (
                    "key: Bb major\n\nA:\n| Bb6 | Cm7 C#dim7 | Dm7 G7 | Cm7 F7 |\n| Fm7 Bb7 | Eb6 Edim7 | Bb6/F G7b9 | Cm7 F7 |\n"
                    'B:\n| "stop time" D7 N.C. | G7 N.C. | "in time" Cm7 | Ebm6 Ab7 |\n| Bb6/D Dbdim7 | Cm7 F7 | Bb6 Eb7 | Bb6 |'
                ),
            ),
            "by-ear",
            1,
            "Moved from D flat. Second chorus.",
        ),
    ),
)

REHEARSAL = DemoTune(
    "Rehearsal Letter J",
    "D. Fontanelle",
    "Bb major",
    "AABA",
    "up swing",
    (180, 240),
    recordings=(
        Rec(
            "Petra Lindqvist Quartet",
            "Four Corners",
            1966,
            "Bb major",
            208,
            "Head twice, bridge open: learn it from the bass.",
            reference=True,
            link="https://listening-room.example/lindqvist/four-corners",
        ),
        Rec(
            "Tomas Ekwall Trio",
            "Ground Floor",
            1964,
            "Bb major",
            224,
            "The last A goes another way every chorus.",
            link="https://listening-room.example/ekwall/ground-floor",
        ),
        Rec(
            "Bastian Quillby Octet",
            "Watershed",
            2003,
            "Ab major",
            196,
            "Substitutes in the bridge.",
            link="https://sound-library.example/quillby/watershed",
        ),
    ),
    versions=(
        DemoVersion(
            "as on the reference",
            (
                (
                    "key: Bb major\n\nA:\n|: Bb6 G7 | Cm7 F7 | Dm7 G7 | Cm7 F7 |\n| Fm7 Bb7 | Eb6 Edim7 |1. Bb6/F G7 | Cm7 F7 :|2. Cm7 F7 | Bb6 |\n\n"
                    "B:\n| D7 | % | G7 | % |\n| C7 | % | F7 | % |\n\n"
                    "A:\n| Bb6 G7 | Cm7 F7 | Dm7 G7 | Cm7 F7 |\n| Fm7 Bb7 | Eb6 Edim7 | Cm7 F7 | Bb6 |"
                ),
            ),
            "by-ear",
            0,
            "",
            True,
        ),
        DemoVersion(
            "octet, bridge with substitutes",
            (
                (
                    "key: Bb major\n\nA:\n|: Bb6 Bdim7 | Cm7 C#dim7 | Dm7 Db7 | Cm7 B7 |\n| Bb7 | Ebmaj7 Ab7 |1. Dm7 G7 | Cm7 F7 :|2. Cm7 F7 | Bb6 |\n\n"
                    "B:\n| Am7 D7 | Ab7 | Dm7 G7 | Db7 |\n| Gm7 C7 | Gb7 | Cm7 F7 | B7 |\n\n"
                    "A:\n| Bb6 Bdim7 | Cm7 C#dim7 | Dm7 Db7 | Cm7 B7 |\n| Bb7 | Ebmaj7 Ab7 | Cm7 F7 | Bb6 |"
                ),
            ),
            "by-ear",
            2,
            "Moved from A flat.",
            True,
        ),
        DemoVersion(
            "two chords to the bar, late take",
            (
                (
                    "key: Bb major\n\nA:\n|: Bb6 Gm7 | Cm7 F7 | Bb6 Gm7 | Cm7 F7 |\n| Bb7 | Eb7 Ab7 |1. Bb6 G7 | C7 F7 :|2. F7 | Bb6 |\n\n"
                    "B:\n| D7 | % | G7 | % |\n| C7 | % | Cm7 | F7 |\n\n"
                    "A:\n| Bb6 Gm7 | Cm7 F7 | Bb6 Gm7 | Cm7 F7 |\n| Bb7 | Eb7 Ab7 | F7 | Bb6 |"
                ),
            ),
            "by-ear",
            1,
            "Last chorus; the drums cover bar 6.",
        ),
    ),
)

TUNES = (COBALT, LOW_TIDE, PAPER, LETTER, DOORS, FERRY, RIVERS, AWNING, PARADE, ALMANAC, STAIRS, REHEARSAL)

IDIOMS = (
    DemoIdiom("Sunday ending", "2min|2half 5dom 1", "The shortest way home. We sing it before every rehearsal."),
    DemoIdiom("side door", "(4min) b7dom 1", "Comes in from the side, a tone below."),
    DemoIdiom("half-step drop", "b2dom 1", "The bass slides down one fret."),
    DemoIdiom("the usual turn", "1|3min 6dom 2min 5dom|b2dom", "Four chords that bring you back to where you got on."),
    DemoIdiom("rising bass", "4 #4dim 1", "The bass goes up in half steps under the fourth and lands under home."),
)
