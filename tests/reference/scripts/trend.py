"""SciPy's Theil-Sen slopes, Kendall tests, and the quantiles behind intervals and reliability."""

from itertools import permutations

import numpy as np
from scipy import special, stats

from signals import noise


def theil_sen():
    series = [
        ([1, 2, 3, 4, 10, 12, 18], [9, 15, 19, 20, 45, 55, 78]),
        (list(range(12)), [4.0, 5, 4, 6, 5, 7, 7, 6, 8, 9, 9, 10]),
        ([1, 1, 1, 2, 3, 3, 4, 5], [10, 22, 21, 30, 22, 30, 40, 40]),
        ([0, 1], [3, 5]),
        ([0, 1, 2], [3, 5, 4]),
        (list(range(40)), (0.05 * np.arange(40) + noise(40)).tolist()),
        (list(range(9)), [2.0] * 9),
    ]
    fits = []
    for x, y in series:
        for confidence in (0.90, 0.93, 0.95):
            fit = stats.theilslopes(y, x, confidence)
            fits.append(
                {
                    "x": x,
                    "y": y,
                    "confidence": confidence,
                    "slope": fit.slope,
                    "intercept": fit.intercept,
                    "low": fit.low_slope,
                    "high": fit.high_slope,
                }
            )
    return fits


def s_of(orders):
    """Pairs that rise less pairs that fall, for each row."""
    orders = np.asarray(orders)
    i, j = np.triu_indices(orders.shape[1], 1)
    return np.sign(orders[:, j] - orders[:, i]).sum(axis=1)


def counted_p(y):
    """Two-sided p from every order of the values, one by one."""
    s = s_of([y])[0]
    return float(np.mean(np.abs(s_of(list(permutations(y)))) >= abs(s)))


def kendall():
    """tau-b and p against time. p is SciPy's exact one without ties up to 10 values, counted over all
    orders with ties up to 8; from 11 values on the normal one with continuity correction, from the S and
    variance of `variance`."""
    series = [
        [10, 15, 14, 20],
        [1.26, 1.27, 1.12, 1.16, 1.03],
        [9, 15, 19, 20, 45, 55, 78],
        [3, 1, 4, 1.5, 5, 9, 2, 6, 5.5],
        [1, 3, 2, 6, 4, 5, 10, 8, 9, 7],
        noise(10).tolist(),
        [1, 1, 2, 2],
        [1, 2, 2, 3, 3],
        [2, 1, 1, 3, 3, 3],
        [5, 4, 4, 3, 4, 2, 1],
        [1, 1, 1, 2, 2, 3, 3, 3],
        [1, 2, 3, 2, 1, 2, 3, 4],
        [4.0, 5, 4, 6, 5, 7, 7, 6, 8, 9, 9, 10],
        np.round(0.05 * np.arange(40) + noise(40), 1).tolist(),
        (0.1 * np.arange(16) - noise(16)).tolist(),
    ]
    tests = []
    for y in series:
        n = len(y)
        ties = np.unique(y, return_counts=True)[1]
        s = int(s_of([y])[0])
        if n > 10:
            p = 2 * stats.norm.sf(max(abs(s) - 1, 0) / np.sqrt(variance(n, ties)))
        elif max(ties) == 1:
            p = stats.kendalltau(np.arange(n), y, method="exact")[1]
        else:
            p = counted_p(y)
        tests.append(
            {"y": y, "s": s, "variance": variance(n, ties), "p": p, "tauB": stats.kendalltau(np.arange(n), y)[0]}
        )
    return tests


def variance(n, ties):
    return float((n * (n - 1) * (2 * n + 5) - (ties * (ties - 1) * (2 * ties + 5)).sum()) / 18)


def quantile(distribution, p):
    """ppf with two Newton steps on the nearer tail: SciPy 1.10 inverts t to nine digits only."""
    x = distribution.ppf(p)
    for _ in range(2):
        miss = distribution.cdf(x) - p if p <= 0.5 else (1 - p) - distribution.sf(x)
        x -= miss / distribution.pdf(x)
    return x


def distributions():
    beta = [(0.5, 0.5), (1, 3), (2.5, 7.5), (2, 0.5), (12, 30), (80, 45.5), (0.5, 120)]
    x = [0.003, 0.02, 0.3, 0.5, 0.77, 0.95]
    p = [1e-6, 0.025, 0.05, 0.5, 0.95, 0.975, 0.999]
    dof = [(1, 4), (2, 10), (5, 15), (5, 18), (15, 5), (18, 5), (5, 3.0637), (7, 7), (1, 1), (40, 120), (3, 1.5)]
    return {
        "logGamma": [{"z": z, "value": special.gammaln(z)} for z in (1e-3, 0.5, 1.5, 3, 7.25, 42, 150.5, 1e4)],
        "incompleteBeta": [
            {"x": v, "a": a, "b": b, "lower": special.betainc(a, b, v), "upper": special.betainc(b, a, 1 - v)}
            for a, b in beta
            for v in x
        ],
        "fQuantiles": [{"p": v, "d1": d1, "d2": d2, "f": quantile(stats.f(d1, d2), v)} for d1, d2 in dof for v in p],
        "tQuantiles": [{"p": v, "dof": d, "t": quantile(stats.t(d), v)} for d in (1, 2, 4, 4.5, 7, 30, 200) for v in p],
        "normalTails": [{"z": z, "p": stats.norm.sf(z)} for z in (-3, -0.5, 0, 0.01, 1, 1.96, 1.999, 2, 2.5, 5, 12, 30)],
    }


def intraclass():
    """Mean squares as drops in squared error of least-squares fits; one- and two-way ICCs with F limits.

    Limits after Shrout & Fleiss 1979, from quantiles of one F only.
    """
    tables = {
        "shrout": [[9, 2, 5, 8], [6, 1, 3, 2], [8, 4, 6, 8], [7, 1, 2, 6], [10, 5, 6, 9], [6, 2, 4, 7]],
        "noise": np.round(5 + noise(30).reshape(10, 3) + 2 * noise(13)[3:, None], 3).tolist(),
        "two by two": [[1.0, 2.0], [4.0, 3.5]],
    }
    return {name: table_values(np.array(table, float)) | {"table": table} for name, table in tables.items()}


def table_values(table):
    n, k = table.shape
    y = table.ravel()
    rows = np.repeat(np.eye(n), k, axis=0)
    columns = np.tile(np.eye(k), (n, 1))

    def left_over(design):
        return float(np.sum((y - design @ np.linalg.lstsq(design, y, rcond=None)[0]) ** 2))

    both = left_over(np.hstack([rows, columns]))
    within = left_over(rows)
    between = (left_over(np.ones((n * k, 1))) - within) / (n - 1)
    trials = (within - both) / (k - 1)
    within /= n * (k - 1)
    residual = both / ((n - 1) * (k - 1))
    out = {"between": between, "within": within, "betweenTrials": trials, "residual": residual}
    for name, ms, d2 in (("1", within, n * (k - 1)), ("3", residual, (n - 1) * (k - 1))):
        # Limits of the ratio of expected mean squares, from the tails of F: 1 + k·(variance ratio).
        limits = [between / ms / quantile(stats.f(n - 1, d2), q) for q in (0.975, 0.025)]
        out[f"icc{name}1"] = [(f - 1) / (f - 1 + k) for f in (between / ms, *limits)]
        out[f"icc{name}k"] = [(f - 1) / f for f in (between / ms, *limits)]
    return out


def vectors():
    p = [1e-300, 1e-20, 1e-8, 0.001, 0.025, 0.05, 0.07, 0.08, 0.3, 0.5, 0.7, 0.9, 0.975, 0.999]
    return {
        "theilslopes": theil_sen(),
        "normalQuantiles": [{"p": v, "z": stats.norm.ppf(v)} for v in p],
        "kendall": kendall(),
        "intraclass": intraclass(),
    } | distributions()
