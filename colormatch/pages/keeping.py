"""What a page keeps in the library: recipes as swatches, measured shades, photographs."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date

from colormatch.errors import InputError
from colormatch.library import Cement, PigmentRecord, RecipeRecord, ShadeRecord, Swatch, new_uid
from colormatch.pages.state import Upload, Wanted
from colormatch.pages.studios import library, palette
from colormatch.palette import Palette
from colormatch.recipes import Recipe
from colormatch.shade import Shade
from colormatch.studio import MEASURED

PREDICTED = "predicted"  # provenance["kind"] of a shade that nobody has measured yet


def tags_of(text: str) -> tuple[str, ...]:
    """Tags parted by commas."""
    return tuple(dict.fromkeys(part.strip() for part in text.split(",") if part.strip()))


def record_of(recipe: Recipe, name: str, wanted: Shade) -> RecipeRecord:
    """A recipe as the library keeps it, its materials put on the shelf."""
    shelve(recipe.base, recipe.loads)
    return RecipeRecord(
        uid=new_uid(),
        name=name,
        cement_uid=recipe.base,
        loads=dict(recipe.loads),
        wanted_lab=_lab(wanted),
        wanted_covariance=tuple(tuple(float(x) for x in row) for row in wanted.covariance),
        outcome={
            "delta_e": round(recipe.delta_e, 3),
            "expected_delta_e": round(recipe.expected_delta_e, 3),
            "cement_g": recipe.cement_g,
            "scale_step_g": recipe.limits.scale_step_g,
            "verdict": recipe.verdict,
        },
        made_on=date.today(),
    )


def keep_recipe(recipe: Recipe, wanted: Wanted, *, name: str, tags: Iterable[str] = (), notes: str = "") -> Swatch:
    """Keep a recipe as a swatch with its predicted shades and the photograph it was matched to."""
    named(name)
    record = record_of(recipe, name, wanted.shade)
    photographs = () if wanted.photograph is None else (keep_photograph(wanted.photograph),)
    swatch = Swatch(
        uid=new_uid(), name=name, cement_uid=recipe.base, recipe_uid=record.uid, made_on=date.today(),
        tags=tuple(tags), photographs=photographs, notes=notes,
    )  # fmt: skip
    known: Palette = recipe.palette
    shades = [
        ShadeRecord.of(recipe.predict(state), swatch_uid=swatch.uid, state=state, measured_on=date.today(),
                       provenance={"kind": PREDICTED, "tiles_learned": known.tiles_learned})
        for state in ("dry", *known.states)
    ]  # fmt: skip
    kept = library().save_all([record, swatch, *shades])
    return next(each for each in kept if isinstance(each, Swatch))


def keep_photograph(upload: Upload) -> str:
    """Keep a photograph; its uid."""
    return library().store_photograph(upload.content, file_name=upload.name).uid


def measured_shade(
    shade: Shade,
    *,
    state: str,
    swatch_uid: str | None = None,
    tile_uid: str | None = None,
    photograph_uid: str | None = None,
    region: tuple[float, ...] = (),
    reference: str = "",
) -> ShadeRecord:
    """A measured shade of a swatch or tile, with where in which photograph it was measured (fractions)."""
    provenance = {"kind": MEASURED, "region": list(region), "reference": reference}
    return ShadeRecord.of(
        shade, state=state, swatch_uid=swatch_uid, tile_uid=tile_uid, photograph_uid=photograph_uid,
        measured_on=date.today(), provenance={key: value for key, value in provenance.items() if value},
    )  # fmt: skip


def named(name: str) -> str:
    """A name the maker typed, or an error that asks for one."""
    if not name.strip():
        raise InputError("It needs a name before it can be kept: the name you would write on its lid.")
    return name.strip()


def shelve(base: str, loads: Iterable[str]) -> None:
    """Put a cement and pigments of the starter palette on the library's shelf, where they are not there yet."""
    opened, known = library(), palette()
    if opened.find_one(Cement, base) is None:
        opened.save(Cement(uid=base, name=known.bases[base].label, tone=base))
    for name in loads:
        if opened.find_one(PigmentRecord, name) is None:
            opened.save(PigmentRecord(uid=name, name=known.pigments[name].label, like=name))


def _lab(shade: Shade) -> tuple[float, float, float]:
    lightness, a, b = (float(x) for x in shade.lab)
    return lightness, a, b
