"""SciPy's Butterworth sections and filtered signals."""

import numpy as np
from scipy import signal

from signals import sines, noise


def vectors():
    designs = []
    for rate in (25, 50, 100, 200):
        for order in range(1, 9):
            for cutoff in (0.3, 3.5, 10.0):
                for kind in ("low", "high"):
                    sos = signal.butter(order, cutoff, kind, fs=rate, output="sos")
                    designs.append(
                        {"order": order, "cutoffHz": cutoff, "rateHz": rate, "kind": kind, "sos": sos.tolist()}
                    )

    runs = []
    for order, cutoff, kind, rate, n in (
        (4, 3.5, "low", 100, 150),
        (4, 3.5, "low", 50, 150),
        (3, 3.5, "low", 50, 60),
        (2, 0.3, "high", 50, 150),
        (5, 10.0, "low", 100, 60),
        (1, 3.5, "low", 25, 20),
        (4, 3.5, "low", 100, 16),
    ):
        x = sines(n, rate, [(0.5, 0.7, 0.3), (0.2, 6.1, 1.0)]) + 0.1 * noise(n) + 2.5
        sos = signal.butter(order, cutoff, kind, fs=rate, output="sos")
        runs.append(
            {
                "order": order,
                "cutoffHz": cutoff,
                "kind": kind,
                "rateHz": rate,
                "x": x.tolist(),
                "sosfilt_zi": signal.sosfilt_zi(sos).ravel().tolist(),
                "sosfilt": signal.sosfilt(sos, x).tolist(),
                "sosfilt_settled": signal.sosfilt(sos, x, zi=signal.sosfilt_zi(sos) * x[0])[0].tolist(),
                "sosfiltfilt": signal.sosfiltfilt(sos, x).tolist(),
            }
        )

    # Shorter than the default padding, where SciPy needs it spelled out: n - 1 samples.
    x = np.array([1.0, 4.0, 2.0, -1.0, 0.5])
    sos = signal.butter(4, 3.5, fs=100, output="sos")
    short = {"x": x.tolist(), "sosfiltfilt": signal.sosfiltfilt(sos, x, padlen=len(x) - 1).tolist()}
    return {"designs": designs, "runs": runs, "short": short}
