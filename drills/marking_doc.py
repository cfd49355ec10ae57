"""The marking table as a page of the documentation; a test keeps `docs/marking.md` in step with the code."""

from __future__ import annotations

from collections import defaultdict

from drills.kinds import question_kind
from drills.marking_rules import ALTERNATIVE_POINTS, ANY, marking_rules
from drills.question_kind import MarkingRule


def marking_tables() -> str:
    """Every rule once, under the first kind of question that can meet it, as Markdown."""
    headed: dict[str, list[MarkingRule]] = defaultdict(list)
    for rule in marking_rules().values():
        first = rule.kinds[0]
        headed["Any question" if first == ANY else question_kind(first).table.heading].append(rule)
    parts: list[str] = []
    for heading, rules in headed.items():
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
