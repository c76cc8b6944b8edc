"""Times a million what-if rows of Merkel's method against the same model in numpy, whole columns at once, and
holds the two against each other.

    python tests/reference/many_runs.py target/release/coldbasin [rows]
"""

import io
import subprocess
import sys
import tempfile
import time

import numpy as np

SITE = """coldbasin = 1
[air]
dry_bulb = "32 degC"
wet_bulb = "24 degC"
[circuit]
circulation = "900 m3/h"
hot_water = "37 degC"
cold_water = "29 degC"
[[cell]]
arrangement = "counterflow"
water_to_air = 1.2
drift = "0.005 %"
[evaporation]
method = "merkel"
[blowdown]
cycles = 5
"""
PRESSURE = 101325.0


def saturation_pressure(t):
    """Hyland and Wexler (1983) over water, as in ASHRAE Fundamentals, ch. 1."""
    k = t + 273.15
    return np.exp(
        -5.8002206e3 / k + 1.3914993 - 4.8640239e-2 * k + 4.1764768e-5 * k**2 - 1.4452093e-8 * k**3 + 6.5459673 * np.log(k)
    )


def saturated(t):
    p = saturation_pressure(t)
    return 0.621945 * p / (PRESSURE - p)


def enthalpy(t, w):
    return 1.006 * t + w * (2501.0 + 1.86 * t)


def evaporation(wet, dry=32.0, hot=37.0, cold=29.0, ratio=1.2):
    """kg in a kg of water: exit air saturated, by Newton on the temperature."""
    w = ((2501.0 - 2.326 * wet) * saturated(wet) - 1.006 * (dry - wet)) / (2501.0 + 1.86 * dry - 4.186 * wet)
    out = enthalpy(dry, w) + 4.186 * ratio * (hot - cold)
    t = np.full_like(wet, hot)
    for _ in range(8):
        h = 1e-4
        f = enthalpy(t, saturated(t)) - out
        slope = (enthalpy(t + h, saturated(t + h)) - enthalpy(t - h, saturated(t - h))) / (2 * h)
        t -= f / slope
    return (saturated(t) - w) / ratio


def main():
    binary = sys.argv[1]
    rows = int(sys.argv[2]) if len(sys.argv) > 2 else 1_000_000
    wet = 15.0 + 9.9 * np.arange(rows) / rows
    start = time.perf_counter()
    evaporated = evaporation(wet)
    blowdown = np.maximum(evaporated / 4.0 - 5e-5, 0.0)
    makeup = evaporated + blowdown + 5e-5
    table = np.column_stack([wet, makeup, evaporated, blowdown])
    computed = time.perf_counter() - start
    text = io.StringIO()
    np.savetxt(text, table[: rows // 10], delimiter=",")
    written = computed + 10 * (time.perf_counter() - start - computed)
    with tempfile.NamedTemporaryFile("w", suffix=".toml") as site:
        site.write(SITE)
        site.flush()
        step = 9.9 / rows
        vary = f"air.wet_bulb=15 to {15 + 9.9 - step / 2} step {step} degC"
        start = time.perf_counter()
        command = [binary, "whatif", site.name, "--vary", vary, "--format", "csv"]
        out = subprocess.run(command, capture_output=True, check=True).stdout
        ours = time.perf_counter() - start
    lines = out.decode().splitlines()
    assert len(lines) == rows + 1, len(lines)
    header = lines[0].split(",")
    column = header.index("makeup_m3_per_h")
    first, last = (float(lines[i].split(",")[column]) for i in (1, -1))
    # Both scale with the circulation: their ratio is the model's.
    assert abs(first / last / (makeup[0] / makeup[-1]) - 1) < 1e-6
    print(f"{rows} rows: numpy {computed:.2f} s, with text {written:.2f} s; coldbasin, with text, {ours:.2f} s")


main()
