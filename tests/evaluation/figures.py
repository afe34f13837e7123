"""A figure, whether it meets its target, and the page of all of them.

A test that measures something keeps it with the fixture `figure`; `python -m tests.evaluation` runs such tests and
writes `report.md` beside this file. A figure not measured this time stays, with the date it was measured on.
"""

from __future__ import annotations

import json
import operator
import re
from dataclasses import asdict, dataclass, replace
from pathlib import Path

STORE = Path(__file__).with_name("figures.json")
REPORT = Path(__file__).with_name("report.md")
_COMPARE = {"<=": operator.le, ">=": operator.ge}


@dataclass(frozen=True, slots=True)
class Figure:
    """One measured number.

    key: its name in README's comments, such as `photo.chart.mean`. target: such as `<= 0.9`, `>= 85`, `85..95`; empty:
    none was set. beside: what it is compared with in the same run, in words with its number.
    """

    key: str
    what: str
    value: float
    unit: str = ""
    target: str = ""
    beside: str = ""
    test: str = ""
    on: str = ""

    @property
    def short(self) -> bool:
        """Whether it misses its target."""
        if not self.target:
            return False
        if ".." in self.target:
            low, high = (float(part) for part in self.target.split(".."))
            return not low <= self.value <= high
        sign, limit = self.target.split()
        return not _COMPARE[sign](self.value, float(limit))

    def measured_on(self, day: str) -> Figure:
        """The same with its date."""
        return replace(self, on=day)


def stored(file: Path = STORE) -> dict[str, Figure]:
    """The figures of a file, by key; none where there is no file."""
    if not file.exists():
        return {}
    return {row["key"]: Figure(**row) for row in json.loads(file.read_text(encoding="utf-8"))["figures"]}


def keep(figures: dict[str, Figure], file: Path = STORE) -> None:
    """Write figures to a file, in the order of their keys."""
    rows = {"figures": [asdict(figures[key]) for key in sorted(figures)]}
    file.write_text(json.dumps(rows, indent=1, ensure_ascii=False) + "\n", encoding="utf-8")


def store(figures: dict[str, Figure], machine: str) -> None:
    """Write the figures and the page made of them."""
    keep(figures)
    REPORT.write_text(page([figures[key] for key in sorted(figures)], machine), encoding="utf-8")


def page(figures: list[Figure], machine: str) -> str:
    """The page in Markdown, what falls short first."""
    short = [each for each in figures if each.short]
    lines = [
        "# Figures",
        "",
        "Made by `python -m tests.evaluation`; each row names the test that measures it. Simulated studios and",
        "photographs unless a row says otherwise: nothing has been measured on real cement. The checks against",
        "published sources, function by function, stand in [tests/published/README.md](../published/README.md).",
        "",
        f"Last run on: {machine}.",
    ]
    for title, rows in (("Falls short of its target", short), ("All figures", figures)):
        lines += ["", f"## {title}", ""]
        lines += _table(rows) if rows else ["Nothing."]
    return "\n".join(lines) + "\n"


def _table(figures: list[Figure]) -> list[str]:
    head = ["| what | figure | target | beside it | measured by | on |", "|---|---|---|---|---|---|"]
    return head + [
        f"| {each.what} | {each.value:.4g} {each.unit} | {each.target} | {each.beside} | `{each.test}` | {each.on} |"
        for each in figures
    ]


def quoted(text: str) -> list[tuple[str, str]]:
    """(number as printed, key) of every figure that a README quotes: a number, then `<!-- figure: key -->`."""
    return re.findall(r"([\d.]+)(?:\s*%)?\s*<!-- figure: ([\w.-]+) -->", text)
