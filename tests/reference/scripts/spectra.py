"""SciPy's transforms, Welch densities, band powers and spectral moments."""

import numpy as np
from scipy import signal
from scipy.integrate import trapezoid

from signals import noise, sines


def band_power(f, density, low, high):
    """Trapezoid over [low, high], edges interpolated linearly."""
    inside = f[(f > low) & (f < high)]
    at = np.concatenate(([low], inside, [high]))
    return trapezoid(np.interp(at, f, density), at)


def moments(f, density, low=0.15, high=5.0):
    use = (f >= low - 1e-9) & (f <= high + 1e-9)
    f, p, df = f[use], density[use], f[1] - f[0]
    m0, m1, m2 = p.sum(), (f * p).sum(), (f**2 * p).sum()
    running = np.cumsum(p)
    return {
        "totalPower": m0 * df,
        "f50Hz": f[np.argmax(running >= 0.5 * m0 * (1 - 1e-12))],
        "f95Hz": f[np.argmax(running >= 0.95 * m0 * (1 - 1e-12))],
        "centroidHz": np.sqrt(m2 / m0),
        "dispersion": np.sqrt(1 - m1**2 / (m0 * m2)),
    }


def vectors():
    transforms = []
    for n in (1, 2, 3, 4, 5, 6, 7, 9, 15, 16, 30, 49, 97, 100, 128, 143, 200):
        x = noise(n) + 0.7
        spectrum = np.fft.rfft(x)
        transforms.append({"x": x.tolist(), "re": spectrum.real.tolist(), "im": spectrum.imag.tolist()})

    rate, n = 100.0, 1037
    x = sines(n, rate, [(0.5, 0.7, 0.3), (0.2, 6.13, 1.0), (0.05, 14.6, 0.2)]) + 0.1 * noise(n) + 9.8
    densities = []
    for segment, overlap in ((200, None), (200, 150), (400, None), (201, None), (257, 0), (1000, None), (1037, None)):
        f, p = signal.welch(
            x, rate, window="hann", nperseg=segment, noverlap=overlap, detrend="constant", scaling="density"
        )
        densities.append(
            {
                "segmentSamples": segment,
                "overlapSamples": overlap,
                "frequencyHz": f.tolist(),
                "density": p.tolist(),
                "bands": [
                    {"fromHz": low, "toHz": high, "power": band_power(f, p, low, high)}
                    for low, high in ((4, 12), (12, 18), (0.5, 3.5), (4.03, 4.07), (5.21, 11.99), (0, 49))
                ],
                "moments": moments(f, p),
            }
        )
    return {"transforms": transforms, "welch": {"rateHz": rate, "samples": n, "densities": densities}}
