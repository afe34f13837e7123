"""The picture card of one recipe, filled in from a Recipe."""

from __future__ import annotations

import io
from typing import TYPE_CHECKING

from ..states import STATES

if TYPE_CHECKING:
    from PIL.Image import Image

    from ..recipes import Recipe

_AROUND = 0.9  # how much of the photograph is shown around the marked region, as a share of it


def card_of(recipe: Recipe, *, title: str, photo: Image | None = None, code: str = "") -> Image:
    """A recipe card: target, predicted shades, grams, how sure that is, cautions. code: small, top right."""
    from ..bench.batch import FIRST_WATER, WATER_PER_CEMENT
    from ..render import recipe_card

    palette, weighed = recipe.palette, recipe.preblended
    (cement, cement_g), *doses = weighed.weighing(palette.label)
    loads = sorted(weighed.loads.values(), reverse=True)  # in the order of weighing
    return recipe_card(
        title=title,
        target=recipe.target,
        predicted={state: recipe.predict(state) for state in STATES},
        cement=(cement, cement_g),
        pigments=[(what, grams, load) for (what, grams), load in zip(doses, loads, strict=True)],
        water_g=round(FIRST_WATER * WATER_PER_CEMENT * recipe.cement_g),
        numbers=[
            ("Pigment in all, % of the cement", f"{recipe.total_load:.2%}"),
            *([] if recipe.drowned else [("dE00 to the target, by the model", f"{recipe.delta_e:.1f}")]),
            ("dE00 off on average when cast", f"{recipe.expected_delta_e:.1f}"),
            ("dE00 likely under", f"{recipe.likely_delta_e:.1f}"),
            ("dE00 if one dose is 5 % over", f"{recipe.slip_delta_e:.1f}"),
            ("Its own change from daylight to lamplight", f"{recipe.inconstancy:.1f}"),
            ("(not a miss of the match)", ""),
        ],
        notes=(recipe.verdict, *recipe.cautions),
        photo=photo,
        code=code,
    )


def crop(content: bytes, region: tuple[float, float, float, float]) -> Image:
    """The marked region of a photograph (pixels of the upright picture) and a little around it."""
    from PIL import Image, ImageOps

    x0, y0, x1, y1 = region
    dx, dy = _AROUND * (x1 - x0), _AROUND * (y1 - y0)
    with Image.open(io.BytesIO(content)) as picture:
        upright = ImageOps.exif_transpose(picture)
        return upright.crop((round(x0 - dx), round(y0 - dy), round(x1 + dx), round(y1 + dy)))
