"""What a page keeps in the library: recipes as swatches, measured shades, photographs."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from typing import Any

from colormatch.arrays import FloatArray
from colormatch.bench.batch import Tone
from colormatch.errors import InputError
from colormatch.library import (
    Cement,
    DesignRecord,
    PigmentRecord,
    RecipeRecord,
    ShadeRecord,
    Swatch,
    new_uid,
)
from colormatch.palette import Palette
from colormatch.recipes import Recipe
from colormatch.screens.state import Upload, Wanted, in_hand
from colormatch.screens.studios import library, palette
from colormatch.shade import Shade
from colormatch.studio import MEASURED

NAME_LIMIT = 200
PREDICTED = "predicted"  # provenance["kind"] of a shade that nobody has measured yet


def tags_of(text: str) -> tuple[str, ...]:
    """Tags separated by commas."""
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
        wanted_covariance=_covariance(wanted),
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
    name = new_name(name)
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


def keep_design(name: str, tones: Sequence[Tone], content: Mapping[str, Any]) -> DesignRecord:
    """Keep a design of two tones with its recipes, all or nothing."""
    recipes = [plain_recipe(f"{named(name)}: {tone.name}", tone) for tone in tones]
    shown = [{"base": tone.mix.base, "loads": dict(tone.mix.loads), "share": tone.share} for tone in tones]
    record = DesignRecord(
        uid=new_uid(), name=name, recipes=tuple(each.uid for each in recipes), made_on=date.today(),
        content={**content, "tones": shown},
    )  # fmt: skip
    kept = library().save_all([*recipes, record])
    return next(each for each in kept if isinstance(each, DesignRecord))


def plain_recipe(name: str, tone: Tone, wanted: Shade | None = None) -> RecipeRecord:
    """The record of a tone, with the shade it is cast for where there is one."""
    shelve(tone.mix.base, tone.mix.loads)
    return RecipeRecord(
        uid=new_uid(), name=name[:NAME_LIMIT], cement_uid=tone.mix.base, loads=dict(tone.mix.loads),
        made_on=date.today(),
        wanted_lab=None if wanted is None else _lab(wanted),
        wanted_covariance=() if wanted is None else _covariance(wanted),
    )  # fmt: skip


def noted_of(place: str) -> dict[str, Any]:
    """Where and how the shade asked for at a place was measured, for its record."""
    measurement = in_hand().measured.get(place)
    if measurement is None:
        return {}
    return {"region": list(box_of(measurement.photos[0].outline)), "reference": measurement.reference}


def box_of(outline: FloatArray) -> tuple[float, ...]:
    """The box (x0, y0, x1, y1) around an outline (n, 2), in pixels."""
    return tuple(round(float(x), 1) for x in (*outline.min(axis=0), *outline.max(axis=0)))


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
    """A measured shade of a swatch or tile, with where in which photograph it was measured (pixels)."""
    provenance = {"kind": MEASURED, "region": list(region), "reference": reference}
    return ShadeRecord.of(
        shade, state=state, swatch_uid=swatch_uid, tile_uid=tile_uid, photograph_uid=photograph_uid,
        measured_on=date.today(), provenance={key: value for key, value in provenance.items() if value},
    )  # fmt: skip


def named(name: str) -> str:
    """A name the maker typed, or an error that asks for one."""
    if not name.strip():
        raise InputError("It needs a name before it can be kept: the name you would write on its lid.")
    if len(name.strip()) > NAME_LIMIT:
        raise InputError(f"The name has {len(name.strip())} characters; at most {NAME_LIMIT} are kept. Shorten it.")
    return name.strip()


def new_name(name: str, uid: str | None = None) -> str:
    """A name the maker typed for a swatch (that of `uid`, or a new one), or an error when another one has it."""
    name = named(name)
    if any(each.name.casefold() == name.casefold() and each.uid != uid for each in library().list(Swatch)):
        other = f"{name} 2"
        raise InputError(f"A swatch called {name!r} is kept already. Give this one another name, such as {other!r}.")
    return name


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


def _covariance(shade: Shade) -> tuple[tuple[float, ...], ...]:
    return tuple(tuple(float(x) for x in row) for row in shade.covariance)
