"""The estimate of one function at a time, by a general-purpose Gaussian process (scikit-learn's regressor).

Independent: the covariance, a closed formula with no splines in it, and all of the algebra. A free strip on [0, 1] with
bending energy ∫f″² has the Green's function G = (1 − P) |x − y|³ / 12 (1 − P), P the projection on straight lines: its
eigenfunctions are the vibrations of a free–free beam, and its trace is 1/420 (computed: Σ 1/β⁴ over the roots of
cos β cosh β = 1). A prior of rms 1 is then 420 G. Shared with framevis: what a reading sees (its weights and stations)
and the widths in `priors`. What framevis' strip of 50 mm knots cannot follow is all that may differ: it must be small
against the uncertainty, and vanish as the knots come closer.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import pytest
from scipy.linalg import null_space
from scipy.optimize import brentq, minimize_scalar
from sklearn.gaussian_process import GaussianProcessRegressor
from sklearn.gaussian_process.kernels import Kernel

from framevis import priors
from framevis import strip as strips
from framevis.deviations import Key, Layout
from framevis.estimate import Posterior, estimate
from framevis.frame import Floats, Frame, Stage, SweepReadings
from framevis.observe import Part, view
from framevis.reading.frame_file import read_frame
from framevis.rows import part_design
from machines import portal, write

LENGTH_MM = 1000.0


def moments(x: Floats) -> Floats:
    """∫|u − x|³ du and ∫|u − x|³ (u − ½) du over [0, 1], (2, N)."""
    m0 = (x**4 + (1.0 - x) ** 4) / 4.0
    m1 = ((1.0 - x) ** 5 - x**5) / 5.0 + (x - 0.5) * m0
    return np.stack([m0, m1])


def green(x: Floats, y: Floats) -> Floats:
    """Green's function (N, M) of a free strip on [0, 1], at right angles to straight lines in both arguments.

    With g = |x − y|³ / 12 and the lines 1, v = u − ½ (mean square 1, 1/12): G = g − Pg − gP + PgP. PgP has the numbers
    ∫∫ |u − w|³ = 1/10, ∫∫ |u − w|³ v(u) v(w) = −3/280.
    """
    lines = lambda u: np.stack([np.ones_like(u), 12.0 * (u - 0.5)])  # noqa: E731
    g = np.abs(x[:, None] - y[None, :]) ** 3
    once = lines(x).T @ moments(y) + moments(x).T @ lines(y)
    twice = lines(x).T @ np.diag([0.1, -3.0 / 280.0]) @ lines(y)
    return (g - once + twice) / 12.0


def prior_of(key: Key, log_scale: Floats, one: Floats, other: Floats) -> Floats:
    """Prior covariance (N, M) of a function between stations: offset, slope, and a bent free strip."""
    width, x, y = priors.WIDTHS[key[0]], one / LENGTH_MM, other / LENGTH_MM
    curved = width.curved * np.exp(log_scale[priors.SCALED.index(key[0])])
    line = width.offset**2 + width.ends**2 * np.outer(x - 0.5, y - 0.5)
    return line + curved**2 * 420.0 * green(x, y)


def covariance(log_scale: Floats, one: tuple[Part, ...], other: tuple[Part, ...]) -> Floats:
    """Prior covariance (N, M) of two sets of weighted sums of functions."""
    total = np.zeros((one[0].station_mm.size, other[0].station_mm.size))
    for a in one:
        for b in other:
            for key in (key for key in a.weights.keys() & b.weights.keys() if key[0] in priors.WIDTHS):
                both = a.weights[key] * b.weights[key]
                total += both * prior_of(key, log_scale, a.station_mm, b.station_mm)
    return total


class Tabled(Kernel):
    """A kernel over numbered readings and places, whose covariances (N, N) are known."""

    def __init__(self, table: Floats) -> None:
        self.table = table

    def __call__(self, X: Floats, Y: Floats | None = None, eval_gradient: bool = False) -> Floats:
        assert not eval_gradient
        other = X if Y is None else Y
        return self.table[np.ix_(X[:, 0].astype(int), other[:, 0].astype(int))]

    def diag(self, X: Floats) -> Floats:
        index = X[:, 0].astype(int)
        return self.table[index, index]

    def is_stationary(self) -> bool:
        return False


@dataclass(frozen=True, eq=False)
class Case:
    """One sweep's readings, what they see and leave open (N, q), and what is asked at places (K,)."""

    taken: SweepReadings
    seen: tuple[Part, ...]
    free: Floats
    asked: tuple[Part, ...]

    @cached_property
    def contrasts(self) -> Floats:
        """Combinations (N − q, N) of the readings in which what the sweep leaves open falls out, of unit noise."""
        return null_space((self.free / self.taken.u[:, None]).T).T / self.taken.u

    def process(self, log_scale: Floats) -> GaussianProcessRegressor:
        """The regressor, told of the contrasts; these are numbered first, then the places asked for."""
        contrasts = self.contrasts
        read = contrasts @ covariance(log_scale, self.seen, self.seen) @ contrasts.T
        cross = contrasts @ covariance(log_scale, self.seen, self.asked)
        table = np.block([[read, cross], [cross.T, covariance(log_scale, self.asked, self.asked)]])
        process = GaussianProcessRegressor(Tabled(table), alpha=1.0, optimizer=None)
        return process.fit(np.arange(len(contrasts))[:, None], contrasts @ self.taken.values)

    def posterior(self, log_scale: Floats) -> tuple[Floats, Floats]:
        """Mean (K,) and covariance (K, K) at the places asked for."""
        places = len(self.contrasts) + np.arange(self.asked[0].station_mm.size)
        return self.process(log_scale).predict(places[:, None], return_cov=True)


def ask(frame: Frame, name: str, key: Key | None) -> Case:
    """A sweep read at random stations of a random rail, and a function's values, or the sweep's own, all along."""
    sweep = next(sweep for sweep in frame.sweeps if sweep.name == name)
    random = np.random.default_rng(sum(name.encode()))
    s = np.sort(random.uniform(80.0, LENGTH_MM - 90.0, 22))
    s[5] = s[6]  # one station read twice
    size = {"um": 25.0, "mrad": 0.2}["mrad" if sweep.is_angle else "um"]
    values = size * (np.sin(s / 170.0) + 0.3 * np.cos(s / 70.0)) + 0.7 * size + sweep.u * random.normal(size=s.size)
    u = sweep.u * random.uniform(0.6, 2.0, s.size)
    taken = SweepReadings(sweep, s, values, u, np.arange(s.size, dtype=float), tuple(range(2, s.size + 2)))
    free = [np.ones_like(s)] if name != "straight" else [np.ones_like(s), (s - 500.0) / 500.0]
    places = np.concatenate([[0.0, 30.0], np.linspace(80.0, 920.0, 22), [970.0, LENGTH_MM], s[[3, 12]]])
    asked = view(sweep, places).parts if key is None else (Part({key: 1.0}, places),)
    return Case(taken, view(sweep, s).parts, np.column_stack(free), asked)


@pytest.fixture(scope="module")
def frame(tmp_path_factory: pytest.TempPathFactory) -> Frame:
    """Two beams and three rails, and a sweep for each case."""
    tree = portal(LENGTH_MM)
    tree["shim"] = []
    tree["sweep"] = {
        "face": {"kind": "indicator", "rail": "a", "direction": "height", "reference": "face", "u_um": 1.5},
        "straight": {"kind": "indicator", "rail": "c", "direction": "height", "u_um": 1.5},
        "along": {"kind": "level_along", "beam": "right", "base": 120.0, "u_mrad": 0.02},
        "across": {"kind": "level_across", "beam": "right", "u_mrad": 0.02},
        "bridge": {"kind": "bridge", "rails": ["a", "b"], "direction": "lateral", "u_um": 2.0},
    }
    return read_frame(write(tmp_path_factory.mktemp("gp"), tree, {}))


CASES: list[tuple[str, Key | None]] = [
    ("face", ("own_height", "a")),
    ("straight", None),
    ("along", ("bow_height", "right")),
    ("across", ("twist", "right")),
    ("bridge", None),
    ("bridge", ("own_lateral", "b")),
]
NAMES = ["own height", "height", "bow by a level", "twist", "bridge", "own lateral by a bridge"]
each_case = pytest.mark.parametrize(("name", "key"), CASES, ids=NAMES)


def ours(frame: Frame, case: Case) -> tuple[Posterior, Floats, Floats]:
    """framevis' posterior, with the mean and covariance at the places asked for."""
    layout = Layout.of(frame)
    posterior = estimate(layout, {}, Stage("now", (case.taken,)))
    assert not any(aside.any() for aside in posterior.aside)
    rows = np.sum([part_design(layout, part) for part in case.asked], axis=0)
    return posterior, rows @ posterior.mean, posterior.covariance(rows, rows)


def apart(frame: Frame, case: Case) -> tuple[float, float]:
    """Largest difference of means, in standard uncertainties, and of covariances, in products of two of them."""
    posterior, mean, cov = ours(frame, case)
    expected, expected_cov = case.posterior(posterior.scales)
    sd = np.sqrt(np.diag(expected_cov))
    rows = np.sum([part_design(posterior.layout, part) for part in case.asked], axis=0)
    np.testing.assert_allclose(posterior.sd(rows), np.sqrt(np.diag(cov)), rtol=1e-6)
    return float(np.abs((mean - expected) / sd).max()), float(np.abs((cov - expected_cov) / np.outer(sd, sd)).max())


def test_the_green_function_is_that_of_a_free_strip():
    """Trace 1/420, and the vibrations of a free–free beam for eigenfunctions (Euler–Bernoulli; computed)."""
    node, weight = np.polynomial.legendre.leggauss(60)
    x, w = (node + 1.0) / 2.0, weight / 2.0
    assert np.diag(green(x, x)) @ w == pytest.approx(1.0 / 420.0, rel=1e-12)
    found = np.linalg.eigvalsh(np.sqrt(w)[:, None] * green(x, x) * np.sqrt(w))[::-1]
    roots = [brentq(lambda b: np.cos(b) - 1.0 / np.cosh(b), (k + 0.4) * np.pi, (k + 0.6) * np.pi) for k in range(1, 6)]
    # Gauss points see the kink of |x − y|³ coarsely
    np.testing.assert_allclose(found[:5], np.array(roots) ** -4.0, rtol=1e-4)


@each_case
def test_mean_sd_and_covariance(frame, name, key):
    """At readings, between and beyond them. 50 mm knots: means within 1 % of u, variances within 0.5 %."""
    mean, cov = apart(frame, ask(frame, name, key))
    assert mean < 0.01
    assert cov < 0.005


@each_case
def test_equal_with_knots_close_enough(frame, name, key, monkeypatch):
    """5 mm knots: what is left is the strip's own, so framevis' algebra itself is right to some 1e-5."""
    monkeypatch.setattr(strips, "KNOT_SPACING_MM", 5.0)
    monkeypatch.setattr(strips, "MOST_INTERVALS", 1000)
    mean, cov = apart(frame, ask(frame, name, key))
    assert mean < 3e-5
    assert cov < 1e-5


@pytest.mark.parametrize(("name", "key"), CASES[2:4] + CASES[:1], ids=NAMES[2:4] + NAMES[:1])
@pytest.mark.parametrize(("spacing_mm", "apart"), [(50.0, 0.1), (5.0, 1e-4)])
def test_scale_of_the_prior(frame, name, key, spacing_mm, apart, monkeypatch):
    """The regressor's own marginal likelihood, times the weak prior on the scale, is highest where framevis says.

    Knots 50 mm apart with readings 38 mm apart leave out some bends: a tenth, where a scale is known to three."""
    monkeypatch.setattr(strips, "KNOT_SPACING_MM", spacing_mm)
    monkeypatch.setattr(strips, "MOST_INTERVALS", 1000)
    case = ask(frame, name, key)
    posterior, _, _ = ours(frame, case)
    at = priors.SCALED.index(key[0])

    def improbability(log_scale: float) -> float:
        scales = np.zeros(len(priors.SCALED))
        scales[at] = log_scale
        likelihood = case.process(scales).log_marginal_likelihood_value_
        return 0.5 * (log_scale / priors.LOG_SCALE_SD) ** 2 - likelihood

    best = minimize_scalar(improbability, bounds=(-4.0, 4.0), method="bounded", options={"xatol": 1e-7}).x
    assert abs(best) > 0.2  # not where the search began
    assert posterior.scales[at] == pytest.approx(best, abs=apart)
