"""The page of figures says what falls short, and README quotes what the page says."""

from pathlib import Path

import pytest

from tests.evaluation.figures import REPORT, Figure, keep, page, quoted, stored

ROOT = Path(__file__).resolve().parents[2]
README, GUIDE = ((ROOT / name).read_text(encoding="utf-8") for name in ("README.md", "DEVELOPERS.md"))


@pytest.mark.parametrize(
    ("value", "target", "short"),
    [
        (0.9, "<= 0.9", False),
        (0.91, "<= 0.9", True),
        (84, "85..95", True),
        (95, "85..95", False),
        (1, ">= 2", True),
        (9, "", False),
    ],
)
def test_a_missed_target_falls_short(value, target, short):
    assert Figure("a.b", "something", value, target=target).short == short


def test_what_falls_short_stands_first(tmp_path):
    good, bad = Figure("a", "good one", 1.0, target="<= 2"), Figure("b", "bad one", 3.0, target="<= 2")
    text = page([good, bad], "a machine")
    assert text.index("bad one") < text.index("good one")
    keep({"a": good, "b": bad}, tmp_path / "kept.json")
    assert stored(tmp_path / "kept.json") == {"a": good, "b": bad}


def test_the_page_is_that_of_the_kept_figures():
    machine = REPORT.read_text(encoding="utf-8").split("Last run on: ")[1].split(".\n")[0]
    assert REPORT.read_text(encoding="utf-8") == page([each for _, each in sorted(stored().items())], machine)


def test_readme_and_guide_quote_the_page():
    figures = stored()
    for printed, key in quoted(README) + quoted(GUIDE):
        decimals = len(printed.partition(".")[2])
        assert f"{figures[key].value:.{decimals}f}" == printed, key


def test_readme_says_of_three_studios_what_the_page_does():
    of = {key: each.value for key, each in stored().items() if key.startswith("job.world-")}
    means, worst = ([value for key, value in of.items() if key.endswith(end)] for end in (".mean", ".worst"))
    assert len(means) == len(worst) == 3
    assert f"three studios | {sum(means) / 3:.1f} on average, {max(worst):.1f} at worst" in README


def test_the_pages_help_says_what_readme_says():
    from colormatch.screens.help import SURE

    for told, quoted_as in (("about 4 off", "| 4<!-- figure: learn.before.mean"),
                            ("about 0.5 off", "| 0.5<!-- figure: photo.chart.mean"),
                            ("wanted shades are about 1.3 off", "1.3<!-- figure: learn.beginner.five"),
                            ("after eight about 1.", "1.0<!-- figure: learn.beginner.eight")):  # fmt: skip
        assert told in " ".join(SURE)
        assert quoted_as in README
