"""The public names are a contract; `import colormatch` stays light."""

import subprocess
import sys

import pytest

import colormatch as cm


def test_every_public_name_is_there():
    for name in cm.__all__:
        assert getattr(cm, name) is not None


def test_an_unknown_name_is_an_attribute_error():
    with pytest.raises(AttributeError, match="no attribute"):
        _ = cm.beetroot


def test_importing_the_package_loads_nothing_heavy():
    code = (
        "import sys, colormatch; "
        "heavy = {'numpy', 'scipy', 'PIL', 'colour', 'streamlit', 'sqlalchemy', 'typer', 'reportlab'}; "
        "print(sorted(heavy & set(sys.modules)))"
    )
    out = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert out.stdout.strip() == "[]"
