"""The marking table as a page of the documentation; a test keeps `docs/marking.md` in step with the code."""

from __future__ import annotations

from drills.marking_rules import ALTERNATIVE_POINTS, MARKING_RULES, MarkingRule

HEADINGS: tuple[tuple[tuple[str, ...], str], ...] = (
    (("function",), "Function of a chord"),
    (("form",), "Form"),
    (("key-areas",), "Key areas"),
    (
        ("chord-tones", "nearest", "guide-line", "scale"),
        "Chord tones, 3rds and 7ths, nearest note, guide-tone line, scale",
    ),
    (("changes",), "Changes by ear"),
    (("solo-notes",), "What each note of a solo is"),
    (("all",), "Any question"),
)


def marking_tables() -> str:
    """Every rule once, under the first kind of question that it belongs to, as Markdown."""
    parts: list[str] = []
    done: set[str] = set()
    for kinds, heading in HEADINGS:
        rules = [rule for rule in MARKING_RULES.values() if set(kinds) & set(rule.kinds) and rule.id not in done]
        if not rules:
            continue
        done |= {rule.id for rule in rules}
        parts.append(
            f"### {heading}\n\n| Rule | What it means | Numerals only | With quality | Example |\n|---|---|---|---|---|"
        )
        parts.extend(_row(rule) for rule in rules)
        parts.append("")
    return "\n".join(parts)


def _row(rule: MarkingRule) -> str:
    points = (f"{value:g}" for value in (rule.points, rule.strict_points))
    allowed = ", ".join(f"{name} {value:g}" for name, value in ALTERNATIVE_POINTS.items())
    shown = [allowed] * 2 if rule.id == "alternative" else list(points)
    return f"| {rule.name} | {rule.sentence} | {shown[0]} | {shown[1]} | {rule.example} |"
