"""Write the starter pigments and bases that colormatch ships (needs miepython; never imported at run time).

Run from the project root: ``python .builders/starter_pigments.py``.  It prints what the colours come to.

Scale.  k and s are per unit load (g pigment per g dry cement), relative to the white base, whose S is 1.
* Volume: 1 g of cement with 0.4 g of water sets to about 1 / 3.15 + 0.4 = 0.717 cm3 of paste, so the volume
  fraction of a pigment is load / density / 0.717 (the pigment's own volume is left out: under 3 %).
* The dry white paste scatters with S about 40 per mm (mu_s' about 53 per mm).  This is an ESTIMATE, from memory:
  it is the value at which 2 % of hematite of ordinary size gives an ordinary terracotta.  No measurement was found.
* Medium of the grains: hydrate, n = 1.55.  Air left in gel pores lowers it; with 1.38 instead, 2 % of red
  changes by under 2 dE*ab, far inside the prior.
"""

from __future__ import annotations

import datetime
import sys
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import PchipInterpolator

ROOT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(ROOT))

from colormatch.colorimetry import reflectance_to_lab  # noqa: E402
from colormatch.kubelka_munk import ks_from_reflectance, reflectance_from_ks  # noqa: E402
from tests.worlds.powder import ks_of, lognormal_powder, mineral  # noqa: E402

Array = NDArray[np.float64]
DATA = ROOT / "colormatch" / "data"
BANDS = np.arange(400.0, 701.0, 10.0)
PASTE_CM3_PER_G = 1 / 3.15 + 0.4
WHITE_PASTE_S_PER_UM = 0.040
MEDIUM_INDEX = 1.55
C979 = "ASTM C979 clause 1.4: at most 10 % of the cement"
BAND_POSITIONS = "band positions after the sample descriptions of the USGS Spectral Library 7 (doi 10.3133/ds1035)"


def from_mie(name: str, *, density: float, median_um: float, spread: float, dispersed: float) -> dict[str, Any]:
    """k and s of a powder with published indices; `dispersed` is the share of the ideal effect reached."""
    absorption, scattering = ks_of(
        lognormal_powder(mineral(name), median_um=median_um, spread=spread, medium=MEDIUM_INDEX)
    )
    scale = dispersed / (density * PASTE_CM3_PER_G * WHITE_PASTE_S_PER_UM)
    return {"from_memory": False, "prior_sd_log": 0.35, "density_g_cm3": density,
            "k": absorption * scale, "s": scattering * scale}


def from_masstone(points: dict[int, float], *, strength: float, slope: float, density: float) -> dict[str, Any]:
    """k and s from a remembered masstone: reflectance at some wavelengths, and s at 550 nm per unit load.

    s falls as wavelength to the power -slope; k is what gives the masstone (Kubelka-Munk).
    """
    nodes = np.array(list(points), dtype=np.float64)
    logit = PchipInterpolator(nodes, np.log(np.array(list(points.values()))))
    scattering = strength * (BANDS / 550.0) ** -slope
    return {"from_memory": True, "prior_sd_log": 0.7, "density_g_cm3": density,
            "k": ks_from_reflectance(np.exp(logit(BANDS))) * scattering, "s": scattering}


def pigments() -> dict[str, dict[str, Any]]:
    """The nine starter pigments, in their public order."""
    red = from_mie("hematite", density=5.1, median_um=0.15, spread=1.4, dispersed=1.0) | {
        "colour_index": "PR101", "source": "Mie theory; hematite n, k of Querry, CRDC-CR-85034 (1985); grains of"
        " 0.15 um, geometric spread 1.4 (from memory)"}
    yellow = from_masstone(
        {400: .070, 430: .073, 460: .080, 480: .090, 500: .115, 520: .165, 540: .245, 560: .335, 580: .405,
         600: .435, 620: .430, 650: .418, 670: .430, 700: .490},
        strength=9.0, slope=0.8, density=4.05) | {
        "colour_index": "PY42", "source": f"from memory: goethite masstone; {BAND_POSITIONS}: 494 and 661 nm"}
    black = from_masstone(
        {400: .035, 450: .036, 510: .035, 550: .036, 600: .037, 650: .037, 700: .036},
        strength=8.0, slope=0.3, density=4.8) | {
        "colour_index": "PBk11", "source": f"from memory: magnetite masstone; {BAND_POSITIONS}: 510 nm, under 2 %."
        " Querry's k of magnetite was not used: it gives far too pale a black"}
    white = from_mie("rutile", density=4.2, median_um=0.25, spread=1.4, dispersed=0.6) | {
        "colour_index": "PW6", "source": "Mie theory; rutile n of DeVore, J. Opt. Soc. Am. 41 (1951) 416; grains of"
        " 0.25 um, spread 1.4, 0.6 of the ideal scattering for flocculation (from memory);"
        " k: a faint blue-violet edge (from memory)"}
    white["k"] = 0.02 + 1.6 * np.exp(-(BANDS - 400.0) / 9.0)
    green = from_masstone(
        {400: .118, 410: .121, 430: .102, 460: .088, 480: .098, 500: .140, 520: .185, 540: .200, 560: .170,
         580: .125, 600: .102, 620: .102, 650: .120, 680: .155, 700: .200},
        strength=7.0, slope=0.5, density=5.2) | {
        "colour_index": "PG17", "source": "from memory: chromium(III) oxide masstone, bands near 460 and 605 nm"}
    cobalt = from_masstone(
        {400: .330, 440: .440, 460: .420, 480: .340, 500: .255, 520: .170, 545: .110, 565: .095, 588: .070,
         620: .066, 640: .080, 660: .130, 680: .250, 700: .400},
        strength=5.5, slope=0.6, density=4.3) | {
        "colour_index": "PB28", "source": f"from memory: cobalt aluminate masstone; {BAND_POSITIONS}: reflectance"
        " peak 440 nm, bands 481 and 588 nm"}
    ultramarine = from_masstone(
        {400: .210, 430: .310, 450: .345, 470: .270, 490: .165, 510: .090, 530: .056, 550: .043, 580: .036,
         610: .035, 640: .040, 670: .060, 700: .120},
        strength=3.4, slope=0.4, density=2.35) | {
        "colour_index": "PB29", "source": "from memory: ultramarine masstone, one broad band near 600 nm"}
    carbon = from_mie("carbon", density=1.8, median_um=0.15, spread=1.5, dispersed=0.7) | {
        "colour_index": "PBk7", "max_load": 0.02, "max_load_source": "masonry guidance: 2 % of the cement for carbon black",
        "source": "Mie theory; carbon n, k of Hagemann, Gudat & Kunz, J. Opt. Soc. Am. 65 (1975) 742; aggregates of"
        " 0.15 um, spread 1.5, 0.7 of the ideal effect for poor dispersion (from memory)"}
    parts = {"red-iron-oxide": (0.55, red), "yellow-iron-oxide": (0.25, yellow), "black-iron-oxide": (0.20, black)}
    brown = {"from_memory": True, "prior_sd_log": 0.7, "colour_index": "PBr6",
             "density_g_cm3": 1 / sum(share / part["density_g_cm3"] for share, part in parts.values()),
             "source": "from memory: blend by mass of 55 % red, 25 % yellow and 20 % black iron oxide above",
             "k": sum(share * part["k"] for share, part in parts.values()),
             "s": sum(share * part["s"] for share, part in parts.values())}
    return {
        "red-iron-oxide": red, "yellow-iron-oxide": yellow, "black-iron-oxide": black, "brown-iron-oxide": brown,
        "titanium-white": white, "chromium-oxide-green": green, "cobalt-blue": cobalt,
        "ultramarine-blue": ultramarine, "carbon-black": carbon,
    }


def bases() -> dict[str, dict[str, Any]]:
    """White and grey cement paste, dry; K0 in units of the white base's S, and the scatter factor."""
    grey_reflectance = 0.295 + 0.040 * np.clip((BANDS - 430.0) / 200.0, -0.6, 0.8)
    grey_scatter = 0.8
    return {
        "white-cement": {"scatter": 1.0, "k": 0.022 + 0.055 * np.exp(-(BANDS - 400.0) / 90.0), "prior_sd_log": 0.4,
                         "from_memory": True, "source": "from memory: dry white cement paste, L* about 90, b* about 4"},
        "grey-cement": {"scatter": grey_scatter, "k": grey_scatter * ks_from_reflectance(grey_reflectance),
                        "prior_sd_log": 0.5, "from_memory": True,
                        "source": "from memory: dry grey cement paste, L* about 62, slightly warm"},
    }


def toml_value(value: Any) -> str:
    """One TOML value; arrays to 5 significant digits, six a line."""
    if isinstance(value, np.ndarray):
        texts = [f"{float(f'{number:.5g}')!r}" for number in value]
        lines = [", ".join(texts[start : start + 11]) for start in range(0, len(texts), 11)]
        return "[\n    " + ",\n    ".join(lines) + ",\n]"
    if isinstance(value, bool):
        return str(value).lower()
    return f"{round(value, 3)!r}" if isinstance(value, float) else f'"{value}"'


def write_records(path: Path, title: str, records: dict[str, dict[str, Any]], order: tuple[str, ...]) -> None:
    """Write named records as TOML under the one-line title."""
    lines = [f"# {title} - {datetime.date.today().isoformat()}"]
    for name, record in records.items():
        lines += ["", f"[{name}]", *(f"{key} = {toml_value(record[key])}" for key in order)]
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")


def print_colours(powders: dict[str, dict[str, Any]], pastes: dict[str, dict[str, Any]]) -> None:
    """The Lab of each pigment at some loads on both bases (dry, D65, 2 degree)."""
    for base_name, base in pastes.items():
        print(f"\n{base_name:22s}", reflectance_to_lab(reflectance_from_ks(base["k"] / base["scatter"])).round(1))
        for name, pigment in powders.items():
            texts = []
            for load in (0.005, 0.01, 0.02, 0.03, 0.05):
                q = (base["k"] + load * pigment["k"]) / (base["scatter"] + load * pigment["s"])
                lightness, a, b = reflectance_to_lab(reflectance_from_ks(q))
                texts.append(f"{100 * load:g} % ({lightness:.1f} {a:.1f} {b:.1f})")
            print(f"{name:22s}", "  ".join(texts))


def main() -> None:
    powders, pastes = pigments(), bases()
    for record in powders.values():
        record.setdefault("max_load", 0.10)
        record.setdefault("max_load_source", C979)
    source = "Mie theory where n, k are published, else from memory; script .builders/starter_pigments.py - version 1"
    write_records(
        DATA / "starter_pigments.toml",
        f"k and s of 9 pigments per unit load, S of the white base = 1, 400..700 nm by 10 - {source}", powders,
        ("colour_index", "density_g_cm3", "max_load", "max_load_source", "from_memory", "prior_sd_log", "source",
         "k", "s"))
    write_records(
        DATA / "starter_bases.toml",
        f"K of 2 bases, S of the white base = 1, 400..700 nm by 10; S of a base is its scatter factor - {source}", pastes,
        ("scatter", "from_memory", "prior_sd_log", "source", "k"))
    print_colours(powders, pastes)


if __name__ == "__main__":
    main()
