"""How near measured shades come to the truth: 3 cameras x 6 lamps, pieces of invented studios.

Every row is printed. The targets are the project's own.
"""

from __future__ import annotations

from functools import partial

import numpy as np
import pytest

from colormatch.photo import Chart24
from tests.benchmarks.photo_study import KNOWN, PIECES, Day, Outcome, days, objects, outcome, pieces
from tests.learning.trial import JARS

pytestmark = pytest.mark.slow
ROUNDS = 2
REST = range(KNOWN + 1, PIECES + 1)
jars = partial(pieces, pigments=JARS)


@pytest.fixture(scope="module")
def all_days() -> tuple[Day, ...]:
    return days(ROUNDS)


def shown(name: str, result: Outcome) -> Outcome:
    print(f"\n{result.row(name)}\n    {result.by_camera()}")
    return result


def kept(figure, key: str, what: str, result: Outcome) -> None:
    """The row on the page of figures."""
    figure(f"photo.{key}.mean", f"{what}: mean", result.error.mean(), "dE00")
    figure(f"photo.{key}.p95", f"{what}: 95 % are under", np.quantile(result.error, 0.95), "dE00")
    within = 100 * (result.distance < 6.251).mean()
    figure(f"photo.{key}.within", f"{what}: 90 % regions hold", within, "%", target="85..95")


def holds_its_word(result: Outcome) -> bool:
    """90 % regions that hold 85 to 95 % of the truths."""
    return 0.85 <= float((result.distance < 6.251).mean()) <= 0.95


@pytest.mark.measure
@pytest.mark.parametrize("reference", ["chart", "card and an earlier chart"])
def test_the_bands_fit_each_camera(reference: str, figure) -> None:
    """On 72 frames that nothing was chosen on: of 2000, 3000, 4000 and 6000 it was, for `_calibration` of fit.py."""
    frames = days(4, first=5000)
    if reference == "chart":
        result = outcome(frames, lambda day: Chart24())
    else:
        result = outcome(frames, lambda day: day.card(), with_profile=True)
    fits = result.z_by_camera()
    print(
        "\n" + reference,
        {camera: f"z {z:.2f}, 90 % regions hold {100 * held:.0f} %" for camera, (z, held) in fits.items()},
    )
    for camera, (z, held) in fits.items():
        name = f"{reference}, {camera} by itself"
        key = f"photo.bands.{'chart' if reference == 'chart' else 'card'}.{camera}"
        figure(f"{key}.z", f"{name}: mean squared z a degree of freedom", z, target="0.6..1.4")
        figure(f"{key}.within", f"{name}: 90 % regions hold", 100 * held, "%", target="85..95")
    assert all(0.6 <= z <= 1.4 and 0.85 <= held <= 0.95 for z, held in fits.values()), fits


def test_with_a_chart(all_days: tuple[Day, ...], figure) -> None:
    result = shown("chart, found by itself", outcome(all_days, lambda day: Chart24()))
    kept(figure, "chart", "a shade photographed with a chart", result)
    assert result.error.mean() <= 1.2
    assert sorted(result.error)[int(0.95 * len(result.error))] <= 2.5
    assert holds_its_word(result)


@pytest.mark.measure
@pytest.mark.parametrize("key", ["nameless", "objects"])
def test_what_need_not_be_cement_with_a_chart(key: str, figure) -> None:
    """Pigments with absorption bands anywhere, and leaves, cloth and prints: three channels do not tell their colour,
    nor that they are such, but she does. Of other frames (6600, 6700) the bands were chosen on."""
    if key == "nameless":
        what, frames = "of pigments with bands anywhere, with a chart", days(1, first=6500, of=jars)
    else:
        what, frames = "of leaves, cloth, prints, with a chart", days(1, first=6550, of=objects)
    result = shown(what, outcome(frames, lambda day: Chart24(), surface="anything"))
    kept(figure, key, what, result)
    assert result.error.mean() <= 2.5
    assert holds_its_word(result)


def test_with_a_grey_card_only(figure) -> None:
    """Held by all cameras together: nothing shows which camera it is, so bands are too wide for two of them (all held)
    and too narrow for the one whose curves overlap. Of the first 36 frames the mean is 2.14 (2.17 once), of all 2.25.

    Leaning to the colours of the population (Bayes) gains 0.28 in other frames, but loses 0.3 where jars have no name
    and 0.7 on leaves and cloth that nobody said are none of cement.
    """
    result = shown("grey card only", outcome(days(2 * ROUNDS), lambda day: day.card()))
    kept(figure, "card", "with a grey card only", result)
    assert result.error.mean() <= 3.0
    assert holds_its_word(result)


def test_with_a_grey_card_and_an_earlier_chart_of_the_camera(all_days: tuple[Day, ...]) -> None:
    """The earlier chart stood under the same lamp, on another day, with another exposure and white balance."""
    result = shown("grey card + camera profile", outcome(all_days, lambda day: day.card(), with_profile=True))
    assert result.error.mean() <= 1.6
    assert holds_its_word(result)


@pytest.mark.measure
def test_the_same_in_five_sets_of_frames() -> None:
    """The camera whose sensor curves overlap much makes one set of frames differ from another."""
    frames = days(5 * ROUNDS)
    result = outcome(frames, lambda day: day.card(), with_profile=True)
    error = result.error.reshape(5, -1, PIECES)
    stated = (
        f"sets {error.mean(axis=(1, 2)).round(2)}, all {error.mean():.2f}, "
        f"worst frame {error.mean(axis=2).max():.1f}, worst piece {error.max():.1f}"
    )
    print("\n" + stated)
    assert error.mean() <= 1.6, stated
    assert error.mean(axis=(1, 2)).max() <= 2.0, stated
    assert holds_its_word(result)


def test_with_known_swatches_and_a_chart(all_days: tuple[Day, ...], figure) -> None:
    result = shown("chart + 6 known swatches", outcome(all_days, lambda day: [Chart24(), day.swatches()], REST))
    kept(figure, "chart-swatches", "chart and six known swatches", result)
    assert result.error.mean() <= 1.0
    assert holds_its_word(result)


def test_with_known_swatches_alone(all_days: tuple[Day, ...], figure) -> None:
    result = shown("6 known swatches alone", outcome(all_days, lambda day: day.swatches(), REST))
    kept(figure, "swatches", "six known swatches alone", result)
    assert result.error.mean() <= 1.2
    assert holds_its_word(result)
