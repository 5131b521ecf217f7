"""Exact intervals of small counts, and the limit when none was recorded.

Clopper-Pearson, two-sided 95 %: the beta distribution of SciPy as second opinion; worked examples of Newcombe RG, Stat Med
1998;17:857-872 (four decimals, from memory, recomputed). None recorded: Hanley JA, Lippman-Hand A, JAMA
1983;249:1743-1745 say about 3/n for the one-sided limit; the two-sided exact one is printed, and lies above it.
"""

import math

import pytest
from scipy.stats import beta, binomtest

import packets

NEWCOMBE = {
    (81, 263): (0.2527, 0.3676), (15, 148): (0.0578, 0.1617), (0, 20): (0.0, 0.1684), (1, 29): (0.0009, 0.1776),
    (29, 29): (0.8806, 1.0),
}
# n: 1 - 0.025 ** (1 / n) to five places, computed apart from the program.
NONE_RECORDED = {
    14: 0.23164, 39: 0.09025, 50: 0.07112, 57: 0.06267, 100: 0.03622, 112: 0.03240, 167: 0.02185, 195: 0.01874,
    1000: 0.00368,
}


def exact(k: int, n: int) -> tuple[float, float]:
    low = beta.ppf(0.025, k, n - k + 1) if k else 0.0
    high = beta.ppf(0.975, k + 1, n - k) if k < n else 1.0
    return float(low), float(high)


def wrong_intervals(rows: list[dict]) -> list[str]:
    faults = []
    for row in rows:
        k, n = row["k"], row["n"]
        for name, ours, theirs in zip(("low", "high"), (row["low"], row["high"]), exact(k, n)):
            if abs(ours - theirs) > 1e-9:
                faults.append(f"{k}/{n} {name}: {ours} and not {theirs}")
    return faults


def wrong_limits(rows: list[dict]) -> list[str]:
    """Where none was recorded, the printed limit is the exact one rounded up to a whole person in 1,000, never below it."""
    rows = [row for row in rows if row["k"] == 0]
    wanted = {row["n"]: math.ceil((1 - 0.025 ** (1 / row["n"])) * 1000) for row in rows}
    return [f"0/{row['n']}: {row['upper_in_1000']}" for row in rows if row["upper_in_1000"] != wanted[row["n"]]]


def test_intervals_by_the_beta_distribution():
    rows = packets.table("intervals.json")
    assert len(rows) > 200
    assert wrong_intervals(rows) == []


def test_intervals_by_inverting_the_exact_test():
    """A sample against SciPy's own interval of the binomial test."""
    for row in packets.table("intervals.json")[::17]:
        theirs = binomtest(row["k"], row["n"]).proportion_ci(0.95, method="exact")
        assert row["low"] == pytest.approx(theirs.low, abs=1e-7) and row["high"] == pytest.approx(theirs.high, abs=1e-7)


def test_published_examples():
    ours = {(row["k"], row["n"]): (row["low"], row["high"]) for row in packets.table("intervals.json")}
    for counts, (low, high) in NEWCOMBE.items():
        assert ours[counts] == pytest.approx((low, high), abs=0.00006), counts


def test_limits_when_none_was_recorded():
    rows = packets.table("intervals.json")
    assert wrong_limits(rows) == []
    limits = {row["n"]: row["high"] for row in rows if row["k"] == 0}
    for n, limit in NONE_RECORDED.items():
        assert limits[n] == pytest.approx(limit, abs=0.000006), n
        # One-sided by the rule of three, so below the two-sided limit; for small n the rule overshoots.
        assert n < 30 or limits[n] > 3 / n, n


def test_faults_are_noticed():
    row = next(row for row in packets.table("intervals.json") if row["k"] == 0)
    assert wrong_intervals([row | {"high": row["high"] + 0.001}])
    assert wrong_limits([row | {"upper_in_1000": row["upper_in_1000"] - 1}])
