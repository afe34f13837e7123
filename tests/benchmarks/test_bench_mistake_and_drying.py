"""Correcting a mistake and following a drying piece, each as a ratio to a plain way of doing it, in the same run."""

from __future__ import annotations

import time

import numpy as np
import pytest
from scipy.optimize import curve_fit, differential_evolution

import colormatch as cm
from colormatch.bench.batch import Bowl as Wanted
from colormatch.bench.batch import plan_batch
from colormatch.bench.bowl import Bowl, Entry
from colormatch.bench.drying import follow_drying
from colormatch.bench.weighing_mistake import correct_weighing
from colormatch.difference import delta_e_2000
from colormatch.loads import Mix

BASE = "white-cement"
LOADS = {"red-iron-oxide": 0.004, "yellow-iron-oxide": 0.006, "titanium-white": 0.010}
INSIDE = {"red-iron-oxide": 1.6, "titanium-white": 2.6}


def seconds(function, repeats):
    started = time.perf_counter()
    for _ in range(repeats):
        result = function()
    return (time.perf_counter() - started) / repeats, result


def by_differential_evolution(palette):
    """The same question put to scipy's solver, one bowl at a time, without the scale's marks."""
    names = list(LOADS)
    order = [list(palette.pigments).index(name) for name in names]
    wanted = palette.predict(LOADS, BASE).lab
    inside = np.array([INSIDE.get(name, 0.0) for name in names])

    def off(x):
        loads = (inside + x[:3]) / (260 + x[3])
        if loads.sum() > 0.05:
            return 100.0 + float(loads.sum())
        row = np.zeros((1, len(palette.pigments)))
        row[0, order] = loads
        return float(delta_e_2000(palette.predict_many(row, base=BASE)[0], wanted))

    return differential_evolution(off, [(0, 10)] * 3 + [(0, 65)], rng=1, maxiter=150, tol=1e-6).fun


def test_correcting_against_a_general_solver(benchmark):
    palette = cm.starter_palette()
    sheet = plan_batch([Wanted("bowl", Mix.of(BASE, LOADS), 260.0)]).bowls[0]
    inside = tuple(Entry("weighed", name, grams) for name, grams in {BASE: 260.0, **INSIDE}.items())
    bowl = Bowl(sheet, 0.1, 0.1, 0.05, entries=inside)

    def ours():
        return correct_weighing(palette, bowl)

    ours()  # imports
    answer = benchmark.pedantic(ours, rounds=10)
    mine, _ = seconds(ours, 10)
    plain, best = seconds(lambda: by_differential_evolution(palette), 1)
    print(
        f"\ncorrecting: {mine * 1000:.0f} ms, {plain / mine:.0f} times faster than differential evolution "
        f"({plain:.2f} s); dE00 {answer.delta_e_corrected:.3f} on the scale's marks, {best:.3f} without marks"
    )
    assert answer.delta_e_corrected < best + 0.1


def one_stage(days, plateau_g, water_g, tau_days):
    return plateau_g + water_g * np.exp(-days / tau_days)


@pytest.mark.parametrize("count", [5, 10, 30])
def test_following_a_piece_against_one_least_squares_fit(benchmark, count):
    days = np.arange(float(count))
    grams = np.round(400 + 20 * np.exp(-days / 6), 1)
    follow_drying(days, grams)
    benchmark.pedantic(lambda: follow_drying(days, grams), rounds=5)
    mine, _ = seconds(lambda: follow_drying(days, grams), 5)
    plain, _ = seconds(lambda: curve_fit(one_stage, days, grams, (400.0, 20.0, 6.0)), 5)
    print(f"\n{count} weights: {mine * 1000:.0f} ms, {mine / plain:.0f} times one least-squares fit")
