"""What a type checker tells somebody who writes a script with `import colormatch as cm`."""

import subprocess
import sys
from pathlib import Path

import pytest

pytest.importorskip("mypy", reason="the type checker is installed with the extra `check`")

CACHE = Path(__file__).resolve().parents[1] / ".mypy_cache"  # that of `mypy`: numpy is not read a second time
SCRIPT = """
import colormatch as cm

palette = cm.starter_palette()
learned, report = cm.learn(palette, [cm.Tile("white-cement", {"red-iron-oxide": 0.02}, cm.Shade((58, 17, 16), sd=0.7))])
recipe = cm.find_recipes(learned, cm.Shade((52, 18, 20)), base="white-cement")[0]
reveal_type(palette)
reveal_type(report.coverage)
reveal_type(recipe.predict("dry"))
reveal_type(cm.measure_photo)
cm.find_recipes(learned, "red", base="white-cement")
cm.beetroot
"""


@pytest.mark.slow
def test_a_script_sees_real_types_and_its_mistakes(tmp_path):
    script = tmp_path / "script.py"
    script.write_text(SCRIPT)
    command = [sys.executable, "-m", "mypy", "--strict", "--cache-dir", str(CACHE), str(script)]
    said = subprocess.run(command, cwd=tmp_path, capture_output=True, text=True, check=False).stdout
    assert 'note: Revealed type is "colormatch.palette.Palette"' in said
    assert 'note: Revealed type is "colormatch.shade.Shade"' in said
    assert 'note: Revealed type is "def (' in said
    assert 'to "find_recipes" has incompatible type "str"; expected "Sequence[Shade]"' in said
    assert 'Module has no attribute "beetroot"' in said
    assert "Found 2 errors" in said
