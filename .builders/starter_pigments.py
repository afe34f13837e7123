"""Write the starter pigments and bases that colormatch ships (needs miepython; never imported at run time).

Run from the project root: ``python .builders/starter_pigments.py``.  It prints what the colours come to.

Scale.  k and s are per unit load (g pigment per g dry cement), relative to the white base, whose S is 1.

* Volume: 1 g of cement with 0.4 g of water sets to about 1 / 3.15 + 0.4 = 0.717 cm3 of paste, so the volume
  fraction of a pigment is load / density / 0.717 (the pigment's own volume is left out: under 3 %).
* The dry white paste scatters with S about 40 per mm (mu_s' about 53 per mm).  This is an ESTIMATE, from
  memory: it is the value at which 2 % of hematite of ordinary size gives an ordinary terracotta.  No
  measurement was found.
* Medium of the grains: hydrate, n = 1.55.  Air left in gel pores lowers it; with 1.38 instead, 2 % of red
  changes by under 2 dE*ab, far inside the prior.
"""

from __future__ import annotations

import datetime
import sys
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import PchipInterpolator

ROOT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(ROOT))

from colormatch.colorimetry import reflectance_to_lab  # noqa: E402
from colormatch.kubelka_munk import ks_from_reflectance, reflectance_from_ks  # noqa: E402
from tests.worlds.powder import ks_of, lognormal_powder, mineral, read_columns  # noqa: E402

Array = NDArray[np.float64]
Record = dict[str, Any]
DATA = ROOT / "colormatch" / "data"
BANDS = np.arange(400.0, 701.0, 10.0)
PASTE_CM3_PER_G = 1 / 3.15 + 0.4
WHITE_PASTE_S_PER_UM = 0.040
MEDIUM_INDEX = 1.55
C979 = "ASTM C979 clause 1.4: at most 10 % of the cement"
MASONRY = "masonry guidance: carbon black at most 2 % of the cement"
BROWN_SHARES = {"red-iron-oxide": 0.55, "yellow-iron-oxide": 0.25, "black-iron-oxide": 0.20}


class Computed(NamedTuple):
    """A powder with published indices; `dispersed` is the share of the ideal effect that is reached."""

    colour_index: str
    mineral: str
    density: float
    median_um: float
    spread: float
    dispersed: float
    source: str


class Remembered(NamedTuple):
    """A masstone from memory; s is `strength` at 550 nm and falls as wavelength to the power -slope."""

    colour_index: str
    density: float
    strength: float
    slope: float
    note: str


RECIPES: dict[str, Computed | Remembered | None] = {
    "red-iron-oxide": Computed(
        "PR101", "hematite", 5.1, 0.15, 1.4, 1.0,
        "hematite n, k of Querry, CRDC-CR-85034 (1985)",
    ),
    "yellow-iron-oxide": Remembered(
        "PY42", 4.05, 9.0, 0.8, "goethite; bands at 494 and 661 nm as the USGS library gives them",
    ),
    "black-iron-oxide": Remembered(
        "PBk11", 4.8, 8.0, 0.3,
        "magnetite; faint band at 510 nm as the USGS library gives it. The published k of magnetite"
        " (Querry 1985) was not used: it gives far too pale a black",
    ),
    "brown-iron-oxide": None,
    "titanium-white": Computed(
        "PW6", "rutile", 4.2, 0.25, 1.4, 0.6,
        "rutile n of DeVore, J. Opt. Soc. Am. 41 (1951) 416; k, a faint blue-violet edge, from memory",
    ),
    "chromium-oxide-green": Remembered(
        "PG17", 5.2, 7.0, 0.5, "chromium(III) oxide; bands near 460 and 605 nm",
    ),
    "cobalt-blue": Remembered(
        "PB28", 4.3, 5.5, 0.6,
        "cobalt aluminate; peak at 440 nm, bands at 481 and 588 nm as the USGS library gives them",
    ),
    "ultramarine-blue": Remembered("PB29", 2.35, 3.4, 0.4, "one broad band near 600 nm"),
    "carbon-black": Computed(
        "PBk7", "carbon", 1.8, 0.15, 1.5, 0.7,
        "carbon n, k of Hagemann, Gudat & Kunz, J. Opt. Soc. Am. 65 (1975) 742",
    ),
}  # fmt: skip


def compute(recipe: Computed) -> Record:
    """k and s of a powder with published indices."""
    absorption, scattering = ks_of(
        lognormal_powder(mineral(recipe.mineral), median_um=recipe.median_um, spread=recipe.spread, medium=MEDIUM_INDEX)
    )
    scale = recipe.dispersed / (recipe.density * PASTE_CM3_PER_G * WHITE_PASTE_S_PER_UM)
    # DeVore gives no k of rutile; the faint edge is added in the units of the result
    edge = 0.02 + 1.6 * np.exp(-(BANDS - 400.0) / 9.0) if recipe.mineral == "rutile" else 0.0
    grains = f"grains of {recipe.median_um} um, spread {recipe.spread}, dispersed {recipe.dispersed}"
    return {
        "colour_index": recipe.colour_index,
        "density_g_cm3": recipe.density,
        "from_memory": False,
        "prior_sd_log": 0.35,
        "source": f"Mie theory: {recipe.source}; {grains} (from memory)",
        "k": absorption * scale + edge,
        "s": scattering * scale,
    }


def remember(recipe: Remembered, masstone: Array) -> Record:
    """k and s that give the remembered masstone under Kubelka-Munk."""
    scattering = recipe.strength * (BANDS / 550.0) ** -recipe.slope
    return {
        "colour_index": recipe.colour_index,
        "density_g_cm3": recipe.density,
        "from_memory": True,
        "prior_sd_log": 0.7,
        "source": f"from memory: {recipe.note}",
        "k": ks_from_reflectance(masstone) * scattering,
        "s": scattering,
    }


def blend(records: dict[str, Record]) -> Record:
    """The brown: a stated blend by mass of the red, yellow and black above."""
    parts = [(share, records[name]) for name, share in BROWN_SHARES.items()]
    return {
        "colour_index": "PBr6",
        "density_g_cm3": 1 / sum(share / part["density_g_cm3"] for share, part in parts),
        "from_memory": True,
        "prior_sd_log": 0.7,
        "source": "from memory: blend by mass of "
        + ", ".join(f"{share:.0%} {name}" for name, share in BROWN_SHARES.items()),
        "k": sum(share * part["k"] for share, part in parts),
        "s": sum(share * part["s"] for share, part in parts),
    }


def pigments() -> dict[str, Record]:
    """The nine starter pigments, in their public order."""
    table = read_columns(Path(__file__).with_name("masstones.csv"))
    nodes = table["wavelength_nm"]
    records: dict[str, Record] = {}
    for name, recipe in RECIPES.items():
        if isinstance(recipe, Computed):
            records[name] = compute(recipe)
        elif isinstance(recipe, Remembered):
            records[name] = remember(recipe, np.exp(PchipInterpolator(nodes, np.log(table[name]))(BANDS)))
    records["brown-iron-oxide"] = blend(records)
    for name, record in records.items():
        carbon = name == "carbon-black"
        record |= {"max_load": 0.02 if carbon else 0.10, "max_load_source": MASONRY if carbon else C979}
    return {name: records[name] for name in RECIPES}


def bases() -> dict[str, Record]:
    """White and grey cement paste, dry; K0 in units of the white base's S, and the scatter factor."""
    grey_reflectance = 0.295 + 0.040 * np.clip((BANDS - 430.0) / 200.0, -0.6, 0.8)
    return {
        "white-cement": {
            "scatter": 1.0,
            "from_memory": True,
            "prior_sd_log": 0.4,
            "source": "from memory: dry white cement paste, L* about 90, b* about 4",
            "k": 0.022 + 0.055 * np.exp(-(BANDS - 400.0) / 90.0),
        },
        "grey-cement": {
            "scatter": 0.8,
            "from_memory": True,
            "prior_sd_log": 0.5,
            "source": "from memory: dry grey cement paste, L* about 63, slightly warm",
            "k": 0.8 * ks_from_reflectance(grey_reflectance),
        },
    }


def toml_value(value: Any) -> str:
    """One TOML value; arrays to 5 significant digits, eleven a line."""
    if isinstance(value, np.ndarray):
        texts = [f"{float(f'{number:.5g}')!r}" for number in value]
        lines = [", ".join(texts[start : start + 11]) for start in range(0, len(texts), 11)]
        return "[\n    " + ",\n    ".join(lines) + ",\n]"
    if isinstance(value, bool):
        return str(value).lower()
    return f"{round(value, 3)!r}" if isinstance(value, float) else f'"{value}"'


def write_records(path: Path, title: str, records: dict[str, Record], order: tuple[str, ...]) -> None:
    """Write named records as TOML under the one-line title."""
    source = "Mie theory where n, k are published, else from memory; .builders/starter_pigments.py"
    lines = [f"# {title} - {source} - version 1 - {datetime.date.today().isoformat()}"]
    for name, record in records.items():
        lines += ["", f"[{name}]", *(f"{key} = {toml_value(record[key])}" for key in order)]
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")


def print_colours(powders: dict[str, Record], pastes: dict[str, Record]) -> None:
    """The Lab of each pigment at some loads on both bases (dry, D65, 2 degree)."""
    for base_name, base in pastes.items():
        blank = reflectance_to_lab(reflectance_from_ks(base["k"] / base["scatter"]))
        print(f"\n{base_name:22s}", blank.round(1))
        for name, pigment in powders.items():
            texts = []
            for load in (0.005, 0.01, 0.02, 0.03, 0.05):
                q = (base["k"] + load * pigment["k"]) / (base["scatter"] + load * pigment["s"])
                lightness, a, b = reflectance_to_lab(reflectance_from_ks(q))
                texts.append(f"{100 * load:g} % ({lightness:.1f} {a:.1f} {b:.1f})")
            print(f"{name:22s}", "  ".join(texts))


def main() -> None:
    powders, pastes = pigments(), bases()
    write_records(
        DATA / "starter_pigments.toml",
        "k and s of 9 pigments per unit load, S of the white base = 1, 400..700 nm by 10",
        powders,
        ("colour_index", "density_g_cm3", "max_load", "max_load_source", "from_memory", "prior_sd_log",
         "source", "k", "s"),
    )  # fmt: skip
    write_records(
        DATA / "starter_bases.toml",
        "K of 2 bases, S of the white base = 1, 400..700 nm by 10; S of a base is its scatter factor",
        pastes,
        ("scatter", "from_memory", "prior_sd_log", "source", "k"),
    )
    print_colours(powders, pastes)


if __name__ == "__main__":
    main()
