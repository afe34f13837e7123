"""A tour for a colour scientist: python tests/tour/tour.py

Ladder, learning from a table, many targets, lights, K and S with their uncertainty, to and from colour-science and
pandas. The tiles beside this file are invented: cast in a simulated studio, photographed with a noise of 0.7.
"""

from pathlib import Path

import colour
import numpy as np
import pandas as pd

import colormatch as cm

TILES = Path(__file__).with_name("tiles.csv")

# 1. What is known before any tile: a palette, one Gaussian over all optical constants.
palette = cm.starter_palette()
before = palette.predict({"red-iron-oxide": 0.02}, base="white-cement")
print("2 % red iron oxide in white cement, before any tile:", before)

# 2. Learn from a table of CIELAB (D65, 2 degree). A data frame is taken as well as a CSV file.
tiles = cm.read_tiles(TILES)
assert len(cm.Tile.from_table(pd.read_csv(TILES).fillna(0))) == len(tiles)
learned, report = cm.learn(palette, tiles)
print("after", len(tiles), "tiles:", learned.predict({"red-iron-oxide": 0.02}, base="white-cement"))
table = pd.DataFrame(report.to_table())
print(table[["tile", "dE00", "dE00 leave-one-out", "within 90 %"]].head(3).to_string(index=False))

# 3. A tint ladder: the shade and its standard deviation from weak to strong.
for load in (0.005, 0.01, 0.02, 0.05):
    print(f"{load:.1%}", learned.predict({"yellow-iron-oxide": load}, base="white-cement"))

# 4. The optical constants themselves, with their uncertainty, on the 31 bands of 400..700 nm.
curves = learned.curves("red-iron-oxide")
print(
    "K of red iron oxide at 450 and 650 nm:",
    curves.k[5].round(1),
    "+-",
    curves.k_sd[5].round(1),
    ",",
    curves.k[25].round(2),
)

# 5. A hundred targets at once; predictions are vectorised too, rows of loads in the order of palette.pigments.
rng = np.random.default_rng(1)
loads = np.zeros((100, len(learned.pigments)))
loads[:, :2] = rng.uniform(0, 0.02, (100, 2))
targets = [cm.Shade(lab) for lab in learned.predict_many(loads, base="white-cement", state="dry")]
found = cm.find_recipes(learned, targets, base="white-cement", limits=cm.Limits(cement_g=780.0, scale_step_g=0.01))
off = [recipes[0].delta_e for recipes in found]
print(f"100 targets: the nearest recipe is {np.median(off):.2f} dE00 off by the model, {max(off):.2f} at most")

# 6. Another light: by a plain name, by colour-science's, or measured.
recipe = cm.find_recipes(learned, cm.Shade((56, 12, 18)), base="white-cement")[0]
shown = learned.reflectance(recipe.loads, base="white-cement")
for light in ("bulb", "FL2", colour.SDS_ILLUMINANTS["LED-B3"]):
    lamp = cm.lamp(light)
    print(f"from daylight to {lamp.name} the recipe itself changes by {float(lamp.inconstancy(shown)):.1f} dE00")

# 7. A spectrum as a target, and one given back as colour-science's own class.
wanted = colour.SDS_COLOURCHECKERS["ISO 17321-1"]["dark skin"]
lab = colour.XYZ_to_Lab(
    colour.sd_to_XYZ(wanted) / 100, colour.CCS_ILLUMINANTS["CIE 1931 2 Degree Standard Observer"]["D65"]
)
by_spectrum = cm.find_recipes(learned, cm.Shade(lab, sd=0.5), base="grey-cement", spectrum=wanted)[0]
print("dark skin:", by_spectrum, "metamerism index", round(by_spectrum.metamerism, 2))
print(
    type(learned.spectrum(recipe.loads, base="white-cement")).__name__,
    "of the recipe above; Munsell",
    cm.munsell(recipe.predict().lab),
)

# 8. Recipes from elsewhere are written in many ways; the basis is always said.
print(
    cm.to_loads({"red-iron-oxide": 15}, "g per kg cement"), cm.from_loads({"red-iron-oxide": 0.015}, "% of total mix")
)

# 9. What to cast next for the shades in demand.
for tile in cm.next_tiles(learned, shades=targets[:6], count=2):
    print(tile.title, f"{tile.before:.2f} -> {tile.after:.2f} dE00")
