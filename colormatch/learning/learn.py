"""From tiles to a palette that is the maker's own."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import replace

import numpy as np
from scipy.special import chdtri

from ..difference import delta_e_2000, expected_delta_e
from ..errors import LearningError
from ..loads import TINT_LADDER
from ..palette import Palette
from .observe import Readings, readings
from .outliers import Fit, robust_fit
from .reasons import suspect
from .report import Report, TileResult, Trust
from .tile import Tile
from .uncertainty import trust_in_words

_OUTSIDE = 0.10  # of the readings, by a 90 % region
_FEW = 5  # tiles, below which a share or a middle of them says nothing; a judgement
_UNSURE = 0.1  # probability either way, below which a tile is plainly sound or plainly a slip; a judgement
_WIDENED = 1.3  # of the variances; less happens by chance in one studio of ten
_SCATTER_WARNING = 3.0  # CIELAB units; about four times the usual cast-to-cast sd; from memory
_TWINS_APART = 8.0  # CIEDE2000; far beyond any scatter of careful casting (common practice, no source)


def learn(palette: Palette, tiles: Sequence[Tile]) -> tuple[Palette, Report]:
    """The palette after the tiles, and a report on both.

    palette: what was known before, its covariance included; the result can be learned further with
    new tiles. tiles: any mix of bases, pigments and states. Raises LearningError without tiles or for things
    that are none, UnknownNameError for a tile whose base, pigment or state the palette does not know.
    """
    if not isinstance(palette, Palette):
        raise LearningError(f"learn takes a Palette first, such as starter_palette(); got a {type(palette).__name__}.")
    if isinstance(tiles, Tile) or not isinstance(tiles, Iterable):
        raise LearningError(
            f"learn takes a list of tiles; got a {type(tiles).__name__}. A single tile goes in brackets: [tile]."
        )
    tiles = list(tiles)
    if not tiles:
        raise LearningError(
            "There are no tiles to learn from. Cast at least a blank and one tile of each pigment, or keep "
            "using the starter palette as it is."
        )
    seen = readings(palette, tiles)
    repeat = replicate_sd(tiles)
    fit = robust_fit(palette, seen)
    learned = fit.palette.with_posterior(
        fit.parameters,
        fit.covariance,
        tiles_learned=len(tiles),
        **_cast(palette, tiles),
        cast_sd=float(fit.choice.noise[0]),
        pigment_law_sd=float(fit.choice.noise[1]),
        base_law_sd=float(fit.choice.noise[2]),
        pigments={**palette.pigments, **{name: replace(palette.pigments[name], known=True) for name in fit.unknown}},
    )
    return learned, _report(learned, seen, fit, repeat)


def _cast(palette: Palette, tiles: Sequence[Tile]) -> dict[str, dict[str, float]]:
    """The least and the largest load of each pigment cast so far."""
    least, most = dict(palette.cast_from), dict(palette.cast_up_to)
    for name, load in (each for tile in tiles for each in tile.recipe[2]):
        least[name] = min(load, least.get(name, load))
        most[name] = max(load, most.get(name, load))
    return {"cast_from": least, "cast_up_to": most}


def replicate_sd(tiles: Sequence[Tile]) -> float | None:
    """Scatter between tiles of the same recipe, base and state, CIELAB units per coordinate.

    The photographs' own variance is taken off; None without such tiles. The middle of the squared
    differences is used, so that one outlier does not decide.
    """
    groups = defaultdict(list)
    for tile in tiles:
        groups[tile.recipe].append(tile)
    squares = []
    for group in groups.values():
        if len(group) < 2:
            continue
        lab = np.array([tile.shade.lab for tile in group])
        photo = np.mean([np.diag(tile.shade.covariance) for tile in group], axis=0)
        share = len(group) / (len(group) - 1)
        squares += [(row**2 * share).mean() - photo.mean() for row in lab - lab.mean(axis=0)]
    if not squares:
        return None
    # the median of chi-squared over 3 is 0.789 of its mean; with few tiles the mean is steadier
    middle = float(np.median(squares)) / 0.789 if len(squares) > 2 * _FEW else float(np.mean(squares))
    return float(np.sqrt(max(middle, 0.0)))


def _report(learned: Palette, seen: Readings, fit: Fit, repeat: float | None) -> Report:
    results = _results(learned, seen, fit)
    inliers = [result for result in results if not result.doubtful]
    aside = {place for lot in fit.lots for place in lot.places}
    wrong = [place for place, one in enumerate(results) if one.doubtful and place not in aside]
    suspects = tuple(suspect(learned, seen.tiles, place) for place in wrong)
    enough = len(inliers) >= _FEW
    return Report(
        tiles=results,
        suspects=suspects,
        lots=fit.lots,
        widening=fit.widening,
        trust=pigment_trust(learned, seen.tiles),
        cast_sd=learned.cast_sd,
        replicate_sd=repeat,
        coverage=float(np.mean([result.within for result in inliers])) if enough else None,
        warnings=tuple(_warnings(learned, seen.tiles, fit)),
    )


def _results(learned: Palette, seen: Readings, fit: Fit) -> tuple[TileResult, ...]:
    """Each tile beside what the palette has for it, and beside what the others alone would have."""
    measured = np.array([tile.shade.lab for tile in seen.tiles])
    fitted, ahead = np.empty_like(measured), np.empty_like(measured)
    for place, (tile, one) in enumerate(zip(seen.tiles, fit.left_out, strict=True)):
        plain = tile.spectrum is None
        fitted[place] = (
            fit.fitted[seen.rows[place]] if plain else learned.predict(tile.loads, tile.base, tile.state).lab
        )
        ahead[place] = measured[place] - (one.error if plain else 0.0)
    off, left_out = delta_e_2000(fitted, measured), delta_e_2000(ahead, measured)
    return tuple(
        TileResult(
            title=tile.title,
            tile=tile,
            fitted=fitted[place],
            delta_e=float(off[place]),
            # Lightness per band of a spectrum: its root mean square, near enough to a dE.
            left_out_delta_e=float(left_out[place] if tile.spectrum is None else np.sqrt(np.mean(one.error**2))),
            within=one.distance <= fit.widening * float(chdtri(one.error.size, _OUTSIDE)),
            inlier_probability=float(fit.inlier[place]),
        )
        for place, (tile, one) in enumerate(zip(seen.tiles, fit.left_out, strict=True))
    )


def pigment_trust(palette: Palette, tiles: Sequence[Tile]) -> tuple[Trust, ...]:
    """Expected CIEDE2000 of each pigment's tint ladder on the base most often cast, casting left out."""
    base = Counter(tile.base for tile in tiles).most_common(1)[0][0] if tiles else next(iter(palette.bases))
    counts = Counter(name for tile in tiles for name, load in tile.loads.items() if load > 0)
    out = []
    for place, (name, pigment) in enumerate(palette.pigments.items()):
        loads = np.zeros((len(TINT_LADDER), len(palette.pigments)))
        loads[:, place] = np.minimum(TINT_LADDER, pigment.maximum_load)
        lab, covariance = palette.predict_with_covariance(loads, base=base, casting=False)
        expected = float(expected_delta_e(lab, lab, covariance).mean())
        out.append(Trust(name, counts[name], expected, trust_in_words(expected)))
    return tuple(out)


def _unlike_twins(tiles: Sequence[Tile]) -> list[str]:
    """Tiles of one recipe that no believable scatter of casting explains."""
    out, first = [], dict[object, Tile]()
    for tile in tiles:
        twin = first.setdefault(tile.recipe, tile)
        off = 0.0 if twin is tile else float(delta_e_2000(twin.shade.lab, tile.shade.lab))
        if off > _TWINS_APART:
            out.append(f"two tiles of {twin.title} are {off:.0f} dE00 apart; one of them cannot be right.")
    return out


def _warnings(learned: Palette, tiles: Sequence[Tile], fit: Fit) -> list[str]:
    out = []
    if len(tiles) == 1:
        out.append("one tile alone fixes little; the bands stay wide until more are cast.")
    elif len({tile.recipe for tile in tiles}) == 1:
        out.append("all tiles are of one recipe; they show the scatter of casting, not what each pigment does.")
    if fit.widening > _WIDENED:
        out.append(
            "your pigments do not mix quite as the law says: recipes nobody cast may be farther off than tiles show, "
            f"so every likely range was widened {fit.widening**0.5:.1f} times."
        )
    if learned.cast_sd > _SCATTER_WARNING:
        out.append(
            f"the tiles contradict each other or the pigments' curves by about {learned.cast_sd:.1f} CIELAB units; "
            "check names, loads and photographs before relying on any recipe."
        )
    out += [lot.text(learned.label) for lot in fit.lots]
    unsure = [tile.title for tile, sound in zip(tiles, fit.inlier, strict=True) if _UNSURE < sound < 1 - _UNSURE]
    if len(unsure) > 1:
        out.append(f"one of these tiles is likely a slip, but not which: {'; '.join(unsure)}. Cast one of them again.")
    out += _unlike_twins(tiles)
    cast = {name for tile in tiles for name, load in tile.loads.items() if load > 0}
    never = [name for name in learned.pigments if name not in cast]
    if never and learned.tiles_learned == len(tiles):
        out.append(f"never cast, known from the start only: {', '.join(never)}.")
    return out
