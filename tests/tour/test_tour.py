"""The tour runs as it stands."""

import runpy
from pathlib import Path

import pytest

pytest.importorskip("colour")
pytest.importorskip("pandas")


@pytest.mark.filterwarnings("ignore::colour.utilities.ColourRuntimeWarning")  # colour-science aligns a spectrum
def test_the_tour_runs(capsys):
    runpy.run_path(str(Path(__file__).with_name("tour.py")))
    said = capsys.readouterr().out
    assert "before any tile: Shade(" in said
    assert "100 targets" in said
    assert "metamerism index" in said
