"""colour-science, the field's own library, imported when it is first asked for (it takes about two seconds).

Nothing on the way to the first page or to a recipe asks for it; the page warms it in the background. Our own
code stays where derivatives, covariances or batches need it, held against this library in tests.
"""

from __future__ import annotations

import warnings
from functools import cache, lru_cache
from threading import Thread
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from .arrays import FloatArray, finite_array
from .colorimetry import adaptation, lab_to_xyz, linear_rgb_to_xyz, xyz_to_lab, xyz_to_linear_rgb
from .difference import delta_e_2000
from .saying import READS_AS_TWO

DEFICIENCIES = {"protanopia": "Protanomaly", "deuteranopia": "Deuteranomaly", "tritanopia": "Tritanomaly"}
_NEUTRAL = 0.5  # Munsell chroma below which a colour is called neutral; common practice, no source
_BLACK, _WHITE = 1.0, 97.0  # L* between which the Munsell renotation has data: value 0.1 to 9.7


@cache
def colour_science() -> Any:
    """The module `colour`; what it has to say about optional parts on its import is not the maker's business."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import colour
    return colour


def is_here() -> bool:
    """Whether it is imported already, so that a page need not wait for it."""
    return colour_science.cache_info().currsize > 0


def warm() -> Thread:
    """Import it in the background; returns the thread, for tests."""
    thread = Thread(target=colour_science, name="colour-science", daemon=True)
    thread.start()
    return thread


def munsell(lab: ArrayLike) -> str | None:
    """Munsell notation (ASTM D1535) of one CIELAB colour (3,), D65, such as `5.6YR 5.0/4.2`; None outside its data.

    The notation is defined under illuminant C: adapted by CAT16. Renotation of Newhall, Nickerson & Judd (1943).
    """
    return _munsell(tuple(finite_array(lab, name="The colour", shape=(3,)).tolist()))


def seen_with(one: ArrayLike, two: ArrayLike) -> dict[str, float]:
    """CIEDE2000 between two CIELAB colours (3,) as seen with each common colour-vision deficiency, complete.

    Machado, Oliveira & Fernandes, IEEE Trans. Vis. Comput. Graph. 15(6) (2009) 1291-1298, in linear sRGB.
    """
    pair = np.stack([finite_array(lab, name="The colour", shape=(3,)) for lab in (one, two)])
    rgb = xyz_to_linear_rgb(lab_to_xyz(pair))
    seen = {}
    for name in DEFICIENCIES:
        first, second = xyz_to_lab(linear_rgb_to_xyz(np.clip(rgb @ _deficiency(name).T, 0.0, None)))
        seen[name] = float(delta_e_2000(first, second))
    return seen


def two_to_every_eye(one: ArrayLike, two: ArrayLike) -> str:
    """Whether two tones read as two, also with the common colour-vision deficiencies, in a sentence."""
    lost = [name for name, far in seen_with(one, two).items() if far < READS_AS_TWO]
    if delta_e_2000(one, two) < READS_AS_TWO:
        return "The two tones pass for one at arm's length."
    if lost:
        return (
            f"Two tones to most, but with {' or '.join(lost)} they pass for one: set them further apart in lightness."
        )
    return "The two tones read as two, also with the common colour-vision deficiencies."


@lru_cache(maxsize=512)
def _munsell(lab: tuple[float, float, float]) -> str | None:
    if not _BLACK < lab[0] < _WHITE:
        return None
    colour = colour_science()
    under_c = colour.xy_to_XYZ(colour.CCS_ILLUMINANTS["CIE 1931 2 Degree Standard Observer"]["C"])
    xyz = lab_to_xyz(np.array(lab)) / 100 @ adaptation(lab_to_xyz([100.0, 0, 0]) / 100, under_c).T
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # its test for real colours is too narrow for dark ones
        try:
            notation = str(colour.xyY_to_munsell_colour(colour.XYZ_to_xyY(xyz)))
        except (ValueError, RuntimeError, AssertionError):
            return None
    hue_and_value, _, chroma = notation.partition("/")
    return f"N{hue_and_value.split()[-1]}" if chroma and float(chroma) < _NEUTRAL else notation


@cache
def _deficiency(name: str) -> FloatArray:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # tritanopia is an approximation in the paper itself
        return np.asarray(colour_science().matrix_cvd_Machado2009(DEFICIENCIES[name], 1.0), dtype=np.float64)
