"""The two ends of a likely range: on the axis of largest variance, 90 % of it between them."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from colormatch import Shade
from colormatch.render import likely_ends

ROOTS = arrays(np.float64, (3, 3), elements=st.floats(-3, 3, allow_subnormal=False))


@given(ROOTS)
def test_ninety_in_a_hundred_lie_between_the_ends(root):
    covariance = root @ root.T + 0.01 * np.eye(3)
    shade = Shade((50, 10, 10), covariance=covariance)
    lighter, darker = likely_ends(shade)
    assert lighter[0] >= darker[0]
    np.testing.assert_allclose((lighter + darker) / 2, shade.lab)
    along = (lighter - darker) / np.linalg.norm(lighter - darker)
    sd = np.sqrt(along @ covariance @ along)
    np.testing.assert_allclose(np.linalg.norm(lighter - darker), 2 * 1.644854 * sd, rtol=1e-6)
    np.testing.assert_allclose(sd**2, np.linalg.eigvalsh(covariance)[-1], rtol=1e-6)


def test_an_exact_shade_has_no_range_and_lightness_stays_within_bounds():
    lighter, darker = likely_ends(Shade((50, 10, 10)))
    assert np.array_equal(lighter, darker)
    lighter, darker = likely_ends(Shade((98, 0, 0), covariance=np.diag([100.0, 1, 1])))
    assert lighter[0] == 100
    assert darker[0] < 98
