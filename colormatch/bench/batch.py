"""What to weigh: dry cement, each pigment and water, for every bowl of a batch.

A mould's fill is the mass of WET MIX in one filled mould: cement + pigment + water. Shares of tones are shares of
that mix: by volume where densities are given, else by mass, which differs by about two per cent at most.

Water at 4 : 1 (0.25 g per g of cement), of which 50 parts in 65 go in first: common practice, no source.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from ..arrays import number_between, scale_step, whole_number_between
from ..errors import InputError, LoadError, RecipeError
from ..frozen import FrozenMapping
from ..loads import ASTM_C979_MAXIMUM, LEAST_WATER, MOST_WATER, SLACK, STUDIO_CAP, Mix, per_cent

WATER_PER_CEMENT = 0.25  # 4 : 1; common practice, no source
FIRST_WATER = 50 / 65  # share of the water that goes in first; common practice, no source
WASTE = 0.10  # what stays in bowls and on tools; common practice, no source
MOST_G = 100_000.0  # no studio weighs more at once
# g/cm3, from memory: Portland cement, and a pigment whose density nobody entered, about that of iron oxides.
_CEMENT_DENSITY, _PIGMENT_DENSITY = 3.1, 4.5


@dataclass(frozen=True, slots=True)
class Tone:
    """One tone of a piece: what is in its bowl, and its share (0..1) of the mix in the mould."""

    name: str
    mix: Mix
    share: float = 1.0


@dataclass(frozen=True, slots=True)
class Bowl:
    """One bowl as wanted, before the scale: its mix, and the dry cement in g."""

    name: str
    mix: Mix
    cement_g: float


@dataclass(frozen=True, slots=True)
class WeighedBowl:
    """One bowl as the scale can show it. All in g; water_most_g counts the water_start_g in.

    cap_g: the most pigment this much cement may take. wanted: the bowl before rounding.
    """

    wanted: Bowl
    cement_g: float
    pigments_g: FrozenMapping[str, float]
    water_start_g: float
    water_most_g: float
    cap_g: float

    @property
    def name(self) -> str:
        """What the bowl is called."""
        return self.wanted.name

    @property
    def base(self) -> str:
        """Its cement."""
        return self.wanted.mix.base

    @property
    def pigment_g(self) -> float:
        """All pigment of the bowl."""
        return math.fsum(self.pigments_g.values())

    @property
    def total_g(self) -> float:
        """The wet mix, with all of the water."""
        return math.fsum((self.cement_g, self.pigment_g, self.water_most_g))

    @property
    def loads(self) -> FrozenMapping[str, float]:
        """Loads after rounding: what this bowl will really be."""
        return FrozenMapping({name: grams / self.cement_g for name, grams in self.pigments_g.items()})


@dataclass(frozen=True, slots=True)
class Batch:
    """All bowls of a casting session, rounded to the scale.

    fill_g: wet mix in one mould, None when the batch was given by its cement. waste: 0.1 is a tenth more.
    scale_step_g: of the pigment scale; bulk_step_g: of the scale for cement and water.
    """

    bowls: tuple[WeighedBowl, ...]
    pieces: int = 1
    waste: float = 0.0
    fill_g: float | None = None
    cap: float = STUDIO_CAP
    scale_step_g: float = 0.1
    bulk_step_g: float = 0.1

    @property
    def total_g(self) -> float:
        """The wet mix of all bowls, with all of the water."""
        return math.fsum(bowl.total_g for bowl in self.bowls)

    @property
    def cement_g(self) -> float:
        """The dry cement of all bowls."""
        return math.fsum(bowl.cement_g for bowl in self.bowls)

    def per_piece(self) -> Mapping[str, float]:
        """Grams in one piece, waste not counted: material -> g, cement under its base's name."""
        share = 1 / (self.pieces * (1 + self.waste))
        grams: dict[str, float] = {}
        for bowl in self.bowls:
            parts = {bowl.base: bowl.cement_g, **bowl.pigments_g, "water": bowl.water_most_g}
            for name, mass in parts.items():
                grams[name] = grams.get(name, 0.0) + mass * share
        return grams

    def cost(self, price_per_kg: Mapping[str, float | None]) -> tuple[float, tuple[str, ...]]:
        """(cost of the whole batch, names without a price); cement under its base's name, water is free."""
        total, missing = 0.0, []
        for bowl in self.bowls:
            for name, grams in {bowl.base: bowl.cement_g, **bowl.pigments_g}.items():
                price = price_per_kg.get(name)
                if price is None:
                    missing.append(name)
                else:
                    total += grams / 1000 * price
        return total, tuple(dict.fromkeys(missing))


def highest_load(cap: float, names: Sequence[str], maxima: Mapping[str, float] | None = None) -> float:
    """The most pigment a bowl may hold, g per g of cement.

    The studio's cap, never above 10 % nor above the least of the maxima of the pigments in it
    (ASTM C979, clause 1.4). cap: above 0, at most 0.10.
    """
    cap = number_between(cap, name="The cap", low=0, high=ASTM_C979_MAXIMUM, open_low=True)
    own = [maxima[name] for name in names if maxima and name in maxima]
    return min([cap, *own])


def wet_density(mix: Mix, densities: Mapping[str, float | None], water_per_cement: float = WATER_PER_CEMENT) -> float:
    """Density of the wet mix in g/ml, from the volumes of its parts, entrained air left out.

    densities: of the pigments in g/cm3; one that is missing counts as an iron oxide.
    """
    volume = 1 / _CEMENT_DENSITY + water_per_cement
    volume += math.fsum(load / (densities.get(name) or _PIGMENT_DENSITY) for name, load in mix.loads.items())
    return (1 + water_per_cement + mix.total) / volume


def bowls_for(
    tones: Sequence[Tone],
    *,
    fill_g: float,
    pieces: int = 1,
    waste: float = WASTE,
    water_per_cement: float = WATER_PER_CEMENT,
    densities: Mapping[str, float | None] | None = None,
) -> tuple[Bowl, ...]:
    """The bowls that fill `pieces` moulds, each with fill_g of wet mix, with `waste` on top; one bowl per tone.

    Shares must add up to 1 (within 0.001): by volume with densities (g/cm3, see wet_density), else by mass. The wet
    mix counts all of the water. Raises InputError for values that cannot be used.
    """
    shares = _checked_shares(tones)
    waste = number_between(waste, name="The waste", low=0, high=1)
    water = _water(water_per_cement)
    if densities is not None:
        shares = [t.share * wet_density(t.mix, densities, water) for t in tones]
    fill_g = number_between(fill_g, name="The fill of the mould", low=0, high=MOST_G, unit="g", open_low=True)
    mix_g = fill_g * _count(pieces) * (1 + waste) / math.fsum(shares)
    return tuple(
        Bowl(tone.name, tone.mix, mix_g * share / (1 + water + tone.mix.total))
        for tone, share in zip(tones, shares, strict=True)
        if share > 0
    )


def plan_batch(
    bowls: Sequence[Bowl],
    *,
    pieces: int = 1,
    waste: float = 0.0,
    fill_g: float | None = None,
    cap: float = STUDIO_CAP,
    maxima: Mapping[str, float] | None = None,
    water_per_cement: float = WATER_PER_CEMENT,
    scale_step_g: float = 0.1,
    bulk_step_g: float | None = None,
) -> Batch:
    """Round the bowls to the scale, so that the whole adds up and no bowl passes its cap.

    `pieces`, `waste` and `fill_g` say what the bowls were made for (see `bowls_for`); they are kept, not
    applied again. maxima: the pigments' own limits, g per g cement. Pigments go to the nearest step of the
    scale, then down where that would pass the cap; cement goes to the nearest step of its scale and water
    takes up the rest, so all bowls together differ from what was wanted by less than one step.
    Raises LoadError when a bowl is over the cap as it stands.
    """
    step = scale_step(scale_step_g)
    bulk = step if bulk_step_g is None else scale_step(bulk_step_g, "The step of the scale for cement")
    water = _water(water_per_cement)
    if not bowls:
        raise InputError("A batch needs at least one bowl; got none.")
    weighed, carried = list[WeighedBowl](), 0.0
    for bowl in bowls:
        limit = highest_load(cap, list(bowl.mix.loads), maxima)
        made, carried = _weigh(bowl, water, step, bulk, limit, carried)
        weighed.append(made)
    return Batch(tuple(weighed), _count(pieces), waste, fill_g, cap, step, bulk)


def round_to(grams: float, step: float) -> float:
    """`grams` at the nearest mark of a scale, free of binary dust (13.0, not 13.000000000000002)."""
    return round(round(grams / step) * step, 6)


def under_cap(exact: Mapping[str, float], cap_g: float, step: float) -> dict[str, float]:
    """Each weight at its nearest mark; while the sum is over the cap, the one rounded up most comes down."""
    grams = {name: round_to(mass, step) for name, mass in exact.items()}
    while math.fsum(grams.values()) > cap_g + SLACK:
        name = max((n for n in grams if grams[n] > 0), key=lambda n: grams[n] - exact[n])
        grams[name] = round_to(grams[name] - step, step)
    return grams


def _weigh(bowl: Bowl, water: float, step: float, bulk: float, cap: float, carried: float) -> tuple[WeighedBowl, float]:
    """One bowl on the scale, and how much of the wanted mass is still owed to the next bowl."""
    cement = number_between(
        bowl.cement_g, name=f"The cement of {bowl.name!r}", low=0, high=MOST_G, unit="g", open_low=True
    )
    total = bowl.mix.total
    if total > cap + SLACK:
        raise LoadError(
            f"The bowl {bowl.name!r} has {per_cent(total)} of pigment; at most {per_cent(cap)} of the cement is "
            "allowed. Lower the loads, or take another recipe."
        )
    cement_g = round_to(cement, bulk)
    if cement_g <= 0:
        raise RecipeError(
            f"The bowl {bowl.name!r} needs {cement:g} g of cement, less than the scale can show "
            f"({bulk:g} g). Make more pieces at once, or use a finer scale."
        )
    pigments = under_cap({name: load * cement_g for name, load in bowl.mix.loads.items()}, cap * cement_g, step)
    wanted = cement * (1 + total + water) + carried
    water_g = max(round_to(wanted - cement_g - math.fsum(pigments.values()), bulk), 0.0)
    made = WeighedBowl(
        wanted=bowl,
        cement_g=cement_g,
        pigments_g=FrozenMapping(pigments),
        water_start_g=min(round_to(FIRST_WATER * water_g, bulk), water_g),
        water_most_g=water_g,
        cap_g=cap * cement_g,
    )
    return made, wanted - made.total_g


def _checked_shares(tones: Sequence[Tone]) -> list[float]:
    if not tones:
        raise InputError("A piece needs at least one tone; got none.")
    shares = [number_between(t.share, name=f"The share of {t.name!r}", low=0, high=1) for t in tones]
    if abs(math.fsum(shares) - 1) > 1e-3:
        raise InputError(f"The shares of the tones add up to {math.fsum(shares):.3f}; they must add up to 1.")
    return shares


def _water(per_cement: float) -> float:
    return number_between(per_cement, name="Water per cement", low=LEAST_WATER, high=MOST_WATER)


def _count(pieces: int) -> int:
    return whole_number_between(pieces, name="The number of pieces", low=1, high=10_000)
