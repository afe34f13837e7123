"""The pictures kept for comparison, all of an invented studio. `python tests/render/pictures.py` writes them anew."""

from collections.abc import Callable
from pathlib import Path

from PIL import Image

from colormatch import Shade
from colormatch.render import piece_picture, recipe_card

FOLDER = Path(__file__).parent / "reference"
CLAY, ASH = (56.0, 18.0, 20.0), (64.0, 1.0, 3.0)


def _state(lab: tuple[float, float, float], darker: float, sd: float = 1.2) -> Shade:
    return Shade((lab[0] - darker, lab[1], lab[2]), sd=sd)


def card() -> Image.Image:
    return recipe_card(
        title="Evening clay no. 4 (invented)",
        target=Shade((55, 18.5, 20.5), sd=0.8),
        predicted={"dry": _state(CLAY, 0), "demould": _state(CLAY, 13, 2.0), "sealed": _state(CLAY, 8)},
        cement=("White cement", 260.0),
        pigments=[("Red iron oxide", 5.2, 0.02), ("Yellow iron oxide", 3.1, 3.1 / 260)],
        water_g=65.0,
        numbers=[("Nearest by the model", "1.1 dE00"), ("To be expected", "2.0 dE00")],
        notes=["Rounding to the scale moves this shade by 0.1 dE00."],
        photo=Image.new("RGB", (300, 200), (150, 110, 90)),
        code="K7QF-22",
        width=900,
    )


PICTURES: dict[str, Callable[[], Image.Image]] = {
    "cup-layered-dry": lambda: piece_picture("cup", "layered", CLAY, ASH, share_two=0.4, seed=3, size=110),
    "bowl-swirled-wet": lambda: piece_picture(
        "bowl", "swirled", (42, 18, 20), (50, 1, 3), state="wet", seed=3, size=110
    ),
    "tray-split-sealed": lambda: piece_picture("tray", "split", CLAY, ASH, state="sealed", seed=3, size=110),
    "tile-speckled-dry": lambda: piece_picture("tile", "speckled", ASH, CLAY, share_two=0.3, seed=3, size=110),
    "card": card,
}


def kept(picture: Image.Image) -> Image.Image:
    """What is kept of a picture: itself, or a half-size one to save room."""
    return picture if picture.width < 150 else picture.reduce(2)


if __name__ == "__main__":
    for name, draw in PICTURES.items():
        kept(draw()).save(FOLDER / f"{name}.png", optimize=True)
