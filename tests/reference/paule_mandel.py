"""Variance between studies and lines through their results, with statsmodels, for tests/reference/trend/paule_mandel.json.

Run: python3 paule_mandel.py > trend/paule_mandel.json (needs numpy, scipy, statsmodels)."""

import json

import numpy as np
import scipy.optimize
import statsmodels
import statsmodels.api as sm

# BCG vaccine trials: tuberculosis and none among the vaccinated, then among the others; degrees of latitude.
TRIALS = [
    (4, 119, 11, 128, 44), (6, 300, 29, 274, 55), (3, 228, 11, 209, 42), (62, 13536, 248, 12619, 52),
    (33, 5036, 47, 5761, 13), (180, 1361, 372, 1079, 44), (8, 2537, 10, 619, 19), (505, 87886, 499, 87892, 13),
    (29, 7470, 45, 7232, 27), (17, 1699, 65, 1600, 42), (186, 50448, 141, 27197, 18), (5, 2493, 3, 2338, 33),
    (27, 16886, 29, 17825, 33),
]


def line(x, y, variance):
    """Paule-Mandel with a regressor: statsmodels fits, scipy finds the variance; the errors statsmodels gives with an
    estimated scale are those of Knapp and Hartung."""
    design = sm.add_constant(x)
    fit = lambda between: sm.WLS(y, design, weights=1 / (variance + between)).fit()
    excess = lambda between: fit(between).ssr - (len(y) - 2)
    between = scipy.optimize.brentq(excess, 0, 100 * np.var(y), xtol=1e-15, rtol=1e-14) if excess(0) > 0 else 0.0
    found = fit(between)
    low, high = found.conf_int()[1]
    at = [float(x.min()), float(x.mean()), float(x.max() + np.ptp(x))]
    told = found.get_prediction(sm.add_constant(np.array(at), has_constant="add")).summary_frame()
    return {
        "between": between, "slope": found.params[1], "slope_low": low, "slope_high": high, "p": found.pvalues[1],
        "scale": found.scale, "at": at, "line": list(told["mean"]),
        "line_low": list(told["mean_ci_lower"]), "line_high": list(told["mean_ci_upper"]),
    }


t = np.array(TRIALS, dtype=float)
y = np.log(t[:, 0] / (t[:, 0] + t[:, 1])) - np.log(t[:, 2] / (t[:, 2] + t[:, 3]))
v = 1 / t[:, 0] - 1 / (t[:, 0] + t[:, 1]) + 1 / t[:, 2] - 1 / (t[:, 2] + t[:, 3])
bcg = line(t[:, 4], y, v)
# Grip force over seven years, made up: two coarse visits first.
years = np.array([0.0, 0.6, 1.1, 2.0, 2.9, 4.2, 5.0, 6.1, 7.0])
force = np.array([10230.0, 10310.0, 10020.0, 9905.0, 9930.0, 9610.0, 9480.0, 9335.0, 9160.0])
own = np.array([180.0, 150.0, 60.0, 45.0, 40.0, 55.0, 40.0, 50.0, 45.0])
grip = line(years, force, own**2)


def value(v, tolerance=1e-9):
    return {"value": v, "rel_tol": tolerance, "abs_tol": 1e-12}


print(json.dumps({
    "id": "trend.paule_mandel",
    "checks": "variance between studies by Paule and Mandel with a regressor; line, interval and significance",
    "source": {
        "document": "G. A. Colditz et al., JAMA 271 (1994) 698, the thirteen trials as data set dat.bcg of the R package metadat",
        "publisher": f"computed with statsmodels {statsmodels.__version__} and scipy {scipy.__version__}",
        "year": 2026, "taken_from": "own script, paule_mandel.py; the trials from memory",
    },
    "provenance": "computed",
    "input": {"y": list(y), "v": list(v), "latitude": list(t[:, 4]), "years": list(years), "force": list(force), "own": list(own)},
    "expected": {
        "latitude": value(bcg, 1e-8), "grip": value(grip, 1e-8),
    },
}, indent=1))
