"""From each public function to the checks from outside the project that cover it: python -m tests.published.table

Read from the markers `published(source=..., covers=[...])` of the test files, so that a check names its source and
what it covers in one place. The table stands in README.md beside this file, between two comments.
"""

from __future__ import annotations

import ast
from collections import defaultdict
from pathlib import Path

import colormatch as cm

TESTS = Path(__file__).resolve().parents[1]
README = Path(__file__).with_name("README.md")
BEGIN, END = "<!-- table: made by python -m tests.published.table -->\n", "<!-- end of table -->\n"


def checks() -> list[tuple[str, str, list[str]]]:
    """(test file, source, names covered) of every marker."""
    found = []
    for file in sorted(TESTS.rglob("test_*.py")):
        text = file.read_text(encoding="utf-8")
        for node in ast.walk(ast.parse(text)) if "mark.published" in text else ():
            if isinstance(node, ast.Call) and ast.unparse(node.func) == "pytest.mark.published":
                given = {word.arg: ast.literal_eval(word.value) for word in node.keywords}
                found.append((file.relative_to(TESTS).as_posix(), given["source"], given["covers"]))
    return found


def table() -> str:
    """The table in Markdown: the public names first, then what lies below them."""
    covering = defaultdict(list)
    for file, source, names in checks():
        for name in names:
            covering[name].append(f"{source} (`{file}`)")
    below = sorted(set(covering) - set(cm.__all__))
    rows = ["| function | checked against |", "|---|---|"]
    for name in [*sorted(cm.__all__), *below]:
        rows.append(
            f"| `{name}` | {'; '.join(covering[name]) or 'nothing outside the project; laws and simulations'} |"
        )
    return "\n".join(rows) + "\n"


def with_table(text: str) -> str:
    """A README's text with its table made anew."""
    before, rest = text.split(BEGIN)
    return before + BEGIN + table() + END + rest.split(END)[1]


if __name__ == "__main__":
    README.write_text(with_table(README.read_text(encoding="utf-8")), encoding="utf-8")
