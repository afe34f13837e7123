"""The algebra of learning: against closed forms, against brute force, and against an ordinary solver."""

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import least_squares

from colormatch.learning.fit import evidence, left_out, log_evidence, most_probable, posterior_covariance, start_at


def straight_problem(seed, readings=12, parameters=5):
    rng = np.random.default_rng(seed)
    slopes = rng.normal(size=(readings, parameters))
    root, noise_root = rng.normal(size=(parameters, parameters)), rng.normal(size=(readings, readings))
    covariance, noise = root @ root.T + 0.1 * np.eye(parameters), noise_root @ noise_root.T + np.eye(readings)
    mean, measured = rng.normal(size=parameters), rng.normal(size=readings)
    return (lambda x: (slopes @ x, slopes)), slopes, mean, covariance, measured, noise


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 10_000))
def test_a_straight_model_gives_the_textbook_posterior(seed):
    model, slopes, mean, covariance, measured, noise = straight_problem(seed)
    point = most_probable(
        model, start_at(model, mean), mean=mean, covariance=covariance, measured=measured, noise=noise
    )
    precision = np.linalg.inv(covariance) + slopes.T @ np.linalg.solve(noise, slopes)
    expected = mean + np.linalg.solve(precision, slopes.T @ np.linalg.solve(noise, measured - slopes @ mean))
    np.testing.assert_allclose(point.parameters, expected, rtol=1e-3, atol=1e-3)
    np.testing.assert_allclose(
        posterior_covariance(point, covariance, noise), np.linalg.inv(precision), rtol=1e-6, atol=1e-8
    )


def test_leaving_one_out_is_the_same_as_learning_without_it():
    model, slopes, mean, covariance, measured, noise = straight_problem(1)
    noise = np.diag(np.diag(noise))
    point = start_at(model, mean)
    error, spread = left_out(evidence(point, slopes @ covariance @ slopes.T, mean, measured, noise), slice(3, 6))
    rest = np.r_[0:3, 6:12]
    gain = (
        covariance @ slopes[rest].T @ np.linalg.inv(slopes[rest] @ covariance @ slopes[rest].T + noise[rest][:, rest])
    )
    foretold = slopes[3:6] @ (mean + gain @ (measured[rest] - slopes[rest] @ mean))
    left = covariance - gain @ slopes[rest] @ covariance
    np.testing.assert_allclose(error, measured[3:6] - foretold, rtol=1e-9)
    np.testing.assert_allclose(spread, slopes[3:6] @ left @ slopes[3:6].T + noise[3:6, 3:6], rtol=1e-9)


def test_the_evidence_is_the_normal_density_for_every_scatter_at_once():
    from scipy.stats import multivariate_normal

    _, slopes, _, covariance, measured, scatter = straight_problem(2)
    known, variances = slopes @ covariance @ slopes.T + 0.5 * np.eye(12), np.array([0.01, 0.5, 4.0])
    expected = [multivariate_normal(np.zeros(12), known + v * scatter).logpdf(measured) for v in variances]
    found = log_evidence(measured, known, scatter, variances)
    np.testing.assert_allclose(np.diff(found), np.diff(expected), rtol=1e-8)


def test_a_parameter_without_variance_stays_put():
    model, _, mean, covariance, measured, noise = straight_problem(3)
    covariance[2] = covariance[:, 2] = 0.0
    point = most_probable(
        model, start_at(model, mean), mean=mean, covariance=covariance, measured=measured, noise=noise
    )
    assert point.parameters[2] == mean[2]
    assert posterior_covariance(point, covariance, noise)[2, 2] == 0.0


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
        start_at(model, mean),
        mean=mean,
        covariance=np.diag(sd**2),
        measured=measured,
        noise=0.02**2 * np.eye(15),
    )
    ordinary = least_squares(
        lambda x: np.concatenate([(measured - model(x)[0]) / 0.02, (x - mean) / sd]), mean, xtol=1e-12
    )
    np.testing.assert_allclose(point.parameters, ordinary.x, atol=1e-3)
