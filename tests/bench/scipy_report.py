"""The measure set of one recording in SciPy, timed: low-pass of the whole trace, then per interval sway
(RMS, range, path, jerk, ellipse, spectrum) and tremor bands. Reads float64 samples (x, y, z interleaved)
from the file named first and intervals (from,to in samples) from the rest; prints seconds per run."""
import sys
import time

import numpy as np
from scipy import signal
from scipy.stats import f as f_dist

RATE = 100.0
# NumPy 2 renamed trapz.
trapezoid = getattr(np, "trapezoid", None) or np.trapz


def measures(acc, intervals):
    sos = signal.butter(4, 3.5, fs=RATE, output="sos")
    low = signal.sosfiltfilt(sos, acc - acc.mean(axis=0), axis=0)
    out = []
    for first, last in intervals:
        cut = low[first:last] - low[first:last].mean(axis=0)
        raw = acc[first:last]
        cc, ml = cut[:, 0], cut[:, 1]
        n = len(cc)
        rms = np.sqrt((cut**2).mean(axis=0))
        path = np.hypot(np.diff(ml), np.diff(cc)).sum()
        d_ml, d_cc = np.gradient(ml) * RATE, np.gradient(cc) * RATE
        jerk = 0.5 * trapezoid(d_ml**2 + d_cc**2, dx=1 / RATE)
        k = 2 * (n - 1) * (n + 1) / (n * (n - 2)) * f_dist.ppf(0.95, 2, n - 2)
        area = np.pi * k * np.sqrt(np.linalg.det(np.cov(ml, cc)))
        spectral = []
        for axis in (raw[:, 1], raw[:, 0]):
            freq, psd = signal.welch(axis, RATE, nperseg=min(n, int(10 * RATE)), detrend="constant")
            keep = (freq >= 0.15) & (freq <= 5)
            fr, p = freq[keep], psd[keep]
            m0, m1, m2 = p.sum(), (fr * p).sum(), (fr**2 * p).sum()
            run = np.cumsum(p)
            spectral.append((m0, fr[np.searchsorted(run, 0.5 * m0)], fr[np.searchsorted(run, 0.95 * m0)],
                             np.sqrt(m2 / m0), np.sqrt(1 - m1**2 / (m0 * m2))))
        nperseg = min(n, int((4 if n >= 20 * RATE else 2) * RATE))
        freq, psd = signal.welch(raw.T, RATE, nperseg=nperseg, detrend="constant")
        total = psd.sum(axis=0)
        bands = [trapezoid(total[(freq >= a) & (freq <= b)], freq[(freq >= a) & (freq <= b)])
                 for a, b in ((4, 12), (12, 18), (0.5, 3.5))]
        out.append((rms, np.ptp(cut, axis=0), path, jerk, area, spectral, bands))
    return out


acc = np.fromfile(sys.argv[1], dtype=np.float64).reshape(-1, 3)
intervals = [tuple(int(v) for v in text.split(",")) for text in sys.argv[2:]]
measures(acc, intervals)
runs = []
for _ in range(7):
    start = time.perf_counter()
    measures(acc, intervals)
    runs.append(time.perf_counter() - start)
print(sorted(runs)[len(runs) // 2])
