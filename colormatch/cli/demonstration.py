"""The whole main job on the invented demo studio, with the truth beside every number that has one.

The studio is read into a temporary folder that is gone afterwards: neither the maker's library nor the demo
library of the page is touched.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING, cast

import typer

from ..errors import InputError, LibraryError
from . import asking, wording
from .card import card_of, crop

if TYPE_CHECKING:
    from ..library import Library, ShadeRecord, Studio, Swatch
    from ..palette import Palette
    from ..photo import Photo
    from ..recipes import Limits, Recipe
    from ..shade import Shade

TARGET_TAG = "target"
CEMENT_G = 780.0  # one pot of the demo studio, invented


@dataclass(frozen=True, eq=False)
class DemoTarget:
    """One target of the demo studio: its photograph, where the shade is in it, and its true shade."""

    swatch: Swatch
    truth: ShadeRecord
    content: bytes
    file_name: str

    @property
    def region(self) -> asking.Region:
        """Where the shade is, in pixels of the upright picture."""
        return cast("asking.Region", tuple(self.truth.provenance["region"]))

    @property
    def base(self) -> str:
        """The cement the studio would cast it in."""
        return self.swatch.cement_uid or "white-cement"


def run_demo(card: Path, target: int) -> None:
    """Photograph, shade, recipes, states, card: the main job on one target, numbered from 1."""
    from ..library import Studio, open_demo
    from ..recipes import find_recipes
    from ..studio import studio_palette, studio_tiles

    asking.picture_place(card)
    with TemporaryDirectory(ignore_cleanup_errors=True) as temporary, open_demo(Path(temporary)) as library:
        studio = library.get(Studio, "studio")
        wanted = chosen_target(library, target)
        palette, tiles = studio_palette(library), len(studio_tiles(library))
    _say_studio(studio, palette, tiles)
    photo = measured(wanted)
    _say_measured(wanted, photo)
    limits = demo_limits(studio)
    found = find_recipes(palette, photo.shade, base=wanted.base, limits=limits)
    typer.echo(f"\nRecipes on {palette.bases[wanted.base].label.lower()}")
    typer.echo("\n".join(wording.recipes(found, photo.shade, palette, limits)))
    _say_how_near(found[0], photo, wanted)
    picture = card_of(
        found[0], title=f"{wanted.swatch.name}, invented demo studio", photo=crop(wanted.content, wanted.region),
        code=f"target {target}",
    )  # fmt: skip
    asking.save_picture(picture, card)
    typer.echo(f"\nPicture card of recipe 1 written: {card}")


def demo_targets(library: Library) -> list[Swatch]:
    """The demo's target swatches in their order."""
    from ..library import Swatch

    return [swatch for swatch in library.list(Swatch) if TARGET_TAG in swatch.tags]


def chosen_target(library: Library, number: int) -> DemoTarget:
    """Target `number`, from 1; InputError that lists them when there is none of that number."""
    from ..library import Photograph, ShadeRecord

    swatches = demo_targets(library)
    if not 1 <= number <= len(swatches):
        listed = "; ".join(f"{i} {swatch.name}" for i, swatch in enumerate(swatches, start=1))
        raise InputError(f"There is no target {number} in the demo studio. Choose one of: {listed}.")
    swatch = swatches[number - 1]
    for shade in library.list(ShadeRecord, swatch_uid=swatch.uid):
        if shade.photograph_uid and shade.provenance.get("kind") == "computed":
            uid = shade.photograph_uid
            name = library.get(Photograph, uid).file_name
            return DemoTarget(swatch, shade, library.photograph_bytes(uid), name)
    raise LibraryError(f"The demo's target {swatch.name!r} has lost its photograph. Install the tool again.")


def measured(target: DemoTarget) -> Photo:
    """The target's shade from its photograph, by the chart in it."""
    from ..photo import Chart24, measure_photo

    return measure_photo(target.content, region=target.region, reference=Chart24())


def demo_limits(studio: Studio) -> Limits:
    """The demo studio's own cap and scale."""
    from ..recipes import Limits

    kept = studio.settings
    return Limits(load_cap=kept["load_cap"], scale_step_g=kept["scale_step_g"], cement_g=CEMENT_G)


def _say_studio(studio: Studio, palette: Palette, tiles: int) -> None:
    typer.echo(f"{studio.name}: an invented demo studio, nothing in it is real.")
    count = len(palette.pigments)
    typer.echo(f"Palette of {count} pigments, learned from {tiles} measured shades of its tiles and pieces.")


def _say_measured(target: DemoTarget, photo: Photo) -> None:
    typer.echo(f"\nTarget photograph: {target.file_name}, {target.swatch.name}")
    typer.echo("\n".join(wording.measured(photo)))
    typer.echo(f"Truth     {wording.colour(target.truth.shade())}")
    typer.echo("          (computed from the spectra that rendered the photograph; only a demo can know it)")
    typer.echo(f"Measured to truth: dE00 {_delta_e(photo.shade, target.truth.shade()):.2f}")


def _say_how_near(recipe: Recipe, photo: Photo, target: DemoTarget) -> None:
    """The numbers that can be checked, and in plain words which is which."""
    truth, predicted = target.truth.shade(), recipe.predict("dry")
    lines = [
        "",
        "How near is recipe 1 (dry)?",
        f"  dE00 {_delta_e(predicted, photo.shade):.2f}  its predicted shade to the measured one (seen on any job)",
        f"  dE00 {_delta_e(predicted, truth):.2f}  its predicted shade to the truth (only a demo can know it)",
        f"  dE00 {recipe.expected_delta_e:.2f}  to be expected when cast: model, casting, scale and photograph",
    ]
    if not recipe.in_reach:
        lines.append("  Out of reach of these pigments on this cement: recipe 1 is the nearest that can be cast.")
    typer.echo("\n".join(lines))


def _delta_e(one: Shade, other: Shade) -> float:
    from ..difference import delta_e_2000

    return float(delta_e_2000(one.lab, other.lab))
