"""Makes prediction.json: the cold water of a tower away from its design point, by the integrations of
make.py, which share no code with the crate. The characteristic KaV/L = C (L/G)^-n is fitted to the first
of its towers, once in either arrangement."""

import json

import make
import psychrolib
from scipy.optimize import brentq

DESIGN = make.TOWERS[0]
EXPONENT = 0.6
# Range, dry bulb, relative humidity, pressure, water to air; all invented
TASKS = [
    (8.0, 32.0, 0.52, 99890.0, 1.3),
    (4.0, 32.0, 0.52, 99890.0, 1.3),
    (8.0, 20.0, 0.60, 99890.0, 1.3),
    (8.0, 20.0, 0.60, 99890.0, 2.6),
    (6.0, 5.0, 0.80, 101325.0, 3.9),
    (5.0, -8.0, 0.80, 101325.0, 6.0),
    (12.0, 38.0, 0.15, 85000.0, 0.9),
]
CROSSFLOW = (0, 2, 3)


def entering(dry, humidity, pressure):
    ratio = psychrolib.GetHumRatioFromRelHum(dry, humidity, pressure)
    return ratio, make.enthalpy(dry, ratio), pressure


def counterflow():
    """Coefficient, and cold water with exit humidity of a task."""
    hot, cold, dry, humidity, pressure, water_to_air = DESIGN
    air = entering(dry, humidity, pressure)
    number = make.counterflow(hot, cold, *air, water_to_air)["merkel_number"]
    coefficient = number * water_to_air**EXPONENT

    def task(span, air, wet, ratio):
        def short(at):
            needed = make.counterflow(at + span, at, *air, ratio)["merkel_number"]
            return needed - coefficient * ratio**-EXPONENT

        # Down from far above, so that no pinch is met.
        high = max(wet, 0.0) + 45.0 - span
        while short(high - 1.5) < 0:
            high -= 1.5
        found = brentq(short, high - 1.5, high, xtol=1e-6)
        return found, make.counterflow(found + span, found, *air, ratio)["exit_humidity_ratio"]

    return task


def crossflow(n=32):
    """The same."""
    hot, cold, dry, humidity, pressure, water_to_air = DESIGN
    air = entering(dry, humidity, pressure)
    number = make.crossflow(hot, cold, *air, water_to_air, n)["merkel_number"]
    coefficient = number * water_to_air**EXPONENT

    def task(span, air, wet, ratio):
        available = coefficient * ratio**-EXPONENT

        def leaving(at):
            return make.crossflow_field(at + span, *air, ratio, n)(available)

        found = brentq(lambda at: leaving(at)[0] - at, wet + 0.5, wet + 30.0, xtol=1e-6)
        return found, leaving(found)[1]

    return task


def rows():
    for name, task in (("counterflow", counterflow()), ("crossflow", crossflow())):
        for index, (span, dry, humidity, pressure, ratio) in enumerate(TASKS):
            if name == "crossflow" and index not in CROSSFLOW:
                continue
            air = entering(dry, humidity, pressure)
            wet = psychrolib.GetTWetBulbFromRelHum(dry, humidity, pressure)
            cold, exit_ratio = task(span, air, wet, ratio)
            yield {
                "arrangement": name,
                "range": span,
                "dry_bulb": dry,
                "relative_humidity": humidity,
                "pressure": pressure,
                "water_to_air": ratio,
                "cold_water": cold,
                "evaporation_per_water": (exit_ratio - air[0]) / ratio,
            }


if __name__ == "__main__":
    keys = ("hot_water", "cold_water", "dry_bulb", "relative_humidity", "pressure", "water_to_air")
    out = {
        "source": "scipy 1.17.1 on the integrations of make.py",
        "design": dict(zip(keys, DESIGN)),
        "exponent": EXPONENT,
        "rows": list(rows()),
    }
    with open("tests/reference/prediction.json", "w") as file:
        json.dump(out, file, indent=1)
        file.write("\n")
