"""Makes pinch.json: counterflow duties up to a pinch by the integration of make.py (see README.md)."""

import json
import random

import make
import psychrolib

# Hot, cold, dry, wet, pressure, water to air
NAMED = [
    (35.0, 23.2, 30.0, 22.0, 101300.0, 1.2),
    (47.5, 22.53, 32.56, 18.0, 78000.0, 1.776),
    (41.08, 18.04, 21.26, 18.0, 82000.0, 0.30),
]
KEYS = ("hot_water", "cold_water", "dry_bulb", "wet_bulb", "pressure", "water_to_air")


def solved(duty):
    hot, cold, dry, wet, pressure, water_to_air = duty
    ratio = psychrolib.GetHumRatioFromTWetBulb(dry, wet, pressure)
    found = make.counterflow(hot, cold, ratio, make.enthalpy(dry, ratio), pressure, water_to_air)
    row = dict(zip(KEYS, duty), humidity_ratio=ratio)
    return row | {key: float(value) for key, value in found.items()}


def rows():
    yield from map(solved, NAMED)
    draw, count = random.Random(16), 0
    while count < 200:
        wet = draw.uniform(1.0, 28.0)
        cold = wet + draw.uniform(0.5, 10.0)
        duty = (
            cold + draw.uniform(2.0, 25.0),
            cold,
            wet + draw.uniform(0.1, 15.0),
            wet,
            draw.uniform(75e3, 103e3),
            draw.uniform(0.3, 2.5),
        )
        try:
            row = solved(tuple(round(value, 3) for value in duty))
            if row["humidity_ratio"] < 1e-5:
                continue  # psychrolib's least: there is no air of these bulbs
        except (ValueError, IndexError, OverflowError, ZeroDivisionError):
            continue  # beyond a pinch
        if 0 < row["merkel_number"] < 30:
            count += 1
            yield row


if __name__ == "__main__":
    make.write("pinch.json", "scipy 1.17.1, DOP853 on the equations of Kloppers and Kroeger (2005)", list(rows()))
