"""The PDF: every sign of a chord is in the page, all of it in one typeface that the file carries along."""

from __future__ import annotations

import re

import pypdfium2

from drills.printing import Booklet, PrintedSheet, to_pdf
from tunes.harmony.charts import parse_chart

SYMBOLS = "key: Eb major\n\nA:\n| Ebmaj7 | Bbm7b5 | F#dim7 | G7(b9,#11)/B |"


def test_the_pdf_depends_on_no_font_of_the_machine() -> None:
    chart = parse_chart(SYMBOLS).chart
    assert chart is not None
    pdf = to_pdf(Booklet("Signs", (PrintedSheet("♭ ♯ ♮ ° ø △ →", "in one face", chart=chart),)))
    faces = {name.decode() for name in re.findall(rb"/BaseFont\s*/[A-Z]{6}\+([A-Za-z]+)", pdf)}
    assert faces == {"LibertinusSerif"}
    assert len(re.findall(rb"/FontFile[23]?\s", pdf)) >= len(faces)  # carried along, not named only
    text = pypdfium2.PdfDocument(pdf)[0].get_textpage().get_text_bounded()
    for sign in "♭♯♮°ø△→":
        assert sign in text, sign
