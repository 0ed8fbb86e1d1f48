"""SciPy's Theil-Sen slopes and normal quantiles."""

import numpy as np
from scipy import stats

from signals import noise


def vectors():
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
    p = [1e-300, 1e-20, 1e-8, 0.001, 0.025, 0.05, 0.07, 0.08, 0.3, 0.5, 0.7, 0.9, 0.975, 0.999]
    return {"theilslopes": fits, "normalQuantiles": [{"p": v, "z": stats.norm.ppf(v)} for v in p]}
