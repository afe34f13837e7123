"""Plan and deed side by side: what was weighed against the sheet, what came out against what was wanted, and next."""

from __future__ import annotations

from dataclasses import dataclass, replace

from numpy.typing import ArrayLike

from ..bench.batch import Tone
from ..difference import JUST_SEEN, delta_e_2000
from ..errors import InputError
from ..library import BatchRecord, Library, Piece, ShadeRecord, Swatch, Weighing
from ..loads import ASTM_C979_MAXIMUM, Mix, per_cent
from ..palette import Palette
from ..recipes import Limits, Recipe, correct_next_batch
from ..saying import ALIKE, capital, compared, seen, verdict
from ..shade import Shade
from ..weighed import bowls_of, mix_of
from .pieces import as_standard, conditions, dry_shade, mix_in
from .plans import Casting, plan_of
from .shelf import limits, offer


@dataclass(frozen=True, slots=True)
class Line:
    """One thing of a bowl: planned and weighed grams; None where there is none. effect: on the dry shade, in words."""

    bowl: str
    material: str
    label: str
    planned_g: float | None
    weighed_g: float | None
    effect: str = ""


@dataclass(frozen=True, slots=True)
class Outcome:
    """A dry piece: measured, against what was wanted and what its own weighings let expect. words first.

    off_wanted, off_expected: dE00, None where there is nothing to compare with. too_early: a warning, or empty.
    """

    words: str
    measured: Shade
    wanted: Shade | None
    expected: Shade | None
    planned: Shade | None
    off_wanted: float | None
    off_expected: float | None
    too_early: str


@dataclass(frozen=True, slots=True)
class OtherCast:
    """Another piece of the same recipe: how its dry shade differs from this one's, and what was different."""

    piece: Piece
    delta_e: float
    words: str
    different: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class NextBatch:
    """The corrected recipe of the next batch, ready to be planned; last: what the piece really was."""

    recipe: Recipe
    last: Mix
    casting: Casting
    words: str


def against_plan(library: Library, knowledge: Palette, batch: BatchRecord) -> list[Line]:
    """What was planned and what was weighed, line by line, with what each difference alone does to the dry shade."""
    rows = sorted(library.list(Weighing, batch_uid=batch.uid), key=lambda each: (each.bowl, each.step or 0))
    lines = []
    for bowl in dict.fromkeys(row.bowl for row in rows):
        own = [row for row in rows if row.bowl == bowl]
        base = next((row for row in own if row.material in knowledge.bases), None)
        for row in own:
            words = "" if base is None else _alone(knowledge, own, base, row)
            label = knowledge.label(row.material)
            lines.append(Line(bowl, row.material, capital(label), row.planned_g, row.weighed_g, words))
    return lines


def _measured_dry(library: Library, piece: Piece, bowl: str) -> ShadeRecord:
    record = dry_shade(library, piece, bowl)
    if record is None:
        raise InputError(f"{piece.name} has no measured dry shade yet: photograph it when it is dry.")
    return record


def outcome(library: Library, knowledge: Palette, piece: Piece, *, bowl: str = "") -> Outcome:
    """How a dry piece came out; InputError while its dry shade was not measured."""
    record, of = _measured_dry(library, piece, bowl), mix_in(library, piece, bowl)
    measured = record.shade()
    expected = None if of.mix is None else knowledge.predict(of.mix.loads, of.mix.base)
    planned = None if of.planned is None else knowledge.predict(of.planned.loads, of.planned.base)
    wanted = Shade(of.recipe.wanted_lab) if of.recipe is not None and of.recipe.wanted_lab else None
    off_wanted, off_expected = (
        None if each is None else float(delta_e_2000(measured.lab, each.lab)) for each in (wanted, expected)
    )
    words = verdict(measured.lab, wanted.lab) if wanted else "No shade was asked of its recipe."
    if expected is not None and planned is not None and of.source == "weighed":
        slip = float(delta_e_2000(expected.lab, planned.lab))
        if slip >= JUST_SEEN:
            words += f" As it was weighed, {compared(expected.lab, planned.lab)} than planned was to be expected."
    if of.source != "weighed":
        words += f" What it is made of is {'taken from the plan: nothing was weighed' if of.mix else of.why}."
    return Outcome(words, measured, wanted, expected, planned, off_wanted, off_expected, as_standard(record))


def other_casts(library: Library, piece: Piece) -> list[OtherCast]:
    """Other pieces of the same recipe that were measured dry, nearest cast first, with what was different.

    Where the shades are alike, no condition is named: nothing needs an explanation.
    """
    mine = dry_shade(library, piece)
    if mine is None or piece.recipe_uid is None:
        return []
    own, found = _all_conditions(library, piece), []
    for other in library.list(Piece, recipe_uid=piece.recipe_uid):
        theirs = dry_shade(library, other) if other.uid != piece.uid else None
        if theirs is None:
            continue
        off = float(delta_e_2000(theirs.lab, mine.lab))
        there = _all_conditions(library, other)
        different = tuple(
            f"{name}: {there.get(name) or 'not noted'}, here {own.get(name) or 'not noted'}"
            for name in dict.fromkeys((*own, *there))
            if own.get(name) != there.get(name)
        )
        alike = off < JUST_SEEN
        words = (
            f"As this one: {seen(off)}." if alike else f"{compared(theirs.lab, mine.lab).capitalize()}: {seen(off)}."
        )
        found.append(OtherCast(other, off, words, () if alike else different))
    return sorted(found, key=lambda each: each.delta_e)


def next_batch(
    library: Library, knowledge: Palette, piece: Piece, *, bowl: str = "", cement_g: float | None = None
) -> NextBatch:
    """The recipe for the next batch, corrected from what this piece really was and how it measured dry.

    InputError where the piece has no measured dry shade, no wanted shade, or its make-up is not known.
    """
    of = mix_in(library, piece, bowl)
    if of.mix is None:
        raise InputError(f"The next batch cannot be corrected from {piece.name}: {of.why}.")
    if of.recipe is None or of.recipe.wanted_lab is None:
        raise InputError(f"No shade was asked of the recipe of {piece.name}: match the shade you want.")
    record = _measured_dry(library, piece, bowl)
    batch = library.find_one(BatchRecord, piece.batch_uid) if piece.batch_uid else None
    grams = cement_g or (batch.cement_g if batch else None)
    recipe = correct_for(library, knowledge, of.mix, record.shade(), Shade(of.recipe.wanted_lab), cement_g=grams)
    swatch = library.find_one(Swatch, piece.swatch_uid) if piece.swatch_uid else None
    name = f"{(swatch or of.recipe).name}, corrected"
    tone = Tone(name, Mix.of(recipe.base, recipe.loads))
    casting = _with_the_other_tone(library, batch, bowl or piece.bowl, tone, of.recipe.wanted_lab)
    warning = as_standard(record)
    return NextBatch(recipe, of.mix, casting, " ".join(filter(None, (recipe.verdict, warning))))


def _with_the_other_tone(
    library: Library, batch: BatchRecord | None, bowl: str, corrected: Tone, wanted: ArrayLike
) -> Casting:
    """The corrected tone in its place; of a piece of two tones the other one as it was planned."""
    bowls = bowls_of(library, batch) if batch is not None else ()
    if batch is None or len(bowls) < 2:
        return Casting(corrected.name, (corrected,), wanted=Shade(wanted))
    here, shares = int(bowl) - 1, [tone.share for tone in plan_of(batch).casting.tones]
    tones, shades = list[Tone](), list[Shade | None]()
    for place, (was, share) in enumerate(zip(bowls, shares, strict=True)):
        mix = corrected.mix if place == here else was.planned or was.mix
        if mix is None:
            raise InputError(f"The next batch cannot be planned: {was.name}, the other tone, is not known; {was.why}.")
        tones.append(Tone(corrected.name if place == here else was.name, mix, share))
        asked = was.recipe.wanted_lab if was.recipe is not None else None
        shades.append(None if asked is None else Shade(asked))
    return Casting(f"{batch.name}, corrected", tuple(tones), wanted_of=tuple(shades))


def correct_for(
    library: Library, knowledge: Palette, last: Mix, measured: Shade, wanted: Shade, *, cement_g: float | None = None
) -> Recipe:
    """The corrected recipe from the loads a piece really had: only with what is on the shelf, and what is in it."""
    on_shelf = limits(library, offer(library, knowledge), cement_g=cement_g, within_stock=False)
    names = [*offer(library, knowledge).pigments, *(name for name, load in last.loads.items() if load > 0)]
    own: Limits = replace(on_shelf, pigments=tuple(dict.fromkeys(names)), load_cap=max(on_shelf.load_cap, last.total))
    return correct_next_batch(knowledge, last.loads, measured, wanted, base=last.base, limits=own)


def _alone(knowledge: Palette, rows: list[Weighing], base: Weighing, row: Weighing) -> str:
    """What the difference of one line alone does to the dry shade."""
    if row.planned_g is None or row.weighed_g is None or abs(row.weighed_g - row.planned_g) < 1e-6:
        return ""
    if row.material == "water":
        return "more water: lighter when dry" if row.weighed_g > row.planned_g else ""
    grams = {each.material: each.planned_g or 0.0 for each in rows if each.material in knowledge.pigments}
    cement = base.planned_g or 0.0
    changed = {**grams, row.material: row.weighed_g} if row.material in grams else grams
    there = row.weighed_g if row is base else cement
    if cement <= 0 or there <= 0:
        return ""
    if max(sum(changed.values()) / there, sum(grams.values()) / cement) > ASTM_C979_MAXIMUM:
        return ""
    was = knowledge.predict({name: mass / cement for name, mass in grams.items()}, base.material)
    now = knowledge.predict({name: mass / there for name, mass in changed.items()}, base.material)
    off = float(delta_e_2000(now.lab, was.lab))
    return "" if off < ALIKE else f"{compared(now.lab, was.lab)} when dry: {seen(off)}"


def _all_conditions(library: Library, piece: Piece) -> dict[str, str]:
    """The conditions of a piece, its loads among them: a difference in dose is one too."""
    of = mix_of(library, piece)
    loads = {} if of.mix is None else {name: per_cent(load) for name, load in sorted(of.mix.loads.items())}
    return {**loads, **conditions(piece)}
