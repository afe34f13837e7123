"""The check at demould in simulated studios whose optics are not the package's own.

A studio casts its tiles dry and eight of them at demould, learns, and then casts mixtures it never cast before:
as the sheet says, and with one gross slip.
"""

from __future__ import annotations

import numpy as np
import pytest
from worlds.casting import World, random_loads, training_loads

import colormatch as cm
from colormatch.bench.demould import check_demould

PIGMENTS = ("red-iron-oxide", "yellow-iron-oxide", "black-iron-oxide", "titanium-white")
BASE = "white-cement"
PHOTO_SD, CAST_SD = 0.7, 0.5


def cast(world, rng, loads, state):
    lab = world.cast(loads, BASE, state, rng=rng, cast_sd=CAST_SD, photo_sd=PHOTO_SD, scale_step_g=0.1)
    return cm.Shade(lab, sd=PHOTO_SD)


def learned_studio(seed):
    world, rng = World(seed, pigments=PIGMENTS), np.random.default_rng(seed)
    recipes = training_loads(PIGMENTS)
    tiles = [cm.Tile(BASE, loads, cast(world, rng, loads, "dry"), "dry") for loads in recipes]
    tiles += [cm.Tile(BASE, loads, cast(world, rng, loads, "demould"), "demould") for loads in recipes[::2]]
    palette, _ = cm.learn(cm.starter_palette(), tiles)
    return world, palette, rng


def slipped(loads, rng):
    """(kind, loads) of a gross slip: forgotten, threefold, or another pigment in its place."""
    name = max(loads, key=loads.get)
    kind = str(rng.choice(["forgotten", "too much", "wrong pigment"]))
    others = [p for p in PIGMENTS if p not in loads]
    if kind == "forgotten" or not others:
        return "forgotten", {n: g for n, g in loads.items() if n != name}
    if kind == "too much":
        return kind, {**loads, name: min(3 * loads[name], 0.09)}
    return kind, {**{n: g for n, g in loads.items() if n != name}, str(rng.choice(others)): loads[name]}


@pytest.mark.slow
def test_good_pieces_pass_and_gross_slips_do_not():
    good, caught, named, dry_off = [], [], [], []
    for seed in range(6):
        world, palette, rng = learned_studio(seed)
        for loads in random_loads(rng, PIGMENTS, 15):
            check = check_demould(palette, loads, BASE, cast(world, rng, loads, "demould"))
            good.append(check.track)
            kind, wrong = slipped(loads, rng)
            moved = float(cm.delta_e_2000(world.lab(wrong, BASE, "demould"), world.lab(loads, BASE, "demould")))
            if moved > 5:
                check = check_demould(palette, loads, BASE, cast(world, rng, wrong, "demould"))
                caught.append(check.track == "off track")
                dry = world.lab(wrong, BASE, "dry")
                dry_off.append([float(cm.delta_e_2000(s.lab, dry)) for s in (check.dry_planned, check.dry_now)])
                kinds = {"too much": {"too much", "strength"}}.get(kind, {kind})
                named.append(any(cause.kind in kinds for cause in check.causes))
    on_track = np.mean([track == "on track" for track in good])
    off_track = np.mean([track == "off track" for track in good])
    planned, told = np.median(dry_off, axis=0)
    print(  # noqa: T201
        f"\n{len(good)} good pieces: on track {on_track:.1%}, off track {off_track:.1%}; {len(caught)} slips over "
        f"5 dE00: off track {np.mean(caught):.1%}, the slip among the causes {np.mean(named):.1%}; their dry shade "
        f"{planned:.1f} dE00 from the plan, {told:.1f} from where the check says it is heading"
    )
    assert on_track >= 0.80
    assert off_track <= 0.05
    assert np.mean(caught) >= 0.9
    assert np.mean(named) >= 0.7
    assert told < 0.6 * planned
