"""A maker's season in a simulated studio: cast tiles, learn, and compare with mixtures nobody has cast."""

from dataclasses import dataclass

import numpy as np

import colormatch as cm
from tests.worlds.casting import World, random_loads, training_loads

SIX = (
    "red-iron-oxide",
    "yellow-iron-oxide",
    "black-iron-oxide",
    "titanium-white",
    "chromium-oxide-green",
    "ultramarine-blue",
)
JARS = ("titanium-white", "jar-1", "jar-2", "jar-3", "jar-4", "jar-5")  # bought without a name
PHOTO_SD = 0.7
WHITE, GREY = "white-cement", "grey-cement"


@dataclass(frozen=True)
class Trial:
    """What held-out mixtures show: CIEDE2000 (n,), and whether each photographed tile lies in its 90 % region."""

    delta_e: np.ndarray
    within: np.ndarray
    palette: object
    report: object

    def __str__(self):
        return (
            f"mean {self.delta_e.mean():.2f}, p95 {np.quantile(self.delta_e, 0.95):.2f} dE00, "
            f"{self.within.mean():.0%} within, cast_sd {self.palette.cast_sd:.2f}"
        )


def palette_for(pigments):
    """The starter palette, grown by pigments it does not know."""
    palette = cm.starter_palette()
    for name in pigments:
        if name not in palette.pigments:
            palette = palette.with_pigment(name)
    return palette


def tiles_from(world, mixtures, rng, *, base=WHITE, state="dry", cast_sd=0.0, photo_sd=PHOTO_SD):
    """Tiles of the given mixtures, photographed."""
    return [
        cm.Tile(
            base=base,
            loads=loads,
            shade=cm.Shade(world.cast(loads, base, state, rng=rng, cast_sd=cast_sd, photo_sd=photo_sd), sd=photo_sd),
            state=state,
        )
        for loads in mixtures
    ]


def season(
    seed,
    *,
    pigments=SIX,
    base=WHITE,
    cast_sd=0.0,
    distance=1.0,
    wet_tiles=0,
    state="dry",
    held_out=100,
    known=True,
    photo_sd=PHOTO_SD,
    kind=World,
):
    """Cast the 24 tiles (and wet ones), learn, and predict `held_out` mixtures in `state`.

    known=False: nothing is known of the pigments beforehand, whatever their names. kind: the class of world.
    """
    world = kind(seed, pigments=pigments, distance=distance)
    rng = np.random.default_rng([seed, 24])
    mixtures = training_loads(pigments)
    scatter = {"cast_sd": cast_sd, "photo_sd": photo_sd}
    tiles = tiles_from(world, mixtures, rng, base=base, **scatter)
    every = max(1, len(mixtures) // wet_tiles) if wet_tiles else 1
    wet = mixtures[::every][:wet_tiles]
    tiles += tiles_from(world, wet, rng, base=base, state="wet", **scatter)
    palette = palette_for(pigments)
    if not known:
        palette, tiles = without_names(palette, tiles)
    learned, report = cm.learn(palette, tiles)
    return predict(world, learned, report, rng, base=base, state=state, count=held_out, known=known, **scatter)


def predict(
    world,
    learned,
    report,
    rng,
    *,
    base=WHITE,
    state="dry",
    cast_sd=0.0,
    count=100,
    known=True,
    photo_sd=PHOTO_SD,
):
    """Held-out mixtures: the error against the truth, and coverage of tiles cast and photographed."""
    mixtures = random_loads(rng, world.pigments, count)
    alias = (lambda name: name) if known else (lambda name: f"no-name-{name}")
    rows = np.array([learned.load_vector({alias(n): x for n, x in loads.items()}) for loads in mixtures])
    lab, covariance = learned.predict_with_covariance(rows, base=base, state=state)
    truth = world.lab_many(np.array([world.row(loads) for loads in mixtures]), base, state)
    seen = truth + np.hypot(photo_sd, cast_sd) * rng.standard_normal(truth.shape)
    return Trial(
        cm.delta_e_2000(lab, truth),
        inside(seen - lab, covariance + photo_sd**2 * np.eye(3)),
        learned,
        report,
    )


def inside(error, covariance, point=6.2514):
    """Whether errors (n, 3) lie in the 90 % region of covariance (n, 3, 3); 90 % point of chi-squared, 3 degrees."""
    return np.einsum("ni,ni->n", error, np.linalg.solve(covariance, error[..., None])[..., 0]) <= point


def without_names(palette, tiles):
    """The same tiles with pigments about which nothing is known."""
    for name in dict.fromkeys(name for tile in tiles for name in tile.loads):
        palette = palette.with_pigment(f"no-name-{name}")
    renamed = [
        cm.Tile(
            base=tile.base,
            loads={f"no-name-{name}": load for name, load in tile.loads.items()},
            shade=tile.shade,
            state=tile.state,
        )
        for tile in tiles
    ]
    return palette, renamed


def pooled(trials):
    """Mean and 95th percentile of CIEDE2000 over all trials, and the share within."""
    delta_e = np.concatenate([trial.delta_e for trial in trials])
    within = np.concatenate([trial.within for trial in trials])
    return float(delta_e.mean()), float(np.quantile(delta_e, 0.95)), float(within.mean())
