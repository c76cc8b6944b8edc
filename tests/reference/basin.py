"""Makes basin.json beside this file: three invented basins followed by scipy (see README.md)."""

import json
import math
import pathlib

import numpy as np
from scipy.integrate import solve_ivp

HERE = pathlib.Path(__file__).parent
G = 9.80665


def weir(length, head):
    return 2 / 3 * 0.62 * math.sqrt(2 * G) * length * max(head, 0.0) ** 1.5 * 3600


def orifice(diameter, head):
    return 0.6 * math.pi / 4 * diameter**2 * math.sqrt(2 * G * max(head, 0.0)) * 3600


def overflow(case, head):
    if "pipe" in case:
        return min(weir(math.pi * case["pipe"], head), orifice(case["pipe"], head))
    return weir(case["weir"], head)


def makeup(case, level):
    kind, value = case["makeup"]
    if kind == "float":
        part = (case["shut_level"] - level) / (case["shut_level"] - case["open_level"])
        return case["capacity"] * min(max(part, 0.0), 1.0)
    return case["capacity"] * value


def follow(case):
    volumes = [v for _, v in case["points"]]
    levels = [l for l, _ in case["points"]]

    def level_of(volume):
        # Straight on beyond the ends.
        for (l0, v0), (l1, v1) in zip(case["points"], case["points"][1:]):
            if volume <= v1 or (l1, v1) == case["points"][-1]:
                return l0 + (volume - v0) / (v1 - v0) * (l1 - l0)

    def slopes(_, y):
        volume, up, solids = y[:3]
        level = level_of(volume)
        cycles = solids / (volume + up + case["elsewhere"])
        runs = case["pumps_run"]
        carried = case["drift"] + case["blowdown"] if runs else 0.0
        drain = orifice(case["drain"], level) if case["drain_is_open"] else 0.0
        over = overflow(case, level - case["overflow_level"])
        water = makeup(case, level)
        pumped = ((case["held_up"] if runs else 0.0) - up) * 3 / case["run_back_hours"]
        liquid = carried + case["leakage"] + drain + over
        evaporation = case["evaporation"] if runs else 0.0
        return [
            water + case["rain"] - evaporation - liquid - pumped,
            pumped,
            water - cycles * liquid,
            over,
            cycles * over,
            water,
        ]

    start = float(np.interp(case["start_level"], levels, volumes))
    whole = start + case["held_up"] + case["elsewhere"]
    state = [start, case["held_up"], case["cycles"] * whole, 0.0, 0.0, 0.0]
    lip = lambda _, y: level_of(y[0]) - case["overflow_level"]
    alarm = lambda _, y: case["low_alarm_level"] - level_of(y[0])
    lip.direction = alarm.direction = 1
    found = solve_ivp(slopes, (0.0, case["hours"]), state, "LSODA", rtol=1e-11, atol=1e-12, events=[lip, alarm], max_step=case["hours"] / 500)
    end = found.y[:, -1]
    first = lambda times: float(times[0]) if len(times) else None
    return {
        "level": level_of(end[0]),
        "cycles": end[2] / (end[0] + end[1] + case["elsewhere"]),
        "overflowed": end[3],
        "overflowed_solids": end[4],
        "makeup": end[5],
        "overflows_at": first(found.t_events[0]),
        "alarms_at": first(found.t_events[1]),
    }


COMMON = dict(drain=0.08, drain_is_open=False, rain=0.0, leakage=0.2, drift=0.05, run_back_hours=0.1, low_alarm_level=0.2)
CASES = [
    # A pump stop that overflows by a standing pipe.
    dict(COMMON, points=[[0.0, 0.0], [1.0, 25.0]], start_level=0.5, overflow_level=0.62, pipe=0.125, held_up=6.0, elsewhere=20.0, evaporation=5.0, blowdown=1.6, cycles=4.0, makeup=["float", 0], open_level=0.4, shut_level=0.55, capacity=18.0, pumps_run=False, hours=3.0),
    # A valve stuck half open for a week, over a weir, with rain.
    dict(COMMON, points=[[0.0, 0.0], [1.0, 60.0]], start_level=0.45, overflow_level=0.7, weir=0.4, held_up=10.0, elsewhere=80.0, evaporation=12.0, blowdown=3.0, cycles=5.0, makeup=["stuck", 0.5], open_level=0.4, shut_level=0.55, capacity=60.0, pumps_run=True, hours=168.0, rain=1.5),
    # A sloping basin with the drain left open while the float works against it.
    dict(COMMON, points=[[0.0, 0.0], [0.2, 3.0], [0.5, 12.0], [1.0, 30.0]], start_level=0.5, overflow_level=0.8, pipe=0.15, held_up=5.0, elsewhere=15.0, evaporation=3.0, blowdown=1.0, cycles=3.0, makeup=["float", 0], open_level=0.35, shut_level=0.55, capacity=10.0, pumps_run=True, hours=12.0, drain_is_open=True, drain=0.06),
]

if __name__ == "__main__":
    rows = [dict(case, out=follow(case)) for case in CASES]
    lines = ",\n".join(json.dumps(row) for row in rows)
    (HERE / "basin.json").write_text('{"source": "scipy 1.17.1 solve_ivp, LSODA with events", "rows": [\n%s\n]}\n' % lines)
    for row in rows:
        print(row["out"])
