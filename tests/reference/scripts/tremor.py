"""Band power, band RMS and spectral peak of three summed axes in SciPy."""

import numpy as np
from scipy import signal

from signals import standing_dog
from spectra import band_power


def peak(f, p, low, high):
    """Largest local maximum of the band, log-parabolic position, width at half power."""
    df = f[1]
    inner = np.arange(1, len(p) - 1)
    is_top = (p[inner] > p[inner - 1]) & (p[inner] >= p[inner + 1])
    tops = inner[is_top & (f[inner] >= low - 1e-9) & (f[inner] <= high + 1e-9)]
    k = tops[np.argmax(p[tops])]
    a, b, c = np.log(p[k - 1 : k + 2])
    half = p[k] / 2
    left = right = k
    while p[left] > half:
        left -= 1
    while p[right] > half:
        right += 1
    from_hz = f[left] + (half - p[left]) / (p[left + 1] - p[left]) * df
    to_hz = f[right] - (half - p[right]) / (p[right - 1] - p[right]) * df
    return {"peakHz": f[k] + 0.5 * (a - c) / (a - 2 * b + c) * df, "peakWidthHz": to_hz - from_hz}


def vectors():
    cases = []
    for rate, seconds in ((100, 1.5), (100, 2), (100, 5), (100, 19.99), (100, 20), (100, 30), (50, 12.3), (104, 7)):
        n = round(seconds * rate)
        axes = standing_dog(n, rate)
        segment = min(n, round(4 * rate) if n >= 20 * rate else round(2 * rate))
        densities = [signal.welch(a, rate, window="hann", nperseg=segment, detrend="constant") for a in axes]
        f, p = densities[0][0], sum(d[1] for d in densities)
        bands = []
        for low, high in ((4, 12), (12, 18), (2.3, 9.7)):
            power = band_power(f, p, low, high)
            found = peak(f, p, low, high) if seconds >= 2 else {"peakHz": None, "peakWidthHz": None}
            bands.append({"fromHz": low, "toHz": high, "power": power, "rms": np.sqrt(power)} | found)
        cases.append({"rateHz": rate, "samples": n, "bands": bands})

    # Time course: one Hann periodogram of 2 s each 0.5 s.
    rate, n = 100, 730
    axes = standing_dog(n, rate)
    course = []
    for start in range(0, n - 200 + 1, 50):
        windows = [a[start : start + 200] for a in axes]
        densities = [signal.welch(w, rate, window="hann", nperseg=200, detrend="constant") for w in windows]
        power = band_power(densities[0][0], sum(d[1] for d in densities), 4, 12)
        course.append({"tS": (start + 100) / rate, "rms": np.sqrt(power)})
    return {"cases": cases, "timeCourse": {"rateHz": rate, "samples": n, "windows": course}}
