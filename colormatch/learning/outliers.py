"""Fitting when a tile may be wrong.

Found together: the parameters, the noise and the freedom of unknown pigments (`evidence`), and which tiles are
outliers. An outlier may show any shade; calling one so costs as much as such tiles are rare, and pays when all others
then agree better. The noise is estimated anew without it: else it would grow until it hides the slip. Where several
sets of outliers are about as probable (of two tiles of a pigment that contradict each other either may be the slip),
what is learned is their mean, each counted by its probability. One more slip than was found moves nothing, but that
there may be one widens the bands.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from ..arrays import FloatArray
from ..palette import Palette
from ..surface import internal_diffuse_reflectance
from .evidence import ENOUGH_READINGS, Choice, most_probable_choice, without
from .information import Point, most_probable
from .job import Job, Stand
from .left_out import OUTLIER_CHANCE, LeftOut, dose_shifts, leave_each_out, widening_of
from .lots import NewLot, lots_in_question
from .observe import Readings
from .spread import mixed, one_slip_more, spread

_WORTH_A_TRIAL = -5.0  # log odds at the present noise; less never won once the noise was estimated anew
_TRIED = 3  # an outlier bends the curves, so that its neighbour may look the worse
_MOST_LOTS = 3  # asked about at once; a judgement
# Beyond this miss of the law, and under a surface, leaving one out in a straight model flatters: 41 measured paints lay
# 1.4 times as far off when truly left out (variances twice, as those of a Student t with four degrees are).
_LAW_BROKEN, _BROKEN_LAW_WIDENING = 0.15, 2.0
_LAW_FAILS = 0.12  # the law's miss beyond which a surface over the pieces is tried; most cement studios stay below
_SURFACE_INDEX = 1.5  # of resin or oil, as smooth as films dry (Saunderson 1942: k2 = 0.6); raw cement has none
_POSITIVE = 1.0  # log odds for such a surface (Kass & Raftery 1995, section 3.2: 2 ln B > 2)
_VERY_STRONG = 5.0  # log odds for each slip where there is one (the same: 2 ln B > 10)
_NEAR = 3.0  # log odds against a set of outliers from which on it counts no more (1 in 20)
_ROUNDS, _SETTLED = 6, 0.05  # of choosing the noise anew, and the share of it that is no change; a judgement
_MAY_SETTLE = 2.0  # log odds that a trial may gain once it is settled; a judgement
_TRIAL_ITERATIONS = 8  # of the search, to tell which story is the better; a judgement


@dataclass(frozen=True, slots=True)
class Fit:
    """The outcome: parameters, their covariance, what was chosen, inlier probability (T,), each tile left out."""

    parameters: FloatArray
    covariance: FloatArray
    choice: Choice
    unknown: tuple[str, ...]
    inlier: FloatArray
    palette: Palette  # with the surface that was found
    lots: tuple[NewLot, ...]
    left_out: Sequence[LeftOut]
    fitted: FloatArray  # (N,) the readings as the parameters have them
    widening: float  # of all variances, 1 where the tiles' own leave-one-out distances bear them out


def robust_fit(palette: Palette, seen: Readings) -> Fit:
    """The most probable parameters, noise, freedom and set of outliers, found one outlier at a time."""
    job, stand = _started(palette, seen)
    if job.unknown and stand.choice.noise[1] > _LAW_FAILS:
        filmed = _started(palette.with_surface(float(internal_diffuse_reflectance(_SURFACE_INDEX))), seen)
        if filmed[1].score > stand.score + _POSITIVE:
            job, stand = filmed
    stand, lots = _explained(job, stand)
    if job.palette.surface and stand.outliers > stand.aside:
        stand = _without_weak_slips(job, stand)
    restored = stand.aside | {place for place in stand.outliers if stand.left_out[place].log_odds > 0}
    if restored != stand.outliers:
        stand = _settled(job, replace(stand, outliers=restored))
    if job.palette.surface:
        stand = _heavy_tailed(job, stand)
    left_out = stand.left_out
    stories, weights = _stories(job, stand)
    inlier = weights @ np.array([_inlier(one) for one in stories])
    parameters, covariance, choice = mixed(weights, [spread(job, one) for one in stories])
    if job.room(stand) and not _one_story(job):
        covariance = covariance + one_slip_more(job, stand, _one_more(job, stand))
    widening = widening_of(one for place, one in enumerate(left_out) if place not in stand.outliers)
    if job.palette.surface or stand.choice.noise[1] > _LAW_BROKEN:
        widening = max(widening, _BROKEN_LAW_WIDENING)
    covariance, choice = widening * covariance, replace(choice, noise=np.sqrt(widening) * choice.noise)
    return Fit(
        parameters=parameters,
        covariance=covariance,
        choice=choice,
        unknown=job.unknown,
        inlier=inlier,
        palette=job.palette,
        lots=tuple(lots),
        left_out=left_out,
        fitted=job.model(parameters[job.touched])[0],
        widening=widening,
    )


def _started(palette: Palette, seen: Readings) -> tuple[Job, Stand]:
    """The first fit, every tile taken for a good one."""
    job = Job(palette, seen)
    start = Choice.of_log(job.before.log_median)
    # Loosely at first, so that an outlier does not bend the curves; a judgement.
    start = Choice(np.maximum(start.noise, np.array([1.0, 0.05, 0.03])), start.freedom)
    first = Point(job.mean, np.zeros_like(job.mean), *job.model(job.mean))
    return job, _settled(job, Stand(first, start, frozenset()))


def _explained(job: Job, stand: Stand) -> tuple[Stand, list[NewLot]]:
    """New lots and slips, the plainer story first: an older slip bends what is predicted of the newest tiles."""
    lots = list[NewLot]()
    while True:
        lot = _new_lot(job, stand) if len(lots) < _MOST_LOTS else None
        better = _with_one_more(job, stand) if job.room(stand) else None
        if better is not None and (lot is None or _slip_is_plainer(stand, better, lot)):
            stand = better
        elif lot is not None:
            lots.append(lot)
            aside = stand.aside | set(lot.places)
            stand = _settled(job, replace(stand, outliers=stand.outliers | aside, aside=aside))
        else:
            return stand, lots


def _without_weak_slips(job: Job, stand: Stand) -> Stand:
    """Where the law has failed, slips take very strong evidence: else sound tiles are blamed for the law."""
    plain = _settled(job, replace(stand, outliers=stand.aside))
    needed = _VERY_STRONG * len(stand.outliers - stand.aside)
    return plain if stand.score < plain.score + needed else stand


def _stories(job: Job, stand: Stand) -> tuple[list[Stand], FloatArray]:
    """The stand and those about as probable with one slip fewer or another instead; their probabilities.

    Never with one more: where nobody slipped, a law that misses a tile would look like half a slip.
    """
    if _one_story(job):
        return [stand], np.ones(1)
    fewer = [_settled(job, replace(stand, outliers=stand.outliers - {one})) for one in stand.outliers - stand.aside]
    found = {one.outliers: one for one in [stand, *fewer]}
    for one in fewer:
        for tried in _one_more(job, one):
            if tried.outliers not in found and tried.score > stand.score - 2 * _NEAR:
                found[tried.outliers] = _settled(job, tried)
    scores = np.array([one.score for one in found.values()])
    near = scores > scores.max() - _NEAR
    weights = np.exp(scores[near] - scores.max())
    return [one for one, kept in zip(found.values(), near, strict=True) if kept], weights / weights.sum()


def _one_story(job: Job) -> bool:
    """Whether one is enough: among many tiles none counts for much, and under a film the law fails anyway."""
    return bool(job.palette.surface) or job.seen.values.size > ENOUGH_READINGS


def _inlier(stand: Stand) -> FloatArray:
    """(T,) probability of each tile to be a good one."""
    out = np.ones(len(stand.left_out))
    for place in stand.outliers:
        out[place] = 1 / (1 + np.exp(np.clip(stand.left_out[place].log_odds, -500, 500)))
    return out


def _slip_is_plainer(stand: Stand, better: Stand, lot: NewLot) -> bool:
    """Whether a tile outside the lot is more probable as a slip than the lot's as one of a new lot."""
    outside = (better.outliers - stand.outliers).isdisjoint(lot.places)
    return outside and better.score - stand.score > lot.log_odds


def _settled(job: Job, stand: Stand) -> Stand:
    """Alternate parameters and choice until neither moves."""
    for _ in range(_ROUNDS):
        point = _mode(job, stand)
        straight = job.straightened(point, stand.outliers)
        choice, score = most_probable_choice(straight, stand.choice, job.before)
        moved = float(np.abs(choice.log - stand.choice.log).max())
        stand = replace(stand, point=point, choice=choice, straight=straight, score=score)
        if moved < _SETTLED:
            break
    else:
        point = _mode(job, stand)
        stand = replace(stand, point=point, straight=job.straightened(point, stand.outliers))
    left_out = _left_out(job, stand)
    return replace(stand, left_out=left_out, score=stand.score + _slips(stand, left_out))


def _heavy_tailed(job: Job, stand: Stand) -> Stand:
    """Where the law has failed: the tiles weighed as if they missed it by a Student t, mostly little, a few by much.

    By expectation and maximisation (Lange, Little & Taylor 1989).
    """
    for _ in range(_ROUNDS):
        plain = job.straightened(stand.point, stand.outliers)
        spread = (stand.straight or plain).posterior(stand.choice).covariance
        weights = plain.student_weights(stand.choice, job.seen.values - stand.point.values, spread)
        point = _mode(job, replace(stand, straight=plain.weighed(weights)))
        straight = job.straightened(point, stand.outliers).weighed(weights)
        choice, _ = most_probable_choice(straight, stand.choice, job.before)
        stand = replace(stand, point=point, choice=choice, straight=straight)
    return replace(stand, left_out=_left_out(job, stand))


def _mode(job: Job, stand: Stand) -> Point:
    """The most probable parameters for the choice, from where they are with the model taken as straight."""
    straight, start = stand.straight, stand.point
    if straight is None:
        straight = job.straightened(start, stand.outliers)
    prior = straight.prior_of(stand.choice.freedom)
    if stand.straight is not None:
        dual = straight.posterior(stand.choice).dual
        parameters = job.mean + prior @ dual
        start = Point(parameters, dual, *job.model(parameters))
    return most_probable(
        job.model,
        start,
        mean=job.mean,
        prior=prior,
        measured=job.seen.values,
        rows=job.seen.block_rows,
        noise=without(straight, job.apart(stand.outliers)).noise(stand.choice.noise),
    )


def _new_lot(job: Job, stand: Stand) -> NewLot | None:
    """The likeliest new bag or jar among tiles not set aside yet."""
    straight = stand.straight or job.straightened(stand.point, stand.outliers)
    layout = job.palette.layout
    odds = np.array([one.log_odds for one in stand.left_out])
    odds[list(stand.outliers)] = 0.0  # explained already

    def slopes_of(kind: str, name: str) -> FloatArray:
        own = layout.base(name) if kind == "bag" else layout.pigment(name)
        return straight.slopes[:, np.searchsorted(job.touched, np.arange(own.start, own.stop))]

    leave_out = straight.leave_out(straight.posterior(stand.choice))
    return lots_in_question(job.seen.tiles, slopes_of, leave_out, job.seen.rows, odds, stand.aside)


def _with_one_more(job: Job, stand: Stand) -> Stand | None:
    """The fit with one more tile called an outlier, if that is the more probable story."""
    odds = np.array([one.log_odds for one in stand.left_out])
    odds[list(stand.outliers)] = -np.inf
    if job.seen.values.size > ENOUGH_READINGS:  # one tile no longer moves the noise, and all are judged at once
        more = frozenset(np.flatnonzero(odds > 0).tolist())
        return _settled(job, replace(stand, outliers=stand.outliers | more)) if more else None
    best = max(_one_more(job, stand), key=lambda one: one.score, default=None)
    if best is None or best.score < stand.score - _MAY_SETTLE:
        return None
    best = _settled(job, best)
    return best if best.score > stand.score else None


def _one_more(job: Job, stand: Stand) -> list[Stand]:
    """One more tile called an outlier, each of those that look it most, with the model as straight as it was."""
    odds = np.array([one.log_odds for one in stand.left_out])
    odds[list(stand.outliers)] = -np.inf
    out = []
    for at in np.argsort(odds)[::-1][:_TRIED]:
        if odds[at] < _WORTH_A_TRIAL:
            break
        outliers = stand.outliers | {int(at)}
        straight = without(stand.straight or job.straightened(stand.point, outliers), job.apart(outliers))
        choice, score = most_probable_choice(straight, stand.choice, job.before, _TRIAL_ITERATIONS)
        tried = replace(stand, choice=choice, outliers=outliers, straight=straight)
        score += _slips(tried, _left_out(job, tried))
        out.append(replace(tried, score=score))
    return out


def _left_out(job: Job, stand: Stand) -> list[LeftOut]:
    """Each tile from all the others."""
    straight = stand.straight or job.straightened(stand.point, stand.outliers)
    shifts = dose_shifts(job.palette, job.full(stand.point.parameters), job.seen)
    return leave_each_out(straight, stand.choice, stand.outliers, shifts)


def _slips(stand: Stand, left_out: Sequence[LeftOut]) -> float:
    """Log of how much more probable the outliers are as slips than as tiles that may show anything, and of how rare."""
    called = stand.outliers - stand.aside
    rare = float(np.log(OUTLIER_CHANCE / (1 - OUTLIER_CHANCE)))
    return sum(left_out[place].log_gain + rare for place in called)
