"""Every measure of a hold from a CSV, in NumPy and SciPy, written from the definitions in words.

    python3 whole_report.py FILE FROM TO RATE   prints the measures of [FROM, TO) seconds as JSON
    python3 whole_report.py --make FOLDER       writes the test traces and their expected numbers

The CSV holds t_s, ax, ay, az in m/s^2 with x = CC, y = ML, z = DV (identity mount). It shares no code
with the other scripts but the noise generator of the test traces.
"""

import csv
import json
import os
import sys

import numpy as np
import scipy
from scipy import integrate, interpolate, signal, stats

from signals import noise

BANDS = {"tremor": (4.0, 12.0), "fast": (12.0, 18.0), "sway": (0.5, 3.5)}


# Reading and the even grid.


def read_csv(path):
    with open(path, encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    t = np.array([float(row["t_s"]) for row in rows])
    cc, ml, dv = (np.array([float(row[name]) for row in rows]) for name in ("ax", "ay", "az"))
    return t - t[0], {"ml": ml, "cc": cc, "dv": dv}


def gap_free(t, rate):
    """Slices of t between gaps: steps above 2.5 nominal periods and above 50 ms."""
    limit = max(2.5 / rate, 0.05) * (1 + 1e-9)
    breaks = np.flatnonzero(np.diff(t) > limit) + 1
    edges = [0, *breaks.tolist(), len(t)]
    return [slice(a, b) for a, b in zip(edges[:-1], edges[1:])]


def even_stretches(t, axes, rate, resolution):
    """(start, axes) per stretch; samples on the grid are kept, others interpolated (PCHIP)."""
    for part in gap_free(t, rate):
        at = t[part]
        grid = at[0] + np.arange(len(at)) / rate
        tolerance = max(resolution, 1e-4, 0.01 / rate) * (1 + 1e-9)
        if np.max(np.abs(at - grid)) <= tolerance:
            yield at[0], {name: a[part] for name, a in axes.items()}
            continue
        grid = at[0] + np.arange(int(np.floor((at[-1] - at[0]) * rate + 1e-6)) + 1) / rate
        grid[-1] = min(grid[-1], at[-1])
        yield at[0], {name: interpolate.PchipInterpolator(at, a[part])(grid) for name, a in axes.items()}


def cut(start, count, rate, from_s, to_s):
    """Which samples of a stretch lie in [from, to); an instant counts as reached within a millionth period."""
    at = start + np.arange(count) / rate
    slack = 1e-6 / rate
    return (at >= from_s - slack) & (at < to_s - slack)


# Sway in time.


def low_pass(x, rate):
    sos = signal.butter(4, 3.5, btype="lowpass", fs=rate, output="sos")
    return signal.sosfiltfilt(sos, x - x.mean())


def prediction_ellipse(ml, cc):
    n = len(ml)
    s = np.cov(np.vstack((ml, cc)), ddof=1)
    k = 2 * (n - 1) * (n + 1) / (n * (n - 2)) * stats.f.ppf(0.95, 2, n - 2)
    eigenvalues = np.sort(np.linalg.eigvalsh(s))
    return {
        "area": np.pi * k * np.sqrt(s[0, 0] * s[1, 1] - s[0, 1] ** 2),
        "major": np.sqrt(k * eigenvalues[1]),
        "minor": np.sqrt(k * eigenvalues[0]),
        "angleDeg": np.rad2deg(0.5 * np.arctan2(2 * s[0, 1], s[0, 0] - s[1, 1])),
        "n": n,
    }


def sway(axes, rate):
    ml, cc, dv = (axes[name] - np.mean(axes[name]) for name in ("ml", "cc", "dv"))
    rms = {name: np.sqrt(np.mean(a**2)) for name, a in (("ml", ml), ("cc", cc), ("dv", dv))}
    rms["horizontal"] = np.sqrt(rms["ml"] ** 2 + rms["cc"] ** 2)
    path = np.sum(np.sqrt(np.diff(ml) ** 2 + np.diff(cc) ** 2))
    d_ml, d_cc = np.gradient(ml) * rate, np.gradient(cc) * rate
    return {
        "rms": rms,
        "range": {"ml": ml.max() - ml.min(), "cc": cc.max() - cc.min()},
        "path": path,
        "pathRate": path / (len(ml) / rate),
        "jerk": 0.5 * integrate.trapezoid(d_ml**2 + d_cc**2, dx=1 / rate),
        "ellipse": prediction_ellipse(ml, cc),
    }


# Spectra.


def density(x, rate, segment):
    return signal.welch(
        x, fs=rate, window="hann", nperseg=segment, noverlap=segment // 2, detrend="constant", scaling="density"
    )


def spectral(axes, rate):
    names = ("totalPower", "f50Hz", "f95Hz", "centroidHz", "dispersion")
    n = len(axes["ml"])
    result = {name: {"ml": None, "cc": None} for name in names}
    if n < 2 * rate:
        return result
    for axis in ("ml", "cc"):
        f, p = density(axes[axis], rate, min(n, round(10 * rate)))
        step = rate / min(n, round(10 * rate))
        use = (f > 0.15 - 1e-9) & (f < 5 + 1e-9)
        f, p = f[use], p[use]
        m0, m1, m2 = (np.sum(f**k * p * step) for k in range(3))
        running = np.cumsum(p * step)
        values = (
            m0,
            f[np.searchsorted(running, 0.50 * m0)],
            f[np.searchsorted(running, 0.95 * m0)],
            np.sqrt(m2 / m0),
            np.sqrt(1 - m1**2 / (m0 * m2)),
        )
        for name, value in zip(names, values):
            result[name][axis] = value
    return result


def peak(f, p, low, high):
    """Largest local maximum in the band: place by a parabola through ln P, width between the half-power points."""
    tops, _ = signal.find_peaks(p)
    tops = tops[(f[tops] >= low - 1e-9) & (f[tops] <= high + 1e-9)]
    if len(tops) == 0:
        return None, None
    k = tops[np.argmax(p[tops])]
    curve, slope, _ = np.polyfit([-1.0, 0.0, 1.0], np.log(p[k - 1 : k + 2] / p[k]), 2)
    half = p[k] / 2
    below = np.flatnonzero(p[:k] <= half)
    above = np.flatnonzero(p[k:] <= half) + k
    left, right = f[0], f[-1]
    if len(below):
        b = below[-1]
        left = np.interp(half, p[b : b + 2], f[b : b + 2])
    if len(above):
        a = above[0]
        right = np.interp(half, p[[a, a - 1]], f[[a, a - 1]])
    return f[k] - 0.5 * slope / curve * f[1], right - left


def tremor(axes, rate):
    n = len(axes["ml"])
    segment = min(n, round(4 * rate) if n >= 20 * rate else round(2 * rate))
    f = density(axes["ml"], rate, segment)[0]
    p = sum(density(a, rate, segment)[1] for a in axes.values())
    bands = []
    for name, (low, high) in BANDS.items():
        band = {"name": name, "fromHz": low, "toHz": high}
        if rate < 2.5 * high:
            bands.append(band | dict.fromkeys(("power", "rms", "peakHz", "peakWidthHz")))
            continue
        at = np.concatenate(([low], f[(f > low) & (f < high)], [high]))
        power = integrate.trapezoid(np.interp(at, f, p), at)
        peak_hz, width_hz = peak(f, p, low, high) if n >= 2 * rate else (None, None)
        bands.append(band | {"power": power, "rms": np.sqrt(power), "peakHz": peak_hz, "peakWidthHz": width_hz})
    return {"bands": bands}


def measure(path, from_s, to_s, rate, resolution=0.0):
    t, axes = read_csv(path)
    for start, raw in even_stretches(t, axes, rate, resolution):
        use = cut(start, len(raw["ml"]), rate, from_s, to_s)
        if not use.any():
            continue
        low = {name: low_pass(a, rate)[use] for name, a in raw.items()}
        unfiltered = {name: a[use] for name, a in raw.items()}
        return {
            "fromS": from_s,
            "toS": to_s,
            "sway": sway(low, rate) | {"spectral": spectral(unfiltered, rate)},
            "tremor": tremor(unfiltered, rate),
        }
    raise ValueError(f"no sample in {from_s}:{to_s} s")


# Test traces.


def stand(t, seed):
    """A swaying dog with a tremor at t (s): cc, ml, dv in m/s^2."""
    n = len(t)
    raw = noise(3 * n, seed).reshape(3, n)
    drift = np.cumsum(noise(2 * n, seed + 1).reshape(2, n), axis=1) * 0.002

    def tones(components):
        return sum(a * np.sin(2 * np.pi * f * t + p) for a, f, p in components)

    cc = tones([(0.07, 0.31, 0.2), (0.03, 0.88, 1.3), (0.01, 2.3, 0.4), (0.05, 6.3, 0.3), (0.008, 14.7, 2.0)])
    ml = tones([(0.05, 0.43, 1.9), (0.02, 1.17, 0.6), (0.012, 2.9, 2.2), (0.03, 6.3, 1.8)])
    dv = tones([(0.012, 0.62, 0.9), (0.025, 6.3, 2.7), (0.01, 13.9, 0.5)])
    return cc + 0.02 * raw[0] + drift[0] + 0.25, ml + 0.02 * raw[1] + drift[1] - 0.4, dv + 0.02 * raw[2] + 9.80665


def traces():
    """name, stamps as text, exact times, rate, stamp resolution, intervals."""

    def even(rate, seconds):
        t = np.arange(round(rate * seconds)) / rate
        return [repr(v) for v in t.tolist()], t

    stamps, t = even(100, 32)
    yield "even-100", stamps, t, 100, 0.01, [(0, 32), (5, 10), (3.337, 8.774), (4, 21), (6, 26.01), (7, 9), (7, 8.5)]
    stamps, t = even(50, 30)
    yield "even-50", stamps, t, 50, 0.01, [(0, 30), (2, 12), (1.23, 20.01), (10, 14.5)]
    stamps, t = even(200, 14)
    yield "even-200", stamps, t, 200, 0.001, [(0, 14), (2, 12), (3.001, 8.004)]
    stamps, t = even(25, 30)
    yield "even-25", stamps, t, 25, 0.01, [(0, 30), (4, 15)]
    stamps, t = even(100, 24)
    keep = [i for i in range(len(t)) if not 900 <= i < 1137]
    yield "gap", [stamps[i] for i in keep], t[keep], 100, 0.01, [(1, 8), (0, 9), (12, 22), (11.37, 24)]
    t = np.arange(2600) / 104
    yield "rounded-104", [f"{v:.3f}" for v in t], t, 104, 0.001, [(0, 25), (5, 15), (2.5, 7.25)]
    t = np.arange(2000) / 100 + 0.0025 * noise(2000, 77)
    t = np.round(t - t[0], 6)
    yield "jittered-100", [f"{v:.6f}" for v in t], t, 100, 1e-6, [(2, 12), (5, 10)]


def make(folder):
    os.makedirs(folder, exist_ok=True)
    for seed, (name, stamps, t, rate, resolution, intervals) in enumerate(traces(), start=1):
        path = os.path.join(folder, f"{name}.csv")
        with open(path, "w", encoding="utf-8", newline="\n") as file:
            file.write("t_s,ax,ay,az\n")
            for stamp, *sample in zip(stamps, *stand(t, seed)):
                file.write(",".join([stamp, *(f"{v:.7f}" for v in sample)]) + "\n")
        holds = [measure(path, a, b, rate, resolution) for a, b in intervals]
        with open(os.path.join(folder, f"{name}.json"), "w", encoding="utf-8") as file:
            made = {"scipy": scipy.__version__, "numpy": np.__version__, "rateHz": rate, "samples": len(t)}
            json.dump(made | {"holds": holds}, file, default=float)
            file.write("\n")


if __name__ == "__main__":
    if sys.argv[1] == "--make":
        make(sys.argv[2])
    else:
        json.dump(measure(sys.argv[1], *(float(v) for v in sys.argv[2:5])), sys.stdout, indent=2, default=float)
