"""Twelve invented tunes. Every progression was written for this demo; people, bands and albums do not exist."""

from __future__ import annotations

from tunes.demo.shapes import DemoRecording as Rec
from tunes.demo.shapes import DemoTune, DemoVersion

COBALT = DemoTune(
    "Cobalt Street",
    "I. Verhoeven",
    "F major",
    "12-bar blues",
    "medium swing",
    (112, 160),
    notes="The first tune of every year. Sing the bass line before you play anything.",
    recordings=(
        Rec(
            "Odalys Brandt Quintet",
            "Lamplight Hours",
            1958,
            "F major",
            126,
            "The head, then three choruses of trumpet: the form never stops, and every turn of it is audible.",
            reference=True,
            link="https://listening-room.example/brandt/lamplight-hours",
        ),
        Rec(
            "Tomas Ekwall Trio",
            "Ground Floor",
            1964,
            "Ab major",
            148,
            "Another key, and the plain changes in the head.",
            link="https://listening-room.example/ekwall/ground-floor",
        ),
        Rec(
            "Harbour Lane Six",
            "Six at the Quay",
            1971,
            "F major",
            116,
            "The horns spell out the diminished chord in bar 6.",
            link="https://listening-room.example/harbour-lane/six-at-the-quay",
        ),
    ),
    versions=(
        DemoVersion(
            "as on the reference",
            (
                "key: F major\n\nA:\n| F7 | Bb7 | F7 | Cm7 F7 |\n| Bb7 | Bdim7 | F7 | Am7b5 D7b9 |\n| Gm7 | C7 | F7 D7 | Gm7 C7 |",
            ),
            "by-ear",
            0,
            "Third chorus, by the bass.",
            True,
        ),
        DemoVersion(
            "plain",
            ("key: F major\n\nA:\n| F7 | % | % | % |\n| Bb7 | % | F7 | % |\n| C7 | Bb7 | F7 | C7 |",),
            "by-ear",
            1,
            "The head, moved from A flat.",
            True,
        ),
        DemoVersion(
            "with a walk-down",
            (
                "key: F major\n\nA:\n| F7 | F7/Eb | Bb6/D | Bbm6/Db |\n| Bb7 | A7 | Ab7 | G7 |\n| Gm7 | C7 | F6/A Abdim7 | Gm7 C7 |",
            ),
            "arrangement",
            None,
            "Second ensemble's arrangement of last spring.",
        ),
        DemoVersion(
            "sextet, the diminished chord spelled out",
            (
                "key: F major\n\nA:\n| F7 | Bb7 | F7 | Cm7 F7 |\n| Bb7 | Bdim7 | F7/C | D7b9 |\n| Gm7 | C7 | Am7 D7 | Gm7 C7 |",
            ),
            "by-ear",
            2,
            "The bass walks up through bar 6 to the 5th; the last two bars go round by the 3.",
        ),
    ),
)

LOW_TIDE = DemoTune(
    "Low Tide Ledger",
    "M. Castellan",
    "C minor",
    "12-bar minor blues",
    "slow swing",
    (66, 92),
    recordings=(
        Rec(
            "Ruth Amadi-Hale",
            "Nine Fathoms",
            1961,
            "C minor",
            76,
            "Unhurried; the bass never plays a wrong turn.",
            reference=True,
        ),
        Rec(
            "Ilse Maartens Nonet",
            "Shoreline",
            1982,
            "Bb minor",
            84,
            "Bars 9 and 10 are a semitone away from what you expect.",
            link="https://nonet-archive.example/maartens/shoreline",
        ),
    ),
    versions=(
        DemoVersion(
            "as on the reference",
            (
                "key: C minor\n\nA:\n| Cm7 | Fm7 | Cm7 | C7b9 |\n| Fm7 | % | Cm7 | % |\n| Ab7 | G7b9 | Cm7 | Dm7b5 G7 |",
                "key: C minor\n\nA:\n| Cm7 | Dm7b5 G7b9 | Cm7 | Gm7b5 C7b9 |\n| Fm7 | Bb7 | Cm7 | % |\n| Ab7 | G7b9 | Cm7 Ab7 | Dm7b5 G7b9 |",
            ),
            "by-ear",
            0,
            "Second chorus. Bar 6 was doubtful until we slowed it down.",
            True,
        ),
        DemoVersion(
            "nonet",
            (
                "key: C minor\n\nA:\n| Cm6 | Fm6 | Cm6 | Gm7 C7 |\n| Fm7 | % | Ebmaj7 | Cm6 |\n| Dm7b5 | Db7 | Cm6 | G7#9 |",
            ),
            "by-ear",
            1,
            "Moved from B flat minor.",
        ),
    ),
)

PAPER = DemoTune(
    "Paper Lantern Weather",
    "J. Okonjo-Reyes",
    "Eb major",
    "AABA",
    "medium swing",
    (132, 184),
    has_lyrics=True,
    notes="The bridge steps down through three keys. Know where each one lands before you solo on it.",
    recordings=(
        Rec(
            "Nell Corrigan",
            "Weather Reports Nobody Reads",
            1957,
            "Eb major",
            144,
            "Sung with the words, straight through, so that the form is never in doubt.",
            reference=True,
            link="https://listening-room.example/corrigan/weather-reports",
        ),
        Rec(
            "Petra Lindqvist Quartet",
            "Four Corners",
            1966,
            "Eb major",
            176,
            "The bridge at speed; listen to the guide tones in the piano.",
            link="https://listening-room.example/lindqvist/four-corners",
        ),
        Rec(
            "Bastian Quillby Octet",
            "Eight by Eight",
            1999,
            "G major",
            138,
            "Substitutes in every turnaround.",
            link="https://sound-library.example/quillby/eight-by-eight",
        ),
    ),
    versions=(
        DemoVersion(
            "as on the reference",
            (
                (
                    "key: Eb major\n\nA:\n|: Ebmaj7 | Cm7 F7 | Fm7 Bb7 | Gm7 C7b9 |\n| Fm7 | Abm7 Db7 |1. Gm7 C7 | Fm7 Bb7 :|2. Fm7 Bb7 | Eb6 |\n\n"
                    "B:\n| Cm7 F7 | Bbmaj7 | Bbm7 Eb7 | Abmaj7 |\n| Abm7 Db7 | Gbmaj7 | Fm7 C7 | Fm7 Bb7 |\n\n"
                    "A:\n| Ebmaj7 | Cm7 F7 | Fm7 Bb7 | Gm7 C7b9 |\n| Fm7 | Abm7 Db7 | Fm7 Bb7 | Eb6 |"
                ),
            ),
            "by-ear",
            0,
            "Both vocal choruses agree.",
            True,
        ),
        DemoVersion(
            "quartet, with substitutes",
            (
                (
                    "key: Eb major\n\nA:\n|: Ebmaj7 | Am7b5 D7 | Gm7 Gb7 | Fm7 E7 |\n| Ebmaj7 | Abm7 Db7 |1. Gm7 Gb7 | Fm7 E7 :|2. Fm7 Bb7 | Eb6 |\n\n"
                    "B:\n| Cm7 F7 | Bbmaj7 | Bbm7 A7 | Abmaj7 |\n| Abm7 Db7 | Gbmaj7 | Fm7 | Bb7 |\n\n"
                    "A:\n| Ebmaj7 | Am7b5 D7 | Gm7 Gb7 | Fm7 E7 |\n| Ebmaj7 | Abm7 Db7 | Fm7 Bb7 | Eb6 |"
                ),
            ),
            "by-ear",
            1,
            "Out chorus.",
        ),
        DemoVersion(
            "octet, a substitute in every turnaround",
            (
                (
                    "key: Eb major\n\nA:\n|: Ebmaj7 | Cm7 F7 | Fm7 Bb7 | Gm7 Gb7 |\n| Fm7 | Abm7 Db7 |1. Gm7 Gb7 | Fm7 E7 :|2. Fm7 E7 | Eb6 |\n\n"
                    "B:\n| Cm7 F7 | Bbmaj7 | Bbm7 Eb7 | Abmaj7 |\n| Abm7 Db7 | Gbmaj7 | Fm7 B7 | Fm7 E7 |\n\n"
                    "A:\n| Ebmaj7 | Cm7 F7 | Fm7 Bb7 | Gm7 Gb7 |\n| Fm7 | Abm7 Db7 | Fm7 E7 | Eb6 |"
                ),
            ),
            "by-ear",
            2,
            "First chorus, moved from G.",
        ),
    ),
)

LETTER = DemoTune(
    "The Glassblower's Letter",
    "A. Sunde",
    "Ab major",
    "ABAC",
    "ballad",
    (54, 66),
    has_lyrics=True,
    recordings=(
        Rec(
            "Ferran Ysella",
            "Slow Glass",
            1963,
            "Ab major",
            58,
            "Tenor and piano alone: every inner line can be heard.",
            reference=True,
            link="https://sound-library.example/ysella/slow-glass",
        ),
        Rec(
            "Nell Corrigan",
            "By Return of Post",
            1960,
            "Db major",
            62,
            "With the verse, and with the words.",
            link="https://listening-room.example/corrigan/by-return-of-post",
        ),
    ),
    versions=(
        DemoVersion(
            "as on the reference",
            (
                (
                    "key: Ab major\n\nA:\n| Abmaj7 | Db7#11 | Cm7 | F7b9 |\n| Bbm7 | Dbm7 Gb7 | Cm7 F7b9 | Bbm7 Eb7 |\n\n"
                    "B:\n| Cm7b5 | F7b9 | Bbm7 | Gm7b5 C7b9 |\n| Fm7 | Bb7 | Bbm7 | Eb7sus Eb7 |\n\n"
                    "A:\n| Abmaj7 | Db7#11 | Cm7 | F7b9 |\n| Bbm7 | Dbm7 Gb7 | Cm7 F7b9 | Bbm7 Eb7 |\n\n"
                    "C:\n| Dbmaj7 | Ddim7 | Ab/Eb | F7b9 |\n| Bbm7 | Bbm7/Eb Eb7 | Ab6 | Bbm7 Eb7 |"
                ),
            ),
            "by-ear",
            0,
            "First chorus.",
            True,
        ),
        DemoVersion(
            "printed",
            (
                (
                    "key: Ab major\n\nA:\n| Ab6 | Db7 | Ab6 | F7 |\n| Bbm7 | Dbm6 | Ab6 F7 | Bb7 Eb7 |\n\n"
                    "B:\n| F7 | % | Bbm7 | C7 |\n| Fm7 | Bb7 | Bbm7 | Eb7 |\n\n"
                    "A:\n| Ab6 | Db7 | Ab6 | F7 |\n| Bbm7 | Dbm6 | Ab6 F7 | Bb7 Eb7 |\n\n"
                    "C:\n| Db6 | Ddim7 | Ab6 | F7 |\n| Bbm7 | Eb7 | Ab6 | Bbm7 Eb7 |"
                ),
            ),
            "printed",
            None,
            "A photocopy of unknown age; two bars contradict the recording.",
        ),
        DemoVersion(
            "sung, with the verse",
            (
                (
                    'key: Ab major\npickup: 1\n\nVerse:\n| "freely, voice alone" N.C. |\n'
                    "| Fm | Fm(maj7) | Fm7 | Fm6 |\n| Dbmaj7 | C7sus C7 | Bbm7 | Eb7 |\n\n"
                    'A:\n| "in time" Abmaj7 | Db9 | Ab/C | F7 |\n| Bbm7 | Dbm6 | Ab/C Bdim7 | Bbm7 Eb7 |\n\n'
                    "B:\n| Cm7b5 F7b9 | Bbm7 | Gm7b5 C7b9 | Fm7 |\n| Bb7 | % | Bbm7 | Eb7 |\n\n"
                    "A:\n| Abmaj7 | Db9 | Ab/C | F7 |\n| Bbm7 | Dbm6 | Ab/C Bdim7 | Bbm7 Eb7 |\n\n"
                    "C:\n| Dbmaj7 | Dbm6 | Cm7 | F7 |\n| Bbm7 | Eb7sus Eb7 | Ab6 | % |"
                ),
            ),
            "by-ear",
            1,
            "Moved from D flat. The verse is sung once, before the first chorus.",
        ),
    ),
)

DOORS = DemoTune(
    "Two Doors North",
    "The class of room 12",
    "D minor",
    "16 bars, modal",
    "even eighths",
    (104, 138),
    recordings=(
        Rec(
            "Kwabena Strand Quartet",
            "Threshold",
            1968,
            "D minor",
            120,
            "Four minutes of one colour, and you always know where you are.",
            reference=True,
        ),
        Rec(
            "Odalys Brandt Quintet",
            "Corridors",
            1965,
            "E minor",
            112,
            "A bass ostinato all the way.",
            link="https://listening-room.example/brandt/corridors",
        ),
    ),
    versions=(
        DemoVersion(
            "as on the reference",
            (
                "key: D minor\n\nA:\n| Dm7 | % | % | % |\n| Fm7 | % | % | % |\nB:\n| Ebmaj7#11 | % | Dm7 | % |\n| Gm7/A | % | Dm7 | % |",
            ),
            "by-ear",
            0,
            "",
            True,
        ),
        DemoVersion(
            "with cadences",
            (
                "key: D minor\n\nA:\n| Dm7 | % | % | Gm7 C7 |\n| Fm7 | % | % | Bb7 |\nB:\n| Ebmaj7#11 | % | Dm7 | % |\n| Gm7/A | A7alt | Dm7 | Em7b5 A7 |",
            ),
            "arrangement",
            None,
            "For the jury in December.",
        ),
        DemoVersion(
            "quintet, over the ostinato",
            (
                (
                    "key: D minor\n\nA:\n| Dm7 | Em7/D | Dm7 | Em7/D |\n| Fm7 | Gm7/F | Fm7 | Gm7/F |\n"
                    "B:\n| Ebmaj7#11 | % | Dm7 | Em7/D |\n| Gm7/A | A7sus | Dm7 | Em7/D |"
                ),
            ),
            "by-ear",
            1,
            "Moved from E minor. The bass stays; the two horns move by step above it.",
        ),
    ),
)

FERRY = DemoTune(
    "Winter Ferry",
    "L. Halvorsen-Diaz",
    "G major",
    "ABAC",
    "jazz waltz",
    (138, 168),
    metre="3/4",
    recordings=(
        Rec(
            "Petra Lindqvist Quartet",
            "Timetables",
            1969,
            "G major",
            152,
            "The bass plays two against three in the second chorus: count.",
            reference=True,
            link="https://listening-room.example/lindqvist/timetables",
        ),
        Rec(
            "Ilse Maartens Nonet",
            "Shoreline",
            1982,
            "G major",
            144,
            "Written-out inner voices in the last eight.",
            link="https://nonet-archive.example/maartens/shoreline",
        ),
    ),
    versions=(
        DemoVersion(
            "as on the reference",
            (
                (
                    "key: G major\nmetre: 3/4\n\nA:\n| Gmaj7 | Em7 | Am7 | D7 |\n| Bm7b5 | E7b9 | Am7 | Cm6 |\n\n"
                    "B:\n| Gmaj7/B | Bbdim7 | Am7 | D7 |\n| Bm7 | E7 | A7 | Am7 / D7 |\n\n"
                    "A:\n| Gmaj7 | Em7 | Am7 | D7 |\n| Bm7b5 | E7b9 | Am7 | Cm6 |\n\n"
                    "C:\n| C#m7b5 / F#7 | Bm7 / E7 | Am7 | D7sus / D7 |\n| G6 | C7 | G6 | Am7 / D7 |"
                ),
            ),
            "by-ear",
            0,
            "First chorus after the introduction.",
            True,
        ),
        DemoVersion(
            "nonet",
            (
                (
                    "key: G major\nmetre: 3/4\n\nA:\n| Gmaj7 | % | Am7 | D7 |\n| Bm7 | E7 | Am7 | F7 |\n\n"
                    "B:\n| Bm7 | Bbm7 | Am7 | Ab7 |\n| Gmaj7 | E7 | A7 | D7 |\n\n"
                    "A:\n| Gmaj7 | % | Am7 | D7 |\n| Bm7 | E7 | Am7 | F7 |\n\n"
                    "C:\n| Em7 / A7 | Dm7 / G7 | Cmaj7 | F7 |\n| Bm7 / Bb7 | Am7 / Ab7 | G6 | Am7 / D7 |"
                ),
            ),
            "by-ear",
            1,
        ),
        DemoVersion(
            "octet, the last eight in four",
            (
                (
                    "key: G major\nmetre: 3/4\n\nA:\n| Gmaj7 | Em7 | Am7 | D7 |\n| Bm7b5 | E7b9 | Am7 | Cm6 |\n\n"
                    "B:\n| Gmaj7/B | Bbdim7 | Am7 | D7 |\n| Bm7 | E7 | A7 | Am7 / D7 |\n\n"
                    "A:\n| Gmaj7 | Em7 | Am7 | D7 |\n| Bm7b5 | E7b9 | Am7 | Cm6 |\n\n"
                    'C:\n| <4/4> "in four, swing" C#m7b5 F#7 | Bm7 E7 | Am7 | D7sus D7 |\n'
                    '| G6 | C7 | G6 | 3/4 "back to three" Am7 / D7 |'
                ),
            ),
            "arrangement",
            None,
            "Our own, for the concert in spring. A bar lasts as long in four as in three.",
        ),
    ),
)
