"""The same job as `holdtrue grip --from FILE`, as a script that somebody would write with pandas, numpy and scipy.

In: a CSV file with `time_s` and `force_n`. Out: one line of JSON: clamps, mean, seconds without start-up, peak memory in KiB.
Kept beside the benchmarks to be measured against; it is no part of the program.
"""

import json
import resource
import sys
import time

import numpy as np
import pandas as pd
from scipy import ndimage, stats

began = time.perf_counter()
table = pd.read_csv(sys.argv[1], comment="#")
times = table["time_s"].to_numpy()
force = table["force_n"].to_numpy()

spacing = np.median(np.diff(times))
window = max(3, int(round(0.050 / spacing)) | 1)
smooth = ndimage.median_filter(force, size=window, mode="nearest")
noise = 1.4826 * np.median(np.abs(np.diff(force))) / np.sqrt(2)
held = int(round(0.25 / spacing))
highest = ndimage.minimum_filter1d(smooth, held).max()
lowest = ndimage.maximum_filter1d(smooth, held).min()
base = np.median(smooth[smooth < 0.5 * (highest + lowest)])
bound = max(100.0, 8 * noise, 0.05 * (highest - base))

over = smooth > base + bound
begins = np.flatnonzero(over[1:] & ~over[:-1]) + 1
ends = np.flatnonzero(~over[1:] & over[:-1]) + 1
ends = ends[ends > begins[0]]
forces, drops = [], []
for begin, end in zip(begins, ends):
    own = np.median(smooth[begin:end])
    before = np.searchsorted(times, [times[begin] - 0.7, times[begin] - 0.2])
    after = np.searchsorted(times, [times[end] + 0.5, times[end] + 1.0])
    zero = 0.5 * (force[before[0] : before[1]].mean() + force[after[0] : after[1]].mean())
    first, last = np.searchsorted(
        times, [times[begin] + 1.0, min(times[begin] + 3.0, times[end] - 0.1)]
    )
    kept = np.abs(force[first:last] - smooth[first:last]) < max(0.02 * (own - base), 6 * noise)
    forces.append(force[first:last][kept].mean() - zero)
    drops.append(-stats.linregress(times[first:last], force[first:last]).slope)
forces = np.array(forces)
spread = forces.std(ddof=1)
half = stats.t.ppf(0.975, len(forces) - 1) * spread / np.sqrt(len(forces))
trend = stats.linregress(np.arange(len(forces)), forces)
factor = stats.nct.ppf(0.95, len(forces) - 1, stats.norm.ppf(0.95) * np.sqrt(len(forces)))
bound_of_tolerance = forces.mean() - factor * spread / np.sqrt(len(forces))

print(
    json.dumps(
        {
            "clamps": len(forces),
            "mean_n": forces.mean(),
            "confidence_95_n": [forces.mean() - half, forces.mean() + half],
            "tolerance_95_95_n": bound_of_tolerance,
            "trend_p": trend.pvalue,
            "drop_n_per_s": float(np.mean(drops)),
            "seconds": time.perf_counter() - began,
            "peak_kib": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss,
        }
    )
)
