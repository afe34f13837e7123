"""Keeping: a recipe as a swatch, a design, work in hand; names made distinct; what is used is not lost."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from typing import TYPE_CHECKING, Any

from ..bench.batch import Tone
from ..errors import InputError
from ..library import (
    Cement,
    DesignRecord,
    Library,
    PigmentRecord,
    RecipeRecord,
    Record,
    ShadeRecord,
    Swatch,
    new_uid,
)
from ..loads import Mix
from ..naming import LONGEST_NAME
from ..palette import Palette
from ..shade import Shade
from .materials import distinct, named

if TYPE_CHECKING:
    from ..recipes import Recipe

PREDICTED = "predicted"  # provenance["kind"] of a shade that nobody has measured yet


def keep_recipe(
    library: Library,
    recipe: Recipe,
    wanted: Shade,
    *,
    name: str,
    photograph_uid: str | None = None,
    tags: Iterable[str] = (),
    notes: str = "",
) -> Swatch:
    """Keep a recipe as a swatch with its predicted shades and the photograph it was matched to, all or nothing."""
    record = RecipeRecord(
        uid=new_uid(),
        name=_new_swatch_name(library, name),
        cement_uid=recipe.base,
        loads=dict(recipe.loads),
        outcome={
            "delta_e": round(recipe.delta_e, 3),
            "expected_delta_e": round(recipe.expected_delta_e, 3),
            "cement_g": recipe.cement_g,
            "scale_step_g": recipe.limits.scale_step_g,
            "verdict": recipe.verdict,
        },
        made_on=date.today(),
        **_wanted(wanted),
    )
    photographs = () if photograph_uid is None else (photograph_uid,)
    return _kept(library, recipe.palette, record, tags=tuple(tags), photographs=photographs, notes=notes)


def keep_mix(library: Library, knowledge: Palette, mix: Mix, *, name: str, notes: str = "") -> Swatch:
    """Keep a recipe from elsewhere as a swatch with its predicted shades, all or nothing."""
    return _kept(library, knowledge, recipe_of(_new_swatch_name(library, name), mix), notes=notes)


def _kept(library: Library, knowledge: Palette, record: RecipeRecord, **fields: Any) -> Swatch:
    swatch, *shades = swatch_of(knowledge, record, **fields)
    library.save_all([*shelved(library, knowledge, [record]), record, swatch, *shades])
    return library.get(Swatch, swatch.uid)


def swatch_of(knowledge: Palette, recipe: RecipeRecord, **fields: Any) -> list[Record]:
    """A new swatch of a recipe and its predicted shades, to be kept together with it."""
    swatch = Swatch(
        uid=new_uid(), name=recipe.name, cement_uid=recipe.cement_uid, recipe_uid=recipe.uid, made_on=date.today(),
        **fields,
    )  # fmt: skip
    provenance = {"kind": PREDICTED, "tiles_learned": knowledge.tiles_learned}
    shades = [
        ShadeRecord.of(
            knowledge.predict(recipe.loads, recipe.cement_uid, state),
            swatch_uid=swatch.uid,
            state=state,
            measured_on=date.today(),
            provenance=provenance,
        )
        for state in ("dry", *knowledge.states)
    ]
    return [swatch, *shades]


def recipe_of(name: str, mix: Mix, wanted: Shade | None = None) -> RecipeRecord:
    """The record of a mix, with the shade it is cast for where there is one; not kept yet."""
    return RecipeRecord(
        uid=new_uid(), name=name[:LONGEST_NAME], cement_uid=mix.base, loads=dict(mix.loads), made_on=date.today(),
        **_wanted(wanted),
    )  # fmt: skip


def keep_design(
    library: Library, knowledge: Palette, name: str, tones: Sequence[Tone], content: Mapping[str, Any] | None = None,
    *, mould_uid: str | None = None,
) -> DesignRecord:  # fmt: skip
    """Keep a design of two tones with its recipes, all or nothing; `tones_of` opens it again."""
    title = named(name)
    if title.casefold() in (each.name.casefold() for each in library.list(DesignRecord)):
        raise _taken("design", title, [each.name for each in library.list(DesignRecord)])
    recipes = [recipe_of(f"{title}: {tone.name}", tone.mix) for tone in tones]
    record = design_of(title, recipes, tones, content or {}, mould_uid)
    library.save_all([*shelved(library, knowledge, recipes), *recipes, record])
    return library.get(DesignRecord, record.uid)


def design_of(
    title: str,
    recipes: Sequence[RecipeRecord],
    tones: Sequence[Tone],
    content: Mapping[str, Any],
    mould_uid: str | None = None,
) -> DesignRecord:
    """The record of a design; not kept yet."""
    shown = [
        {"name": tone.name, "base": tone.mix.base, "loads": dict(tone.mix.loads), "share": tone.share} for tone in tones
    ]
    return DesignRecord(
        uid=new_uid(), name=title, recipes=tuple(each.uid for each in recipes), made_on=date.today(),
        content={**content, "tones": shown}, mould_uid=mould_uid,
    )  # fmt: skip


def tones_of(library: Library, design: DesignRecord) -> tuple[Tone, ...]:
    """The tones of a kept design, in the order of its recipes; without shares of its own they are halves."""
    shown = design.content.get("tones", ())
    parts = [dict(each) if isinstance(each, Mapping) else {} for each in shown] if isinstance(shown, Sequence) else []
    recipes = [library.find_one(RecipeRecord, uid) for uid in design.recipes]
    tones = []
    for place, recipe in enumerate(recipes):
        if recipe is not None:
            part = parts[place] if place < len(parts) else {}
            share = float(part.get("share", 1 / len(recipes)))
            tones.append(Tone(str(part.get("name") or recipe.name), Mix.of(recipe.cement_uid, recipe.loads), share))
    return tuple(tones)


def _new_swatch_name(library: Library, name: str) -> str:
    name = named(name)
    taken = [each.name for each in library.list(Swatch)]
    if name.casefold() in (each.casefold() for each in taken):
        raise _taken("swatch", name, taken)
    return name


def _taken(kind: str, name: str, taken: Iterable[str]) -> InputError:
    return InputError(
        f"A {kind} called {name!r} is kept already. Give this one another name, such as {distinct(name, taken)!r}."
    )


def shelved(library: Library, knowledge: Palette, recipes: Iterable[RecipeRecord]) -> list[Record]:
    """Records of materials of the recipes that have none yet (starters tried without a shelf): known, not on it."""
    missing: dict[str, Record] = {}
    for recipe in recipes:
        if library.find_one(Cement, recipe.cement_uid) is None:
            label = knowledge.label(recipe.cement_uid)
            missing[recipe.cement_uid] = Cement(uid=recipe.cement_uid, name=label, tone=recipe.cement_uid)
        for name in recipe.loads:
            if library.find_one(PigmentRecord, name) is None:
                missing[name] = PigmentRecord(uid=name, name=knowledge.label(name), like=name)
    return list(missing.values())


def _wanted(shade: Shade | None) -> dict[str, Any]:
    if shade is None:
        return {}
    lab = tuple(float(x) for x in shade.lab)
    return {"wanted_lab": lab, "wanted_covariance": tuple(tuple(float(x) for x in row) for row in shade.covariance)}
