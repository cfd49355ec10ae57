"""The analysis on its way out: numerals in MusicXML 4.0, and plain text."""

from __future__ import annotations

from tests.tunes import musicxml_schema
from tunes.harmony.analysis.pipeline import analyse
from tunes.harmony.charts import parse_chart
from tunes.interchange import Extras, write_musicxml, write_plain


def test_the_analysis_goes_out_as_numerals() -> None:
    chart = parse_chart("key: C major\n| Dm7 | G7 | Cmaj7 | % |").chart
    assert chart is not None
    out = write_musicxml(chart, Extras(analysis=analyse(chart)))
    assert musicxml_schema.faults(out) == []
    for numeral in ("ii7", "V7", "Imaj7"):
        assert f'text="{numeral}"'.encode() in out
    assert out.count(b"<numeral-fifths>0<") == 4


def test_plain_text() -> None:
    chart = parse_chart("key: C major\n| Dm7 G7 | Cmaj7 |").chart
    assert chart is not None
    text = write_plain(chart, analyse(chart), title="A tune", composer="Somebody")
    assert text.splitlines()[:2] == ["A tune", "by Somebody"]
    assert "| Dm7 G7 | Cmaj7 |" in text
    assert "ii7  (2)  in C major" in text
