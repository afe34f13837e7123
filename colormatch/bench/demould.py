"""The check at demould: is the fresh piece on track, what dry shade is it heading for, what went wrong if not."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from ..difference import delta_e_2000
from ..learning import dry_from_wet
from ..loads import ASTM_C979_MAXIMUM
from ..palette import Palette
from ..saying import READS_AS_ONE, than_predicted
from ..shade import Shade
from .causes import Cause, likely_causes

Track = Literal["on track", "too little known", "borderline", "off track"]

ON_TRACK, BORDERLINE = 0.90, 0.99  # of good pieces lie within; customary levels
_WIDE = 3.0  # sd in CIELAB units beyond which the band says little (a judgement: differences are then seen at a glance)


@dataclass(frozen=True, slots=True, eq=False)
class DemouldCheck:
    """A fresh piece against what was predicted for it.

    distance: squared Mahalanobis distance, in 3 dimensions; within: the share of good pieces that would lie
    nearer. delta_e: dE00 measured - predicted. dry_planned, dry_now: the dry shade of the recipe, and the one
    this piece is heading for; dry_delta_e between them. causes: best first, empty while nothing speaks
    against it. track: "too little known" where nothing speaks against it because the band is wide.
    """

    track: Track
    words: str
    distance: float
    within: float
    delta_e: float
    predicted: Shade
    measured: Shade
    dry_planned: Shade
    dry_now: Shade
    dry_delta_e: float
    causes: tuple[Cause, ...]


def check_demould(
    palette: Palette, loads: Mapping[str, float], base: str, measured: Shade, *, state: str = "demould"
) -> DemouldCheck:
    """Compare the shade of a fresh (or wetted) piece with the band predicted for its recipe.

    On track: within the 90 % region of prediction and measurement together; off track: outside the 99 %
    region. Raises UnknownNameError, LoadError or InputError.
    """
    from scipy.stats import chi2

    predicted = palette.predict(loads, base, state)
    off = measured.lab - predicted.lab
    spread = predicted.covariance + measured.covariance
    distance = float(off @ np.linalg.solve(spread, off))
    within = float(chi2.cdf(distance, 3))
    track: Track = "on track" if within <= ON_TRACK else "borderline" if within <= BORDERLINE else "off track"
    if track == "on track" and predicted.sd > _WIDE:
        track = "too little known"
    causes = likely_causes(palette, loads, base, measured, state) if within > ON_TRACK else ()
    dry_planned = palette.predict(loads, base)
    dry_now = _heading_for(palette, loads, base, measured, state, causes)
    check = DemouldCheck(
        track=track,
        words="",
        distance=distance,
        within=within,
        delta_e=float(delta_e_2000(measured.lab, predicted.lab)),
        predicted=predicted,
        measured=measured,
        dry_planned=dry_planned,
        dry_now=dry_now,
        dry_delta_e=float(delta_e_2000(dry_now.lab, dry_planned.lab)),
        causes=causes,
    )
    return _with_words(check)


def _heading_for(
    palette: Palette,
    loads: Mapping[str, float],
    base: str,
    measured: Shade,
    state: str,
    causes: tuple[Cause, ...],
) -> Shade:
    """The dry shade, over "all as the sheet says" and the likely causes, each as likely as it is.

    A cause that puts more into the piece than may be said of it (10 %) is left out.
    """
    odds, shades = [0.0], [dry_from_wet(palette, measured, loads, base=base, state=state)]
    for cause in causes:
        if cause.kind == "drying":  # its shade says nothing of the recipe
            odds.append(cause.odds)
            shades.append(palette.predict(loads, base))
        elif sum(cause.loads.values()) <= ASTM_C979_MAXIMUM:
            odds.append(cause.odds)
            shades.append(dry_from_wet(palette, measured, cause.loads, base=base, state=state))
    weight = np.exp(np.array(odds) - max(odds))
    weight /= weight.sum()
    labs = np.array([shade.lab for shade in shades])
    mean = weight @ labs
    within = np.tensordot(weight, np.array([shade.covariance for shade in shades]), axes=1)
    return Shade(mean, covariance=within + (labs - mean).T * weight @ (labs - mean))


def _with_words(check: DemouldCheck) -> DemouldCheck:
    heading = f"Dry, it is heading for {_numbers(check.dry_now)}"
    if check.dry_delta_e >= READS_AS_ONE:
        heading += f", {check.dry_delta_e:.1f} dE00 from the plan"
    seen = than_predicted(check.measured.lab, check.predicted.lab)
    words = f"{check.track.capitalize()}: {seen} ({check.delta_e:.1f} dE00). {heading}."
    if check.causes:
        words += " Most likely: " + "; or ".join(cause.words for cause in check.causes[:2]) + "."
    elif check.within > ON_TRACK:
        words += " No single slip explains it: check the photograph, then the recipe that was really weighed."
    if check.within > ON_TRACK:
        words += " If all was as the sheet says, keep the piece as a tile, so that the palette learns from it."
    elif check.predicted.sd > _WIDE:
        words += (
            f" The band is wide (± {check.predicted.sd:.0f} in each number): this says little until tiles of these "
            "pigments have been learned."
        )
    return replace(check, words=words)


def _numbers(shade: Shade) -> str:
    lightness, a, b = (round(float(x)) + 0 for x in shade.lab)
    return f"L* {lightness}, a* {a}, b* {b} (each ± {max(shade.sd, 1):.0f})"
