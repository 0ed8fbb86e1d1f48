"""The measures of one recording in SciPy and NumPy, timed. Reads float64 samples (x, y, z interleaved) from the
file named first and the holds (from,to in samples) from the rest; prints JSON, times in seconds:

- `measuresS`: low-pass of the whole recording, then per hold sway (RMS, range, path, jerk, ellipse, spectrum) and
  tremor band power;
- `wholeS`: the same and what else the report holds: the checks of quality, the running sums holds are found by, the
  bootstrap interval of each hold, spectral peaks over a robust background, the test for bursts, the comparable 5 s
  pieces. Not in it: finding the holds from the sums, repetitions, marks, words. They are given to it.

Written for speed as one would write it by hand: whole-array operations, one Welch call for three axes, all
background lines fitted together, the F quantile in closed form. Least of eleven runs after two to warm up."""
import json
import sys
import time

import numpy as np
from scipy import signal

RATE = 100.0
BANDS = ((4, 12), (12, 18), (0.5, 3.5))
PIECE = int(5 * RATE)
# NumPy 2 renamed trapz.
trapezoid = getattr(np, "trapezoid", None) or np.trapz


def low_passed(acc):
    sos = signal.butter(4, 3.5, fs=RATE, output="sos")
    return signal.sosfiltfilt(sos, acc - acc.mean(axis=0), axis=0)


def path_and_jerk(cut):
    step = np.diff(cut[:, :2], axis=0)
    path = np.sqrt((step**2).sum(axis=1)).sum()
    rate_of_change = np.gradient(cut[:, :2], axis=0) * RATE
    return path, 0.5 * trapezoid((rate_of_change**2).sum(axis=1), dx=1 / RATE)


def sway(cut):
    n = len(cut)
    cut = cut - cut.mean(axis=0)
    rms = np.sqrt((cut**2).mean(axis=0))
    path, jerk = path_and_jerk(cut)
    f95 = (n - 2) / 2 * np.expm1(-2 / (n - 2) * np.log(0.05))
    k = 2 * (n - 1) * (n + 1) / (n * (n - 2)) * f95
    values, vectors = np.linalg.eigh(np.cov(cut[:, 0], cut[:, 1]))
    return rms, np.ptp(cut, axis=0), path, jerk, np.pi * k * np.sqrt(values.prod()), np.sqrt(k * values), vectors


def sway_spectrum(raw):
    freq, psd = signal.welch(raw[:, :2].T, RATE, nperseg=min(len(raw), int(10 * RATE)), detrend="constant")
    keep = (freq >= 0.15) & (freq <= 5)
    f, p = freq[keep], psd[:, keep]
    m0, m1, m2 = p.sum(axis=1), (f * p).sum(axis=1), (f**2 * p).sum(axis=1)
    run = np.cumsum(p, axis=1)
    quantiles = [f[np.searchsorted(row, share * total)] for row, total in zip(run, m0) for share in (0.5, 0.95)]
    return m0, quantiles, np.sqrt(m2 / m0), np.sqrt(1 - m1**2 / (m0 * m2))


def tremor_spectrum(raw):
    nperseg = min(len(raw), int((4 if len(raw) >= 20 * RATE else 2) * RATE))
    freq, psd = signal.welch(raw.T, RATE, nperseg=nperseg, detrend="constant")
    return freq, psd.sum(axis=0)


def band_power(freq, density, band):
    keep = (freq >= band[0]) & (freq <= band[1])
    return trapezoid(density[keep], freq[keep])


def measures(acc, holds):
    low = low_passed(acc)
    out = []
    for first, last in holds:
        freq, total = tremor_spectrum(acc[first:last])
        powers = [band_power(freq, total, band) for band in BANDS]
        out.append((sway(low[first:last]), sway_spectrum(acc[first:last]), freq, total, powers))
    return low, out


def quality(t, acc):
    steps = np.diff(t)
    gaps = np.flatnonzero(steps > 0.05)
    jitter = steps.std(), np.abs(steps - steps.mean()).max()
    on_grid = np.abs(t - t[0] - np.arange(len(t)) / RATE).max() < 1e-4
    change = np.abs(np.diff(acc, axis=0))
    step = change[change > 1e-6].min()
    low, high = acc.min(axis=0), acc.max(axis=0)
    at_end = [np.count_nonzero(acc[:, i] == end[i]) for end in (low, high) for i in range(3)]
    spikes = np.count_nonzero(np.abs(acc).max(axis=1) > 32 * 9.80665)
    still = np.concatenate(([0], (change == 0).all(axis=1), [0])).astype(np.int8)
    edges = np.flatnonzero(np.diff(still))
    flat = np.count_nonzero(edges[1::2] - edges[::2] >= RATE)
    windows = np.lib.stride_tricks.sliding_window_view(acc, int(RATE), axis=0)[:: int(RATE / 2)]
    quietest = windows[windows.var(axis=2).sum(axis=1).argmin()]
    bend = np.diff(quietest, n=2, axis=1)
    noise = 1.4826 * np.median(np.abs(bend - np.median(bend, axis=1)[:, None]), axis=1) / np.sqrt(6)
    rest = np.linalg.norm(quietest, axis=0).mean()
    return gaps, jitter, on_grid, step, at_end, spikes, flat, noise, rest


def running_sums(acc):
    """Per 0.1 s: means and variances of slow motion, power of fast motion; the same over 1 s and 5 s."""
    low = signal.butter(4, 3.5, fs=RATE, output="sos")
    high = signal.butter(2, 4, "high", fs=RATE, output="sos")
    slow, _ = signal.sosfilt(low, acc, axis=0, zi=signal.sosfilt_zi(low)[:, :, None] * acc[0])
    fast, _ = signal.sosfilt(high, acc, axis=0, zi=signal.sosfilt_zi(high)[:, :, None] * acc[0])
    n = len(acc) // 10 * 10
    table = np.concatenate((acc, slow, slow**2, (fast**2).sum(axis=1)[:, None]), axis=1)
    sums = np.concatenate((np.zeros((1, 10)), np.cumsum(table[:n].reshape(-1, 10, 10).sum(axis=1), axis=0)))
    second, five = (sums[k:] - sums[:-k] for k in (10, 50))
    variance = [
        (w[:, 6:9] / size).sum(axis=1) - ((w[:, 3:6] / size) ** 2).sum(axis=1)
        for w, size in ((second, 100), (five, 500))
    ]
    statistic = variance[0] / 0.15 + second[:, 9] / 100 / 0.09
    up = second[:, :3] / np.linalg.norm(second[:, :3], axis=1)[:, None]
    return statistic, np.arccos(np.clip(up @ up[0], -1, 1)), variance[1][::5].argmin()


def bootstrap(cut, rng):
    n = len(cut)
    block = int(RATE * max(1, np.cbrt(n / RATE / 10)))
    if n < 3 * block:
        return None
    deviation = cut[:, :2] - cut[:, :2].mean(axis=0)
    power = (deviation**2).sum(axis=1)
    energy = np.concatenate(([0], np.cumsum(np.concatenate((power, power[:block])))))
    start = rng.integers(0, n, (1000, -(-n // block)))
    drawn = (energy[start + block] - energy[start]).sum(axis=1)
    return np.quantile(np.log(drawn), (0.025, 0.975))


def peaks(freq, spectra):
    """Highest local maximum of each band of each spectrum (rows), its width, and its height over the background."""
    log_f, log_p = np.log(freq[1:]), np.log(spectra[:, 1:])
    is_top = np.zeros(spectra.shape, bool)
    is_top[:, 1:-1] = (spectra[:, 1:-1] > spectra[:, :-2]) & (spectra[:, 1:-1] >= spectra[:, 2:])
    rows, at = [], []
    for low, high in BANDS:
        inside = np.where(is_top & (freq >= low) & (freq <= high), spectra, 0)
        top = inside.argmax(axis=1)
        found = np.flatnonzero(inside[np.arange(len(top)), top] > 0)
        rows.append(found)
        at.append(top[found])
    rows, at = np.concatenate(rows), np.concatenate(at)
    left, middle, right = (log_p[rows, at + k - 1] for k in (-1, 0, 1))
    peak = freq[at] + 0.5 * (left - right) / (left - 2 * middle + right) * freq[1]
    f = freq[1:]
    keep = (f >= 1) & (f <= 25) & (np.abs(f - peak[:, None]) > 1) & (np.abs(f - 2 * peak[:, None]) > 1)
    x, y = np.broadcast_to(log_f, keep.shape), log_p[rows]
    weight, count = keep.astype(float), keep.sum(axis=1)
    for _ in range(11):
        total = weight.sum(axis=1)
        mean_x, mean_y = (weight * x).sum(axis=1) / total, (weight * y).sum(axis=1) / total
        dx = x - mean_x[:, None]
        slope = (weight * dx * (y - mean_y[:, None])).sum(axis=1) / (weight * dx**2).sum(axis=1)
        residual = np.abs(y - mean_y[:, None] - slope[:, None] * dx)
        scale = np.sort(np.where(keep, residual, np.inf), axis=1)[np.arange(len(rows)), count // 2]
        weight = np.where(keep, np.clip(1 - (residual / (4.685 * 1.4826 * scale[:, None])) ** 2, 0, None) ** 2, 0)
    background = np.exp(mean_y + slope * (np.log(peak) - mean_x))
    widths = []
    for row, k in zip(rows, at):
        below = np.flatnonzero(spectra[row] <= spectra[row, k] / 2)
        widths.append(freq[min(below[below > k], default=-1)] - freq[max(below[below < k], default=0)])
    return peak, spectra[rows, at] / background, widths


def is_bursts(raw):
    before = np.concatenate((np.zeros((1, 3)), np.cumsum(raw, axis=0)))
    at = np.arange(len(raw))
    first, last = np.maximum(at - 25, 0), np.minimum(at + 26, len(raw))
    fast = raw - (before[last] - before[first]) / (last - first)[:, None]
    power = fast**2
    return (power**2).mean(axis=0).sum() / (power.mean(axis=0) ** 2).sum() > 10


def whole(t, acc, holds, rng):
    found = quality(t, acc), running_sums(acc)
    low, measured = measures(acc, holds)
    extra = [(bootstrap(low[first:last], rng), is_bursts(acc[first:last])) for first, last in holds]
    by_length = {}
    for _, _, freq, total, _ in measured:
        by_length.setdefault(len(freq), (freq, []))[1].append(total)
    tops = [peaks(freq, np.array(spectra)) for freq, spectra in by_length.values()]
    pieces = []
    for first, last in holds:
        for at in range(first, last - PIECE + 1, PIECE):
            cut = low[at:at + PIECE]
            rms = np.sqrt(cut[:, :2].var(axis=0).sum())
            freq, total = tremor_spectrum(acc[at:at + PIECE])
            pieces.append((rms, *path_and_jerk(cut), band_power(freq, total, BANDS[0])))
    return found, measured, extra, tops, np.median(pieces, axis=0)


def least_s(run):
    run()
    run()
    runs = []
    for _ in range(11):
        start = time.perf_counter()
        run()
        runs.append(time.perf_counter() - start)
    return min(runs)


acc = np.fromfile(sys.argv[1], dtype=np.float64).reshape(-1, 3)
holds = [tuple(int(v) for v in text.split(",")) for text in sys.argv[2:]]
t = np.arange(len(acc)) / RATE
rng = np.random.default_rng(1)
_, measured = measures(acc, holds)
print(json.dumps({
    "measuresS": least_s(lambda: measures(acc, holds)),
    "wholeS": least_s(lambda: whole(t, acc, holds, rng)),
    # To see that both sides measure the same: horizontal RMS and jerk of each hold.
    "rms": [float(np.hypot(*rms[:2])) for (rms, *_), *_ in measured],
    "jerk": [float(of_hold[3]) for of_hold, *_ in measured],
}))
