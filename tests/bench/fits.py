"""Speed of the fit beside general-purpose routines, measured side by side in one run.

    python tests/bench/fits.py

Prints ratios and asserts nothing. numpy.linalg.lstsq is warm, the best of three counts; its first call is
several times slower.
"""

from __future__ import annotations

import resource
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
from scipy.optimize import least_squares

sys.path.insert(0, str(Path(__file__).parents[1]))

from plumbend.fitting import fit_scanned
from plumbend.frames import FloatArray
from plumbend.job.reader import read_job
from plumbend.shape.chain import Chain
from plumbend.shape.feet import feet
from plumbend.shape.fit import FormingLimits, fit_from
from plumbend.shape.guess import chain_from_legs
from plumbend.shape.measured import Measured
from plumbend.shape.scan import Scan, ScanRows
from plumbend.shape.search import Search
from plumbend.solving import solve
from support.tubes import OD, RADIUS, clear_of_itself, leg_points, random_tube, scan_places

LIMITS = FormingLimits(RADIUS)


def best_of(count: int, work: Callable[[], object]) -> float:
    """Seconds of the fastest of ``count`` runs."""
    times = []
    for _ in range(count):
        begin = time.perf_counter()
        work()
        times.append(time.perf_counter() - begin)
    return min(times)


def clear_tube(rng: np.random.Generator, bends: int) -> Chain:
    """A random tube that does not run into itself."""
    while True:
        tube = random_tube(rng, bends)
        if clear_of_itself(tube):
            return tube


def small_fits() -> None:
    """60 points, 5 bends: the fit beside scipy's with differences, same residuals, same start."""
    rng = np.random.default_rng(60)
    ours, theirs = [], []
    for _ in range(10):
        tube = clear_tube(rng, 5)
        points = tuple(leg_points(tube, 10, rng, 1.6))
        measured = Measured(OD, points)
        search = Search(measured, LIMITS)
        legs = search.segmentation.legs(5)
        assert legs is not None
        start = chain_from_legs(search.places, legs, RADIUS)
        evidence = measured.compiled(5)
        centre = np.array([point.at for point in points[1:-1]])
        first, last = points[0].at, points[-1].at

        def residuals(
            x: FloatArray,
            start: Chain = start,
            centre: FloatArray = centre,
            first: FloatArray = first,
            last: FloatArray = last,
            reference: FloatArray = evidence.reference,
        ) -> FloatArray:
            """The same misses, as vectors square to the tube: three numbers for two that are independent."""
            chain = start.moved(x, reference)
            misses = [first - chain.origin, feet(chain, centre).off.ravel(), last - chain.far_end]
            return np.concatenate(misses) / 1.6

        ours.append(best_of(5, lambda s=start, e=evidence: fit_from(s, e, LIMITS)))
        theirs.append(best_of(2, lambda f=residuals, n=evidence.size: least_squares(f, np.zeros(n), x_scale="jac")))
        ending = least_squares(residuals, np.zeros(evidence.size), x_scale="jac")
        assert 2 * ending.cost >= fit_from(start, evidence, LIMITS).chi2 * (1 - 1e-6)
    ratios = np.array(theirs) / np.array(ours)
    print(f"60 points, 5 bends: {np.median(ours) * 1e3:.1f} ms; least_squares with differences takes")
    print(f"  {np.median(ratios):.1f} times as long (median of 10 tubes; {ratios.min():.1f} to {ratios.max():.1f})")


def large_scans() -> None:
    """Scans of 4 bends beside numpy.linalg.lstsq of as many rows by 18."""
    rng = np.random.default_rng(1_000_000)
    tube = clear_tube(rng, 4)
    times = {}
    for count in (10_000, 100_000, 1_000_000):
        scan = Scan(scan_places(tube, count, rng, 0.5), 0.5)
        measured = Measured(OD, scan=scan)
        times[count] = best_of(3, lambda m=measured: fit_scanned(m, 4, LIMITS))
        found = fit_scanned(measured, 4, LIMITS)
        assert found is not None
        fit = found.fit
        off = abs(np.sort(np.degrees(fit.chain.angles)) - np.sort(np.degrees(tube.angles))).max()
        rows, right = rng.normal(size=(count, 18)), rng.normal(size=count)
        np.linalg.lstsq(rows, right)
        reference = best_of(3, lambda a=rows, b=right: np.linalg.lstsq(a, b))
        print(f"{count:>9,} outside points: {times[count]:.3f} s, {times[count] / reference:.2f} times lstsq")
        print(f"            angles within {off:.4f} degrees of the truth")
    print(f"ten times the points take {times[100_000] / times[10_000]:.1f} and")
    print(f"  {times[1_000_000] / times[100_000]:.1f} times the time")
    whole_command(scan, reference)


def cost_table() -> None:
    """Seconds of one pass over the places, of which a fit takes a few: it grows with places and with bends."""
    rng = np.random.default_rng(7)
    counts = (10_000, 100_000, 1_000_000)
    print("seconds of one pass over the places, its share of each place and bend or straight in nanoseconds")
    print("   bends" + "".join(f"{count:>24,}" for count in counts))
    for bends in (1, 2, 4, 6, 8):
        tube = clear_tube(rng, bends)
        line = f"{bends:>8}"
        for count in counts:
            rows = ScanRows(Scan(scan_places(tube, count, rng, 0.5), 0.5).gathered(), OD)
            motion = tube.motion(np.zeros(3))
            took = best_of(3, lambda r=rows, t=tube, m=motion: r.normal(t, m))
            line += f"{took:>16.4f}{took / count / (2 * bends + 1) * 1e9:>8.1f}"
        print(line)


def whole_command(scan: Scan, reference: float) -> None:
    """Reading the files and solving, with a million points."""
    with tempfile.TemporaryDirectory() as folder:
        job = Path(folder) / "scan.toml"
        np.savetxt(Path(folder) / "scan.csv", scan.at, fmt="%.3f", delimiter=",", header="x,y,z", comments="")
        job.write_text(
            f'units = "mm"\n[tubing]\nod = {OD}\nwall = 2.4\n'
            f'[[die]]\nname = "d"\nod = {OD}\nclr = {RADIUS}\ngrip = 100\nmax_wrap = 180\n'
            '[[tube]]\nname = "t"\nbends = 4\nscan = "scan.csv"\n'
        )
        whole = best_of(2, lambda: solve(read_job(job)))
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 2**20
    print(f"reading and solving all {len(scan.at):,}: {whole:.2f} s, {whole / reference:.1f} times lstsq of as many")
    print(f"peak memory of this run, lstsq's own matrices included: {peak:.2f} GiB")


if __name__ == "__main__":
    small_fits()
    large_scans()
    cost_table()
