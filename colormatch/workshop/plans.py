"""Planning a batch: what is to be cast, in which mould, how many; its weights, its code, its sheet."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

from ..bench.batch import Batch, Bowl, Tone, WeighedBowl, bowls_for, plan_batch, round_to
from ..bench.bowl import small_doses
from ..bench.cautions import steps_for
from ..bench.sheet import Sheet, batch_code, compose_sheet
from ..errors import InputError
from ..frozen import FrozenMapping
from ..library import (
    BatchRecord,
    DesignRecord,
    Library,
    RecipeRecord,
    Record,
    Swatch,
    new_uid,
)
from ..loads import Mix
from ..palette import Palette
from ..recipes import PreBlend
from ..recipes.limits import PREBLEND_SHARE
from ..shade import Shade
from ..weighed import recipes_of
from .curing import curing
from .keeping import design_of, recipe_of, shelved, swatch_of, tones_of
from .materials import distinct
from .moulds import Fill, densities, mould_chosen, mould_fill
from .shelf import defaults, shelf


@dataclass(frozen=True, slots=True)
class Casting:
    """What is to be cast: one tone or two, and the records it comes from.

    wanted: the shade of a single tone; wanted_of: of each tone of two, None where none was asked for.
    """

    title: str
    tones: tuple[Tone, ...]
    swatch_uid: str | None = None
    recipe_uid: str | None = None
    design_uid: str | None = None
    wanted: Shade | None = None
    wanted_of: tuple[Shade | None, ...] = ()


@dataclass(frozen=True, slots=True)
class SmallDose:
    """A dose of fewer than 20 steps of the scale, and the pre-blend to weigh instead.

    words: advice, before the pre-blend is chosen; chosen: what the sheet says once it is, its cement being less.
    """

    pigment: str
    grams: float
    blend_g: float
    words: str
    chosen: str


@dataclass(frozen=True, slots=True)
class Plan:
    """A batch as planned. preblend: pigments weighed as a blend 1:9 in cement. small: doses that should be.

    water_per_cement: what was asked for, g per g; None for a batch that an older version kept.
    """

    casting: Casting
    batch: Batch
    mould_uid: str | None = None
    fill: Fill | None = None
    preblend: tuple[str, ...] = ()
    small: tuple[SmallDose, ...] = ()
    water_per_cement: float | None = None


def casting_of(library: Library, record: Swatch | RecipeRecord | DesignRecord) -> Casting:
    """What a kept swatch, recipe or design is cast from; InputError for a swatch without a recipe."""
    if isinstance(record, DesignRecord):
        tones = tones_of(library, record)
        if not tones:
            raise InputError(f"The design {record.name!r} has lost its recipes; make it again from two swatches.")
        return Casting(record.name, tones, design_uid=record.uid)
    swatch = record if isinstance(record, Swatch) else _swatch_with(library, record)
    recipe = record if isinstance(record, RecipeRecord) else None
    if recipe is None and isinstance(record, Swatch) and record.recipe_uid:
        recipe = library.find_one(RecipeRecord, record.recipe_uid)
    if recipe is None:
        raise InputError(f"The swatch {record.name!r} has no recipe; match its shade to find one.")
    return Casting(
        swatch.name if swatch else recipe.name,
        (Tone(recipe.name, Mix.of(recipe.cement_uid, recipe.loads)),),
        swatch_uid=swatch.uid if swatch else None,
        recipe_uid=recipe.uid,
        wanted=_wanted(recipe),
    )


def in_cement(library: Library, batch: BatchRecord, base: str) -> Casting:
    """What a batch was planned from; in another cement the same doses for the same shades, a recipe of its own."""
    casting = plan_of(batch).casting
    if all(tone.mix.base == base for tone in casting.tones):
        return casting
    tones = tuple(replace(tone, mix=Mix.of(base, tone.mix.loads)) for tone in casting.tones)
    wanted = tuple(_wanted(recipe) for recipe in recipes_of(library, batch))
    if len(wanted) != len(tones):  # one is in the bin
        wanted = (None,) * len(tones)
    return Casting(casting.title, tones, wanted=wanted[0], wanted_of=wanted)


def _wanted(recipe: RecipeRecord) -> Shade | None:
    """The shade that a recipe is cast for."""
    if recipe.wanted_lab is None:
        return None
    return Shade(recipe.wanted_lab, covariance=recipe.wanted_covariance or None)


def castings(library: Library) -> list[Casting]:
    """Everything that can be cast again: kept swatches and designs, the newest first."""
    records: list[Swatch | DesignRecord] = [each for each in library.list(Swatch) if each.recipe_uid]
    records += library.list(DesignRecord)
    records.sort(key=lambda each: (each.made_on or date.min, each.uid), reverse=True)
    found = []
    for record in records:
        try:
            found.append(casting_of(library, record))
        except InputError:  # its recipe is in the bin
            continue
    return found


def plan(
    library: Library,
    knowledge: Palette,
    casting: Casting,
    *,
    mould_uid: str | None = None,
    cement_g: float | None = None,
    pieces: int = 1,
    waste: float | None = None,
    water_per_cement: float | None = None,
    preblend: Collection[str] = (),
) -> Plan:
    """Work out a batch, by its mould (hers by default) or by the dry cement of all bowls; nothing is kept.

    preblend: pigments to weigh as a blend 1:9 in cement, ten times finer. A recipe found under a higher cap than the
    studio's keeps its own; more than 10 % is refused.
    """
    usual = defaults(library)
    water = usual.water_per_cement if water_per_cement is None else water_per_cement
    waste = usual.waste if waste is None else waste
    fill, chosen = None, None
    if cement_g is not None:
        bowls = tuple(Bowl(tone.name, tone.mix, cement_g * tone.share) for tone in casting.tones)
        waste = 0.0
    else:
        chosen = mould_chosen(library, mould_uid or usual.mould_uid)
        fill = mould_fill(library, knowledge, chosen, casting.tones, water)
        bowls = bowls_for(
            casting.tones, fill_g=fill.grams, pieces=pieces, waste=waste, water_per_cement=water,
            densities=densities(knowledge),
        )  # fmt: skip
    used = max(tone.mix.total for tone in casting.tones)
    batch = plan_batch(
        bowls,
        pieces=pieces,
        waste=waste,
        fill_g=fill.grams if fill else None,
        cap=max(usual.load_cap, used),
        maxima={name: pigment.maximum_load for name, pigment in knowledge.pigments.items()},
        water_per_cement=water,
        scale_step_g=usual.scale_step_g,
        bulk_step_g=usual.bulk_step_g,
    )
    batch = replace(batch, bowls=tuple(_finer(bowl, preblend, batch.scale_step_g) for bowl in batch.bowls))
    return Plan(
        casting,
        batch,
        chosen.uid if chosen else None,
        fill,
        tuple(name for name in preblend if any(name in bowl.pigments_g for bowl in batch.bowls)),
        _small(knowledge, batch, preblend),
        water,
    )


def keep_plan(library: Library, knowledge: Palette, plan: Plan, *, instead: BatchRecord | None = None) -> BatchRecord:
    """Keep a plan as a batch with a code and a name that nothing else has; a recipe not kept yet becomes a swatch.

    instead: the batch, of which nothing was weighed yet, that is planned so now; it keeps its name.
    """
    casting, today = plan.casting, date.today()
    taken = library.list(BatchRecord)
    others = [each.name for each in taken]
    title = instead.name if instead else distinct(f"{casting.title}, {today:%d.%m.}", others)
    records, recipe_uid, design_uid = _recipes(library, knowledge, casting)
    batch = plan.batch
    codes, salt = {each.code for each in taken}, ""
    while (code := batch_code(batch, title=title + salt, made_on=today)) in codes:
        salt += "."
    record = replace(
        instead or BatchRecord(uid=new_uid(), name=title, stage="planned"),
        recipe_uid=recipe_uid,
        design_uid=design_uid,
        mould_uid=plan.mould_uid,
        made_on=today,
        pieces=batch.pieces,
        cement_g=round(batch.cement_g, 6),
        code=code,
        planned=written(plan),
    )
    library.save_all([*records, record])
    return library.get(BatchRecord, record.uid)


def plan_of(batch: BatchRecord) -> Plan:
    """The plan of a kept batch as it was; InputError for one that was kept without."""
    if not batch.planned.get("bowls"):
        raise InputError(f"The batch {batch.name!r} was kept without a sheet; plan it again from its recipe.")
    content = batch.planned
    bowls = tuple(_read_bowl(each) for each in content["bowls"])
    read = Batch(
        bowls, int(content["pieces"]), float(content["waste"]), content.get("fill_g"), float(content["cap"]),
        float(content["scale_step_g"]), float(content["bulk_step_g"]),
    )  # fmt: skip
    total = read.total_g
    tones = tuple(Tone(bowl.name, bowl.wanted.mix, bowl.total_g / total) for bowl in bowls)
    casting = Casting(batch.name, tones, recipe_uid=batch.recipe_uid, design_uid=batch.design_uid)
    return Plan(
        casting, read, batch.mould_uid, preblend=tuple(content.get("preblend", ())),
        water_per_cement=content.get("water_per_cement"),
    )  # fmt: skip


def batch_sheet(
    library: Library, knowledge: Palette, batch: BatchRecord, *, uses: Sequence[str] = (), notes: Sequence[str] = ()
) -> Sheet:
    """The weigh sheet of a kept batch: the order, lots and code as at the bowl; for sheet_html and sheet_pdf."""
    planned, here = plan_of(batch), shelf(library)
    prices = {each.uid: each.price_per_kg for each in (*here.cements, *here.pigments)}
    lots = {each.uid: each.lots[0].lot for each in (*here.cements, *here.pigments) if each.lots and each.lots[0].lot}
    times = curing(library, planned.batch.bowls[0].base)
    blends = [dose.chosen for dose in _small(knowledge, planned.batch, ()) if dose.pigment in planned.preblend]
    return compose_sheet(
        planned.batch,
        title=batch.name,
        palette=knowledge,
        made_on=batch.made_on,
        prices_per_kg=prices,
        currency=defaults(library).currency,
        lots=lots,
        code=batch.code,
        uses=uses,
        notes=(*blends, *notes),
        preblend=planned.preblend,
        steps=steps_for(times.words, times.water_words(planned.water_per_cement)),
    )


def throw_away(library: Library, batch: BatchRecord) -> None:
    """Put a batch that was not cast in the bin, with what was weighed for it; `library.restore` brings it back."""
    if batch.stage in ("cast", "done"):
        raise InputError(f"{batch.name} was cast; it is kept for what it taught. Delete its pieces first.")
    library.delete(batch)


def _finer(bowl: WeighedBowl, preblend: Collection[str], step: float) -> WeighedBowl:
    """The doses that are weighed as a pre-blend, to a tenth of the scale's step."""
    exact = {name: load * bowl.cement_g for name, load in bowl.wanted.mix.loads.items() if name in preblend}
    finer = {name: round_to(grams, step * PREBLEND_SHARE) for name, grams in exact.items()}
    return replace(bowl, pigments_g=bowl.pigments_g | finer) if finer else bowl


def _small(knowledge: Palette, batch: Batch, preblend: Collection[str]) -> tuple[SmallDose, ...]:
    found = []
    for bowl in batch.bowls:
        for name in small_doses(bowl, batch.scale_step_g):
            if name in preblend:
                continue
            grams = round_to(bowl.wanted.mix.loads[name] * bowl.cement_g, batch.scale_step_g * PREBLEND_SHARE)
            blend, label = PreBlend.of(name, grams), knowledge.label(name)
            brought = f"{blend.cement_g:g} g"
            made = f"1 part {label} and {blend.parts_cement} parts of the same dry cement"
            found.append(
                SmallDose(
                    name, grams, blend.blend_g,
                    f"{label}: {grams:g} g is little for a scale of {batch.scale_step_g:g} g. Weigh "
                    f"{blend.blend_g:g} g of a pre-blend of {made} instead, and {brought} less of the cement.",
                    f"{label}: the pre-blend is {made}; the {brought} of cement in it are taken off the cement above.",
                )
            )  # fmt: skip
    return tuple(found)


def _recipes(library: Library, knowledge: Palette, casting: Casting) -> tuple[list[Record], str | None, str | None]:
    """What must be kept with a plan: its recipe as a swatch, or its design; and their uids."""
    recipe_uid, design_uid = casting.recipe_uid, casting.design_uid
    if recipe_uid is not None and library.find_one(RecipeRecord, recipe_uid) is None:
        recipe_uid = None  # put into the bin since: what is cast is kept all the same
    if design_uid is not None and library.find_one(DesignRecord, design_uid) is None:
        design_uid = None
    if recipe_uid is not None or design_uid is not None:
        return [], recipe_uid, design_uid
    if len(casting.tones) == 1:
        title = distinct(casting.title, [each.name for each in library.list(Swatch)])
        recipe = recipe_of(title, casting.tones[0].mix, casting.wanted)
        return [*shelved(library, knowledge, [recipe]), recipe, *swatch_of(knowledge, recipe)], recipe.uid, None
    title = distinct(casting.title, [each.name for each in library.list(DesignRecord)])
    wanted = casting.wanted_of or (None,) * len(casting.tones)
    tones = zip(casting.tones, wanted, strict=True)
    recipes = [recipe_of(f"{title}: {tone.name}", tone.mix, shade) for tone, shade in tones]
    design = design_of(title, recipes, casting.tones, {})
    return [*shelved(library, knowledge, recipes), *recipes, design], None, design.uid


def written(plan: Plan) -> Mapping[str, Any]:
    """A plan as it is kept with its batch; read back by plan_of."""
    batch = plan.batch
    return {
        "bowls": [
            {
                "name": bowl.name,
                "base": bowl.base,
                "loads": dict(bowl.wanted.mix.loads),
                "wanted_cement_g": bowl.wanted.cement_g,
                "cement_g": bowl.cement_g,
                "pigments_g": dict(bowl.pigments_g),
                "water_start_g": bowl.water_start_g,
                "water_most_g": bowl.water_most_g,
                "cap_g": bowl.cap_g,
            }
            for bowl in batch.bowls
        ],
        "pieces": batch.pieces,
        "waste": batch.waste,
        "fill_g": batch.fill_g,
        "cap": batch.cap,
        "scale_step_g": batch.scale_step_g,
        "bulk_step_g": batch.bulk_step_g,
        "preblend": list(plan.preblend),
        "water_per_cement": plan.water_per_cement,
    }


def _read_bowl(content: Mapping[str, Any]) -> WeighedBowl:
    mix = Mix.of(content["base"], content["loads"])
    return WeighedBowl(
        Bowl(content["name"], mix, float(content["wanted_cement_g"])),
        float(content["cement_g"]),
        FrozenMapping({name: float(grams) for name, grams in content["pigments_g"].items()}),
        float(content["water_start_g"]),
        float(content["water_most_g"]),
        float(content["cap_g"]),
    )


def _swatch_with(library: Library, recipe: RecipeRecord) -> Swatch | None:
    return next(iter(library.list(Swatch, recipe_uid=recipe.uid)), None)
