"""The scale's step against the GUM (JCGM 100:2008, F.2.2.1, clause from memory): a resolution d gives an error
with a rectangular distribution and the standard uncertainty d / sqrt(12) = 0.29 d."""

from __future__ import annotations

import math

import numpy as np
import pytest

from colormatch.bench.batch import Bowl, plan_batch
from colormatch.bench.drying_curves import _LEAST_SCATTER
from colormatch.loads import Mix

pytestmark = pytest.mark.published(
    source="JCGM 100:2008 (GUM) F.2.2.1, clause number from memory",
    covers=[
        "bench.batch.plan_batch",
        "bench.drying.follow_drying",
    ],
)


@pytest.mark.parametrize(("step", "uncertainty"), [(1.0, 0.28868), (0.1, 0.028868), (0.01, 0.0028868)])
def test_rounding_of_weights_has_the_resolutions_uncertainty(step, uncertainty):
    rng = np.random.default_rng(2)
    errors = []
    for load in rng.uniform(0.005, 0.045, 3000):
        (bowl,) = plan_batch(
            [Bowl("A", Mix.of("white-cement", {"red-iron-oxide": load}), 1000.0)], scale_step_g=step
        ).bowls
        errors.append(bowl.pigments_g["red-iron-oxide"] - load * bowl.cement_g)
    assert np.std(errors) == pytest.approx(uncertainty, rel=0.03)
    assert np.max(np.abs(errors)) <= step / 2 + 1e-9


def test_a_weighing_is_never_believed_better_than_its_step():
    assert pytest.approx(1 / math.sqrt(12), abs=2e-3) == _LEAST_SCATTER
