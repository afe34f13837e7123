"""The algebra of learning: against the dense forms of a Gaussian process, and against an ordinary solver."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import least_squares
from scipy.stats import multivariate_normal

import colormatch as cm
from colormatch.learning import evidence
from colormatch.learning.information import Point, information, most_probable, posterior
from colormatch.learning.job import Job, Stand
from colormatch.learning.observe import readings
from colormatch.learning.outliers import _left_out
from tests.learning.trial import JARS, palette_for, tiles_from
from tests.worlds.casting import World, training_loads

ROWS = (np.array([[0, 1, 2], [3, 4, 5], [6, 7, 8]]), np.array([[9], [10], [11]]))  # six blocks of two sizes


def straight_problem(seed, parameters=5):
    rng = np.random.default_rng(seed)
    slopes, root = rng.normal(size=(12, parameters)), rng.normal(size=(parameters, parameters))
    blocks = [rng.normal(size=(len(rows), rows.shape[1], rows.shape[1])) for rows in ROWS]
    noise = [block @ block.transpose(0, 2, 1) + np.eye(block.shape[1]) for block in blocks]
    return slopes, rng.normal(size=parameters), root @ root.T, rng.normal(size=12), noise


def dense(noise):
    """The block-diagonal noise as one matrix."""
    out = np.zeros((12, 12))
    for rows, blocks in zip(ROWS, noise, strict=True):
        for at, block in zip(rows, blocks, strict=True):
            out[np.ix_(at, at)] = block
    return out


@settings(max_examples=25)
@given(st.integers(0, 10_000))
def test_a_straight_model_gives_the_textbook_posterior(seed):
    slopes, mean, prior, measured, noise = straight_problem(seed)
    innovation = measured - slopes @ mean
    found = posterior(prior, information(ROWS, noise, slopes, innovation))
    known = slopes @ prior @ slopes.T + dense(noise)
    gain = prior @ slopes.T @ np.linalg.inv(known)
    np.testing.assert_allclose(prior @ found.dual, gain @ innovation, atol=1e-8)
    np.testing.assert_allclose(found.covariance, prior - gain @ slopes @ prior, atol=1e-8)
    np.testing.assert_allclose(found.left, slopes.T @ np.linalg.solve(known, slopes), atol=1e-8)
    density = multivariate_normal(np.zeros(12), known).logpdf(innovation) + 6 * np.log(2 * np.pi)
    assert found.log_evidence == pytest.approx(density, abs=1e-8)


def test_a_parameter_without_variance_stays_put():
    slopes, mean, prior, measured, noise = straight_problem(3)
    prior[2] = prior[:, 2] = 0.0
    found = posterior(prior, information(ROWS, noise, slopes, measured - slopes @ mean))
    assert (prior @ found.dual)[2] == 0.0
    assert found.covariance[2, 2] == 0.0


def test_a_bent_model_gives_the_same_answer_as_an_ordinary_solver():
    rng = np.random.default_rng(4)
    loads = np.linspace(0, 3, 15)

    def model(x):
        decay = np.exp(-np.exp(x[1]) * loads)
        return np.exp(x[0]) * decay, np.stack([np.exp(x[0]) * decay, -np.exp(x[0] + x[1]) * loads * decay], axis=-1)

    measured = model(np.array([1.0, 0.5]))[0] + 0.02 * rng.standard_normal(15)
    mean, sd = np.array([-1.0, 2.0]), np.array([2.0, 2.0])
    point = most_probable(
        model,
        Point(mean, np.zeros(2), *model(mean)),
        mean=mean,
        prior=np.diag(sd**2),
        measured=measured,
        rows=(np.arange(15)[:, None],),
        noise=[np.full((15, 1, 1), 0.02**2)],
    )
    ordinary = least_squares(
        lambda x: np.concatenate([(measured - model(x)[0]) / 0.02, (x - mean) / sd]), mean, xtol=1e-12
    )
    np.testing.assert_allclose(point.parameters, ordinary.x, atol=1e-3)


@pytest.fixture(scope="module")
def studio():
    """A fit under way: unknown jars, twins, a piece seen dry and wet, a tile called an outlier."""
    world, rng = World(3, pigments=JARS), np.random.default_rng(0)
    mixtures = training_loads(JARS)
    tiles = tiles_from(world, mixtures, rng) + tiles_from(world, mixtures[:4], rng)
    tiles += [cm.Tile("white-cement", mixtures[1], cm.Shade(lab, sd=0.5), state, piece="p")
              for lab, state in (((60, 5, 5), "dry"), ((50, 6, 6), "wet"))]  # fmt: skip
    palette = palette_for(JARS)
    job = Job(palette, readings(palette, tiles))
    point = Point(job.mean, np.zeros_like(job.mean), *job.model(job.mean))
    choice = evidence.Choice.of_log(job.before.log_median + 0.2 * rng.standard_normal(9))
    return job, point, choice, job.straightened(point, frozenset({3}))


def dense_covariance(straight, choice):
    """Of all readings, N x N."""
    noise = np.zeros((straight.innovation.size,) * 2)
    for rows, blocks in zip(straight.seen.block_rows, straight.noise(choice.noise), strict=True):
        for at, block in zip(rows, blocks, strict=True):
            noise[np.ix_(at, at)] = block
    return straight.slopes @ straight.prior_of(choice.freedom) @ straight.slopes.T + noise


def test_the_evidence_is_that_of_the_dense_form_and_its_slopes_are_those_of_differences(studio):
    job, _, choice, straight = studio
    value, slopes = evidence.score(straight, choice, job.before)
    known = dense_covariance(straight, choice)
    away = (choice.log - job.before.log_median) / job.before.log_sd
    density = -0.5 * (straight.innovation @ np.linalg.solve(known, straight.innovation) + np.linalg.slogdet(known)[1])
    assert value == pytest.approx(density - 0.5 * away @ away, rel=1e-9)
    for at, slope in enumerate(slopes):
        step = 1e-4 * np.eye(9)[at]
        up, down = (evidence.score(straight, choice.of_log(choice.log + s * step), job.before)[0] for s in (1, -1))
        assert slope == pytest.approx((up - down) / 2e-4, rel=1e-5, abs=1e-5)


def test_leaving_one_out_is_the_same_as_the_dense_form_without_it(studio):
    job, point, choice, straight = studio
    found = _left_out(job, Stand(point, choice, frozenset(), job.straightened(point, frozenset())))
    known, seen = dense_covariance(job.straightened(point, frozenset()), choice), job.seen
    for place in (0, 3, 25, len(seen.tiles) - 1):
        row = seen.rows[place]
        own = np.arange(row.start, row.stop)
        rest = np.setdiff1d(np.arange(seen.values.size), own)
        gain = np.linalg.solve(known[np.ix_(rest, rest)], known[np.ix_(rest, own)]).T
        error = straight.innovation[own] - gain @ straight.innovation[rest]
        np.testing.assert_allclose(found[place].error, error, atol=1e-7)
        np.testing.assert_allclose(
            found[place].covariance, known[np.ix_(own, own)] - gain @ known[np.ix_(rest, own)], atol=1e-7
        )


def test_student_weights_count_a_far_tile_less_and_leave_a_usual_one(studio):
    _, point, choice, straight = studio
    spread = straight.posterior(choice).covariance
    gap = np.zeros_like(point.values)
    near = straight.student_weights(choice, gap, spread)
    gap[straight.seen.block_rows[0][0]] = 30.0
    far = straight.student_weights(choice, gap, spread)
    assert far[0][0] < 0.1 * near[0][0]
    np.testing.assert_array_equal(far[0][1:], near[0][1:])
    wider = straight.weighed(far).noise(choice.noise)[0][0] - straight.outliers[0][0]
    np.testing.assert_allclose(wider, (straight.noise(choice.noise)[0][0] - straight.outliers[0][0]) / far[0][0])


def test_shades_of_one_piece_share_its_casting_and_others_do_not(studio):
    job, _, _, straight = studio
    rows = [job.seen.rows[place] for place in (-2, -1, 1)]
    for batch, parts in zip(job.seen.block_rows, straight.parts, strict=True):
        for block, casting in zip(batch, parts[0], strict=True):
            if rows[0].start in block:
                at = [np.searchsorted(block, row.start) for row in rows]
                assert casting[at[0], at[1]] == 0.7
                assert casting[at[0], at[0]] == 1.0
                assert casting[at[0], at[2]] == 0.0
                return
    pytest.fail("the piece is in no block")
