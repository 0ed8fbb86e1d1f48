"""Writes ../vectors/scipy_pchip.json: SciPy's PchipInterpolator on uneven times."""

import json
from pathlib import Path

import numpy as np
import scipy
from scipy.interpolate import PchipInterpolator

rng = np.random.default_rng(20260304)


def case(name, t, y, at):
    t, y, at = (np.asarray(v, dtype=float) for v in (t, y, at))
    return {"name": name, "t": t.tolist(), "y": y.tolist(), "at": at.tolist(), "expected": PchipInterpolator(t, y)(at).tolist()}


jittered = np.arange(60) / 100 + rng.uniform(-0.003, 0.003, 60)
cases = [
    case("sine on jittered times", jittered, np.sin(2 * np.pi * 5 * jittered), np.linspace(jittered[0], jittered[-1], 83)),
    case("random walk", jittered, np.cumsum(rng.normal(size=60)), np.linspace(jittered[0], jittered[-1], 83)),
    case("plateaus and steps", range(10), [0, 0, 1, 1, 1, 5, 5, 2, 2, 3], np.linspace(0, 9, 46)),
    case("end slope that would overshoot", [0, 1, 1.5, 4], [0, 1, 20, 21], np.linspace(0, 4, 41)),
    case("end slope of the other sign", [0, 1, 2, 3], [0, 0.1, 10, 10.1], np.linspace(0, 3, 31)),
    case("end slope held to three secants", [0, 1, 1.1, 2], [0, 1, -5, -5.2], np.linspace(0, 2, 41)),
    case("three samples", [0, 0.4, 1], [2, -1, 0], np.linspace(0, 1, 21)),
    case("two samples", [0, 2], [1, 5], [0, 0.5, 1, 2]),
]
out = {"tool": f"scipy {scipy.__version__}, PchipInterpolator", "script": "scripts/pchip.py", "cases": cases}
(Path(__file__).parent.parent / "vectors" / "scipy_pchip.json").write_text(json.dumps(out) + "\n")
