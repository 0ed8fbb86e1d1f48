"""The whole sway chain in NumPy and SciPy: low-pass the stretch, cut the interval, measure."""

import numpy as np
from scipy import signal, stats
from scipy.integrate import trapezoid

from signals import standing_dog
from spectra import moments


def ellipse(x, y):
    n = len(x)
    covariance = np.cov(x, y)
    k = 2 * (n - 1) * (n + 1) / (n * (n - 2)) * stats.f.ppf(0.95, 2, n - 2)
    small, large = np.linalg.eigvalsh(covariance)
    angle = 0.5 * np.arctan2(2 * covariance[0, 1], covariance[0, 0] - covariance[1, 1])
    return {
        "area": np.pi * k * np.sqrt(np.linalg.det(covariance)),
        "major": np.sqrt(k * large),
        "minor": np.sqrt(k * small),
        "angleDeg": np.degrees(angle),
        "n": n,
    }


def measures(ml, cc, dv, rate):
    ml, cc, dv = (a - a.mean() for a in (ml, cc, dv))
    rms = {"ml": ml.std(), "cc": cc.std(), "dv": dv.std()}
    path = np.hypot(np.diff(ml), np.diff(cc)).sum()
    speed_ml, speed_cc = np.gradient(ml, 1 / rate), np.gradient(cc, 1 / rate)
    return {
        "rms": rms | {"horizontal": np.hypot(rms["ml"], rms["cc"])},
        "range": {"ml": np.ptp(ml), "cc": np.ptp(cc)},
        "path": path,
        "pathRate": path / (len(ml) / rate),
        "jerk": 0.5 * trapezoid(speed_ml**2 + speed_cc**2, dx=1 / rate),
        "ellipse": ellipse(ml, cc),
    }


def vectors():
    cases = []
    for rate, seconds, start, stop in ((100, 40, 0, 40), (100, 40, 10, 15), (50, 30, 7, 28), (25, 20, 3, 5.2)):
        n, first, last = round(seconds * rate), round(start * rate), round(stop * rate)
        raw = standing_dog(n, rate)
        sos = signal.butter(4, 3.5, fs=rate, output="sos")
        low = [signal.sosfiltfilt(sos, a - a.mean())[first:last] for a in raw]
        cut = [a[first:last] for a in raw]
        segment = min(last - first, round(10 * rate))
        spectral = {}
        for name, axis in zip(("ml", "cc"), cut):
            f, p = signal.welch(axis, rate, window="hann", nperseg=segment, detrend="constant")
            spectral[name] = moments(f, p)
        cases.append(
            {
                "rateHz": rate,
                "samples": n,
                "from": first,
                "to": last,
                "sway": measures(*low, rate),
                "spectral": spectral,
            }
        )
    quantiles = [{"dof": dof, "f95": stats.f.ppf(0.95, 2, dof)} for dof in (1, 2, 3, 8, 98, 498, 11998, 1199998)]
    return {"cases": cases, "quantiles": quantiles}
