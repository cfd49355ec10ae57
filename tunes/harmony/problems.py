"""One shape for everything that a reader of text could not make sense of.

A reader never raises on bad text and never throws text away: it returns what it could read *and* the
problems, each saying where it is and what to type instead.
"""

from __future__ import annotations

from dataclasses import dataclass, replace


@dataclass(frozen=True, slots=True)
class Problem:
    """Something in a text that could not be read.

    message     one plain sentence: what is wrong.
    suggestion  what to type instead of text[start:end] ("" when there is nothing better to offer).
    start, end  character offsets in the text that was read, end exclusive. In a chart the suggestion replaces exactly
                this stretch; in a single field (a chord, an answer) it replaces the whole field.
    line        line number from 1, or 0 when the text is a single field.
    bar         bar number as printed (a pickup bar is 0), or -1 when the problem is not at a bar.
    removes     the advice is to delete text[start:end].
    """

    message: str
    suggestion: str = ""
    start: int = 0
    end: int = 0
    line: int = 0
    bar: int = -1
    removes: bool = False

    def mended(self, text: str) -> str | None:
        """The chart text with the advice taken; None when there is no advice.

        >>> Problem("small root", "Cm7", 2, 5).mended("| cm7 |"), Problem("no chord", "", 4, 5, removes=True).mended("| C & |")
        ('| Cm7 |', '| C  |')
        """
        if not self.suggestion and not self.removes:
            return None
        return text[: self.start] + self.suggestion + text[self.end :]

    def at(self, *, offset: int = 0, line: int | None = None, bar: int | None = None) -> Problem:
        """The same problem seen from the text that surrounds it.

        >>> Problem("no such chord", "C7", 0, 2).at(offset=10, line=3, bar=5)
        Problem(message='no such chord', suggestion='C7', start=10, end=12, line=3, bar=5, removes=False)
        """
        return replace(
            self,
            start=self.start + offset,
            end=self.end + offset,
            line=self.line if line is None else line,
            bar=self.bar if bar is None else bar,
        )

    @property
    def text(self) -> str:
        """Message and advice as one line for a page or a log."""
        if self.removes:
            return f"{self.message} Delete it."
        return f"{self.message} Type {self.suggestion} instead." if self.suggestion else self.message
