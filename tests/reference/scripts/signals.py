"""Closed-form test signals; tests/reference/signals.ts makes the same ones."""

import numpy as np


def noise(n, seed=12345):
    """Uniform noise of zero mean and unit variance from a linear congruential generator."""
    state, values = seed, []
    for _ in range(n):
        state = (1664525 * state + 1013904223) % 4294967296
        values.append(state / 4294967296 - 0.5)
    return np.array(values) * np.sqrt(12.0)


def sines(n, rate, components):
    """Sum of A sin(2 pi f t + p) over (A, f, p), t = i / rate."""
    t = np.arange(n) / rate
    return sum(a * np.sin(2 * np.pi * f * t + p) for a, f, p in components)


def standing_dog(n, rate):
    """Acceleration in dog axes (ml, cc, dv), m/s^2: sway, a 5.3 Hz tremor, noise, gravity and an offset."""
    raw = noise(3 * n)
    ml = sines(n, rate, [(0.050, 0.47, 0.70), (0.020, 1.21, 2.50), (0.006, 3.40, 0.10), (0.030, 5.3, 1.9)])
    cc = sines(n, rate, [(0.080, 0.30, 0.20), (0.035, 0.93, 1.10), (0.012, 2.70, 2.00), (0.060, 5.3, 0.4)])
    dv = sines(n, rate, [(0.010, 0.60, 0.40), (0.020, 5.3, 2.2), (0.015, 13.6, 0.1)])
    return (
        ml + 0.01 * raw[:n] + 0.12,
        cc + 0.01 * raw[n : 2 * n] - 0.31,
        dv + 0.01 * raw[2 * n :] + 9.80665,
    )
