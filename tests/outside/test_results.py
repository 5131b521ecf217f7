"""Own results: exact intervals of rates, the curve of harm and its limit, limits of chance for surgeons.

Rates: Garwood, Biometrika 1936;28:437-442 (chi-squared form), and the classical table of limits of a Poisson count (from
memory, recomputed). Curve: Bernoulli CUSUM, Reynolds and Stoumbos, J Qual Technol 1999;31:87-108 (from memory): mean run
length by the Markov chain of Brook and Evans, Biometrika 1972;59:539-549 (from memory), on a fine grid. Funnel: binomial
quantiles of SciPy.
"""

import math

import numpy
import pytest
from scipy.sparse import csr_matrix, identity
from scipy.sparse.linalg import spsolve
from scipy.stats import binom, chi2

import packets

POISSON = {0: (0.0, 3.689), 1: (0.025, 5.572), 3: (0.619, 8.767), 10: (4.795, 18.39)}
STEP = 0.05
GRID = 4000


def garwood(events: int, years: float) -> tuple[float, float]:
    low = chi2.ppf(0.025, 2 * events) / 2 if events else 0.0
    return float(low * 100 / years), float(chi2.ppf(0.975, 2 * events + 2) / 2 * 100 / years)


def test_rates_by_the_chi_squared_distribution():
    rows = packets.table("rates.json")
    assert len(rows) > 100
    for row in rows:
        assert (row["low"], row["high"]) == pytest.approx(garwood(row["events"], row["years"]), rel=1e-6), row
        assert row["rate"] == pytest.approx(100 * row["events"] / row["years"])


def test_published_limits_of_a_count():
    for row in packets.table("rates.json"):
        if row["years"] == 100.0 and row["events"] in POISSON:
            assert (row["low"], row["high"]) == pytest.approx(POISSON[row["events"]], abs=0.006), row


def heights(harms: list[bool], expected: float, alarming: float) -> list[float]:
    up, down = math.log(alarming / expected), math.log((1 - expected) / (1 - alarming))
    height, all_heights = 0.0, []
    for harm in harms:
        height = height + up if harm else max(0.0, height - down)
        all_heights.append(height)
    return all_heights


def test_the_curve_adds_up():
    for row in packets.table("curves.json"):
        assert row["heights"] == pytest.approx(heights(row["harms"], row["expected"], row["alarming"]))


def run_length(expected: float, alarming: float, limit: float) -> float:
    """Mean count of eyes until the limit, from nothing, while harm is as expected."""
    up, down = math.log(alarming / expected), math.log((1 - expected) / (1 - alarming))
    states = (numpy.arange(GRID) + 0.5) * limit / GRID
    rows, columns, shares = [], [], []
    for share, step in ((expected, up), (1 - expected, -down)):
        to = numpy.floor(numpy.maximum(states + step, 0.0) / limit * GRID).astype(int)
        inside = to < GRID
        rows.append(numpy.arange(GRID)[inside])
        columns.append(to[inside])
        shares.append(numpy.full(inside.sum(), share))
    chain = csr_matrix((numpy.concatenate(shares), (numpy.concatenate(rows), numpy.concatenate(columns))), (GRID, GRID))
    return float(spsolve((identity(GRID) - chain).tocsc(), numpy.ones(GRID))[0])


def test_the_limit_keeps_its_run_length():
    """Within what 4,000 simulated runs leave open, and no higher than two steps need."""
    for row in packets.table("curves.json"):
        length = run_length(row["expected"], row["alarming"], row["limit"])
        below = run_length(row["expected"], row["alarming"], row["limit"] - 2 * STEP)
        assert length > row["eyes"] * 0.92 and below < row["eyes"] * 1.08, (row["limit"], length, below)


def test_limits_of_chance_are_binomial_quantiles():
    rows = packets.table("funnel.json")
    assert len(rows) > 80
    for row in rows:
        wanted = [[int(binom.ppf(at, row["n"], row["share"])) for at in pair] for pair in ((0.025, 0.975), (0.001, 0.999))]
        assert [row["inner"], row["outer"]] == wanted, row


def test_a_wrong_run_length_is_noticed():
    """The check of the check: a limit that one harm reaches is reached after 1 / p eyes."""
    assert run_length(0.05, 0.2, 0.5) == pytest.approx(20.0, rel=0.01)
