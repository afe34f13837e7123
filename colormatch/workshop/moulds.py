"""What one filling of a mould takes: as entered, and as the pieces that came out of it weighed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from ..bench.batch import Tone, wet_density
from ..errors import InputError
from ..library import BatchRecord, DryingWeight, Library, Mould, Piece
from ..palette import Palette

_ENTERED_COUNTS_FOR = 3  # pieces: how much a mould's entered amount weighs beside what came out of it (a judgement)


@dataclass(frozen=True, slots=True)
class Fill:
    """What one filling of a mould takes: wet mix in g, and where that comes from."""

    grams: float
    words: str


def mould_chosen(library: Library, uid: str | None) -> Mould:
    """The mould of that uid, or the only one there is; InputError that says where to choose."""
    mould = library.find_one(Mould, uid) if uid else None
    if mould is not None:
        return mould
    only = library.list(Mould)
    if uid is None and len(only) == 1:
        return only[0]
    raise InputError("Choose a mould, or say how much dry cement: both are under How much.")


def mould_fill(
    library: Library, knowledge: Palette, mould: Mould, tones: Sequence[Tone], water_per_cement: float
) -> Fill:
    """What one filling weighs: as entered, and drawn towards what pieces of it weighed fresh from the mould."""
    density = sum(tone.share * wet_density(tone.mix, densities(knowledge), water_per_cement) for tone in tones)
    if mould.fill_weight_g is not None:
        entered, words = mould.fill_weight_g, "as one filling was weighed"
    elif mould.volume_ml is not None:
        entered, words = mould.volume_ml * density, f"from its volume of {mould.volume_ml:g} ml"
    elif mould.cement_g is not None:
        per_cement = sum(tone.share * (1 + water_per_cement + tone.mix.total) for tone in tones)
        entered, words = mould.cement_g * per_cement, "from the dry cement of one filling"
    else:
        raise InputError(f"The mould {mould.name!r} has no amount yet: weigh one filling, or the water that fills it.")
    came_out = _fresh_weights(library, mould)
    if not came_out:
        return Fill(entered, words)
    learned = (_ENTERED_COUNTS_FOR * entered + sum(came_out)) / (_ENTERED_COUNTS_FOR + len(came_out))
    many = f"{len(came_out)} piece{'s' if len(came_out) > 1 else ''}"
    return Fill(learned, f"{words}, and from {many} as they left it")


def densities(knowledge: Palette) -> dict[str, float | None]:
    """Pigment -> g/cm3; None where nobody entered it."""
    return {name: pigment.density_g_cm3 for name, pigment in knowledge.pigments.items()}


def _fresh_weights(library: Library, mould: Mould) -> list[float]:
    """First weights of single pieces from this mould, taken before they can have dried much: within a day."""
    batches = [each.uid for each in library.list(BatchRecord, mould_uid=mould.uid)]
    pieces = {each.uid: each for each in library.list(Piece) if each.batch_uid in batches}
    first: dict[str, DryingWeight] = {}
    for each in library.list(DryingWeight):
        if each.piece_uid in pieces and each.weighed_at is not None:
            uid = each.piece_uid or ""
            if uid not in first or str(each.weighed_at) < str(first[uid].weighed_at):
                first[uid] = each
    grams = []
    for uid, weight in first.items():
        left = pieces[uid].demoulded_at or pieces[uid].cast_at
        if left is not None and weight.weighed_at is not None and (weight.weighed_at - left).total_seconds() < 86_400:
            grams.append(weight.mass_g)
    return grams
