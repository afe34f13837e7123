"""The public names are a contract; `import colormatch` stays light."""

import subprocess
import sys

import pytest

import colormatch as cm

# The contract: a name leaves this list, or changes its meaning, only with a word in DEVELOPERS.md.
PUBLIC = {
    "CameraProfile",
    "CastList",
    "Chart24",
    "ColormatchError",
    "GreyCard",
    "TileBoard",
    "KnownSwatches",
    "Lamp",
    "Limits",
    "Palette",
    "Recipe",
    "Shade",
    "Tile",
    "check_photo",
    "from_loads",
    "lamp",
    "munsell",
    "read_spectra",
    "to_loads",
    "board_pdf",
    "combine_profiles",
    "delta_e_2000",
    "dry_from_wet",
    "explain_reach",
    "find_recipes",
    "learn",
    "lot_drift",
    "measure_board",
    "measure_photo",
    "measure_regions",
    "correct_next_batch",
    "next_tiles",
    "open_library",
    "proof_picture",
    "reach",
    "read_cast_list",
    "read_tiles",
    "starter_palette",
    "starter_plan",
    "tile_sheet_regions",
    "tiles_for_board",
    "tint_ladder",
}


def test_the_public_names_are_these():
    assert set(cm.__all__) == PUBLIC


@pytest.mark.parametrize("name", sorted(PUBLIC))
def test_every_public_name_is_there_and_explained(name):
    assert getattr(cm, name).__doc__.strip()


def test_an_unknown_name_is_an_attribute_error():
    with pytest.raises(AttributeError, match="No colormatch attribute beetroot"):
        _ = cm.beetroot


def test_importing_the_package_loads_nothing_heavy():
    code = (
        "import sys, colormatch; "
        "heavy = {'numpy', 'scipy', 'PIL', 'colour', 'streamlit', 'sqlalchemy', 'typer', 'reportlab'}; "
        "print(sorted(heavy & set(sys.modules)))"
    )
    out = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert out.stdout.strip() == "[]"
