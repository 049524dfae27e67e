"""The Weibull distribution of ages at failure by maximum likelihood, with censored units and failures seen late.

Reckoned in x = log(age) with z = shape·x - level and level = shape·log(scale): in these two the log-likelihood has one
top (Burridge 1981, from memory). A failure at x gives log(shape) + z - e^z - x, a unit censored at x gives -e^z, and a
failure between two looks gives the logarithm of what lies between them.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq
from scipy.special import gamma, logsumexp, ndtri
from scipy.stats import chi2

from analysis.life.ages import Ages, AgesRefused, Floats

FAR = 1e5  # no limit of a shape or of a scale's ratio is looked for beyond this factor


@dataclass(frozen=True)
class Sample:
    """Logarithms of ages: failures, censored units, and the two looks between which others failed."""

    failed: Floats
    censored: Floats
    before: Floats
    after: Floats

    @classmethod
    def of(cls, ages: Ages | None, between: Iterable[tuple[float, float]] = ()) -> Sample:
        """Return the sample of `ages` and of failures between two looks, the first of which may be at age 0."""
        looks = np.array(list(between), np.float64).reshape(-1, 2)
        if len(looks) and not np.all((looks[:, 0] >= 0) & (looks[:, 1] > looks[:, 0]) & np.isfinite(looks[:, 1])):
            raise AgesRefused("The second look has to come after the first.")
        none = np.empty(0)
        with np.errstate(divide="ignore"):
            return cls(
                np.log(ages.reached[ages.failed]) if ages else none,
                np.log(ages.reached[~ages.failed]) if ages else none,
                np.log(looks[:, 0]),
                np.log(looks[:, 1]),
            )

    def log_likelihood(self, shape: float, level: float) -> float:
        """Return the logarithm of the probability (density) of the sample, per unit of age."""
        at, until = shape * self.failed - level, shape * self.censored - level
        first, second = _hazard(shape, level, self.before), _hazard(shape, level, self.after)
        with np.errstate(divide="ignore", over="ignore"):
            own = len(at) * math.log(shape) + np.sum(at - np.exp(at) - self.failed) - np.sum(np.exp(until))
            return float(own + np.sum(-first + np.log(-np.expm1(first - second))))

    def slope(self, shape: float, level: float) -> Floats:
        """Return the derivatives of the log-likelihood by shape and level."""
        with np.errstate(over="ignore"):
            at, until = np.exp(shape * self.failed - level), np.exp(shape * self.censored - level)
        by_shape = len(at) / shape + np.sum((1 - at) * self.failed) - np.sum(until * self.censored)
        by_level = -np.sum(1 - at) + np.sum(until)
        if len(self.after):
            first, second = _hazard(shape, level, self.before), _hazard(shape, level, self.after)
            between = -np.expm1(first - second)
            early = first  # e^-H1·H1 over e^-H1 - e^-H2
            late = second * np.exp(first - second)
            before = np.where(np.isfinite(self.before), self.before, 0)  # H is 0 there, and so is its part
            by_shape += np.sum((late * self.after - early * before) / between)
            by_level += np.sum((early - late) / between)
        return np.array([by_shape, by_level])

    def level_at(self, shape: float) -> float:
        """Return the level that fits best at this shape; in closed form where every failure's age is known."""
        if not len(self.after):
            at = shape * np.concatenate([self.failed, self.censored])
            return float(logsumexp(at)) - math.log(len(self.failed))
        everyone = np.concatenate([self.failed, self.censored, self.after])
        middle = shape * float(np.mean(everyone))
        return _root(lambda level: self.slope(shape, level)[1], middle, 1.0)

    def shape_at(self, log_scale: float) -> float:
        """Return the shape that fits best at this scale."""

        def by_log(log_shape: float) -> float:
            shape = math.exp(log_shape)
            by_shape, by_level = self.slope(shape, shape * log_scale)
            return float(by_shape + log_scale * by_level) * shape

        return math.exp(_root(by_log, 0.0, 0.5))


def _hazard(shape: float, level: float, x: Floats) -> NDArray[np.float64]:
    with np.errstate(over="ignore"):
        return np.asarray(np.exp(shape * x - level))


def _root(falling: Callable[[float], float], start: float, step: float) -> float:
    """Return where a falling function crosses 0, looked for outward from `start`."""
    rises = falling(start) > 0
    near, way = start, step if rises else -step
    for _ in range(80):
        far = near + way
        if (falling(far) > 0) != rises:
            return float(brentq(falling, min(near, far), max(near, far), xtol=1e-13, rtol=1e-13))
        near, way = far, 2 * way
    raise ArithmeticError("no crossing was found")


@dataclass(frozen=True)
class Weibull:
    """A fitted distribution: the share still working at age t is exp(-(t / scale)^shape).

    A shape below 1 means that units fail less and less as they age, 1 that age makes no difference, above 1 that they
    fail more and more. `scale` is the age at which 63 % have failed. `shape_given` is whether the shape was not fitted.
    """

    shape: float
    scale: float
    log_likelihood: float
    sample: Sample = field(repr=False)
    shape_given: bool = False

    def share_at(self, age: float) -> float:
        """Return the share still working at an age."""
        return math.exp(-((age / self.scale) ** self.shape))

    def age_at(self, failed: float) -> float:
        """Return the age by which this share has failed: 0.1 gives what the trade calls B10."""
        return float(self.scale * (-math.log1p(-failed)) ** (1 / self.shape))

    @property
    def mean(self) -> float:
        """The mean age at failure."""
        return float(self.scale * gamma(1 + 1 / self.shape))

    @cached_property
    def log_covariance(self) -> Floats:
        """The covariance of log(shape) and log(scale), from the curvature of the log-likelihood at its top.

        At the top the standard errors of shape and scale themselves are these times shape and scale.
        """
        step, level = 1e-5, self.shape * math.log(self.scale)
        wide = step * max(1.0, abs(level))
        by_shape = (
            self.sample.slope(self.shape * (1 + step), level) - self.sample.slope(self.shape * (1 - step), level)
        ) / (2 * step * self.shape)
        by_level = (self.sample.slope(self.shape, level + wide) - self.sample.slope(self.shape, level - wide)) / (
            2 * wide
        )
        curvature = -np.array([by_shape, by_level])
        # From (shape, level) to their logarithms: shape = e^a, level = e^a * b.
        turn = np.array([[self.shape, 0.0], [level, self.shape]])
        bend = turn.T @ ((curvature + curvature.T) / 2) @ turn
        if self.shape_given:
            return np.array([[0.0, 0.0], [0.0, 1 / bend[1, 1]]])
        return np.asarray(np.linalg.inv(bend))

    @property
    def shape_se(self) -> float:
        """The standard error of the shape; 0 where it was given."""
        return self.shape * math.sqrt(self.log_covariance[0, 0])

    @property
    def scale_se(self) -> float:
        """The standard error of the scale."""
        return self.scale * math.sqrt(self.log_covariance[1, 1])

    def shape_limits(self, confidence: float = 0.95) -> tuple[float, float]:
        """Return the shapes that the likelihood ratio doesn't reject; infinity where none above is rejected."""

        def below(log_factor: float) -> float:
            shape = self.shape * math.exp(log_factor)
            return self.sample.log_likelihood(shape, self.sample.level_at(shape))

        return self._limits(below, self.shape, confidence)

    def scale_limits(self, confidence: float = 0.95) -> tuple[float, float]:
        """Return the scales that the likelihood ratio doesn't reject; infinity where none above is rejected."""

        def below(log_factor: float) -> float:
            log_scale = math.log(self.scale) + log_factor
            shape = self.shape if self.shape_given else self.sample.shape_at(log_scale)
            return self.sample.log_likelihood(shape, shape * log_scale)

        return self._limits(below, self.scale, confidence)

    def _limits(self, profile: Callable[[float], float], value: float, confidence: float) -> tuple[float, float]:
        allowed = float(chi2.ppf(confidence, 1)) / 2

        def spare(log_factor: float) -> float:
            return profile(log_factor) - (self.log_likelihood - allowed)

        low, high = (_last_allowed(spare, way) for way in (-1.0, 1.0))
        return value * math.exp(low), value * math.exp(high)


def _last_allowed(spare: Callable[[float], float], way: float) -> float:
    near, far = 0.0, 0.1
    while far < math.log(FAR):
        if spare(way * far) < 0:
            return way * float(brentq(lambda step: spare(way * step), near, far, xtol=1e-10))
        near, far = far, 2 * far
    return way * math.inf


def normal_limits(value: float, se: float, confidence: float = 0.95) -> tuple[float, float]:
    """Return value ± z·se, as many tables give it; for few failures the likelihood's limits are better."""
    z = float(ndtri((1 + confidence) / 2))
    return value - z * se, value + z * se


def log_limits(value: float, se: float, confidence: float = 0.95) -> tuple[float, float]:
    """Return the limits that are symmetric on the logarithm, for a value above 0."""
    z = float(ndtri((1 + confidence) / 2))
    return value * math.exp(-z * se / value), value * math.exp(z * se / value)


def fit_weibull(
    ages: Ages | None, between: Iterable[tuple[float, float]] = (), shape: float | None = None
) -> Weibull | None:
    """Fit a Weibull distribution; None where the likelihood has no top.

    Parameters
    ----------
    ages
        Units whose age at failure is known, and censored ones.
    between
        For each failure known only to lie between two looks, the ages at those looks.
    shape
        Keeps the shape at this value; 1 gives the exponential distribution, for units that don't age.

    It has no top without failures, and, where the shape is fitted, with all failures at one age that no unit passed.

    Raises
    ------
    AgesRefused
        A second look doesn't come after its first.
    """
    sample = Sample.of(ages, between)
    if not len(sample.failed) + len(sample.after) or (shape is None and _at_one_age(sample)):
        return None
    best = shape if shape is not None else _best_shape(sample)
    level = sample.level_at(best)
    return Weibull(best, math.exp(level / best), sample.log_likelihood(best, level), sample, shape is not None)


def _at_one_age(sample: Sample) -> bool:
    if len(sample.after):
        return bool(np.max(sample.before) < np.min(sample.after)) and not len(sample.failed)
    passed = np.concatenate([sample.failed, sample.censored])
    return bool(np.min(sample.failed) == np.max(passed))


def _best_shape(sample: Sample) -> float:
    def by_log(log_shape: float) -> float:
        shape = math.exp(log_shape)
        return float(sample.slope(shape, sample.level_at(shape))[0]) * shape

    spread = float(np.std(np.concatenate([sample.failed, sample.censored, sample.after])))
    return math.exp(_root(by_log, -math.log(spread) if spread > 0 else 0.0, 0.5))


@dataclass(frozen=True)
class Ageing:
    """Whether age makes a difference: the likelihood ratio of a fitted shape against shape 1."""

    chi2: float
    p: float


def ageing(fitted: Weibull, unaged: Weibull) -> Ageing:
    """Compare a fit with that of shape 1 on the same sample; chi-square with 1 degree of freedom."""
    statistic = max(0.0, 2 * (fitted.log_likelihood - unaged.log_likelihood))
    return Ageing(statistic, float(chi2.sf(statistic, 1)))
