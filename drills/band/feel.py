"""How unevenly quavers are played at a tempo.

Measured on recordings and chosen by listeners: the ratio of the long quaver to the short one falls with the tempo, from 3.5
to 1 near 120 crotchets a minute to 1 to 1 at fast tempi; the short note keeps about 100 ms at medium and fast ones (Friberg
and Sundström, "Preferred swing ratio in jazz as a function of tempo", TMH-QPSR 4/1997; "Swing ratios and ensemble timing in
jazz performance", Music Perception 19/3, 2002).
"""

from __future__ import annotations

WIDEST, EVEN = 3.5, 1.0
SHORT_NOTE = 0.1  # seconds


def swing_ratio(tempo: float) -> float:
    """Long to short quaver at a tempo in crotchets a minute.

    >>> [round(swing_ratio(tempo), 2) for tempo in (60, 120, 150, 200, 240, 300, 340)]
    [3.5, 3.5, 3.0, 2.0, 1.5, 1.0, 1.0]
    """
    beat = 60 / tempo
    return min(WIDEST, max(EVEN, beat / SHORT_NOTE - 1))


def swung(time: float, ratio: float) -> float:
    """Where a straight place sounds, in crotchets: beats stay, the half beat moves to the end of the long quaver.

    >>> swung(1.5, 2.0), swung(1.5, 1.0), swung(3.0, 2.0)
    (1.6666666666666665, 1.5, 3.0)
    """
    beat = int(time + 1e-9)
    rest, turn = time - beat, ratio / (1 + ratio)
    return beat + (rest * 2 * turn if rest <= 0.5 else turn + (rest - 0.5) * 2 * (1 - turn))
