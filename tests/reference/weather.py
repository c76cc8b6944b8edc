"""Makes examples/dairy-weather.csv: a year of invented weather of a temperate inland place. Nothing in it
was measured anywhere. The dry bulb follows the season and the hour, with spells of some days; the dew point
follows the season and the spell. Pure Python, seeded, so that the file comes out the same."""

import math
import random
from datetime import datetime, timedelta

random.seed(20250101)
lines = ["time,dry bulb C,humidity %"]
spell, damp = 0.0, 0.0
start = datetime(2025, 1, 1)
for hour in range(8760):
    time = start + timedelta(hours=hour)
    day = hour / 24
    if hour % 6 == 0:
        spell = 0.96 * spell + random.gauss(0, 0.9)
        damp = 0.95 * damp + random.gauss(0, 0.5)
    season = -math.cos(2 * math.pi * (day - 18) / 365)
    swing = (3.2 + 2.2 * season) * math.cos(2 * math.pi * (time.hour - 15) / 24)
    dry = 11.0 + 10.5 * season + swing + spell
    dew = min(5.5 + 8.0 * season + 0.55 * spell + damp, dry - 0.2)

    def vapour(celsius):  # Magnus' formula, from memory; for a plausible humidity only
        return math.exp(17.62 * celsius / (243.12 + celsius))

    humidity = 100 * vapour(dew) / vapour(dry)
    lines.append(f"{time:%Y-%m-%d %H:%M},{dry:.1f},{humidity:.0f}")
# A logger that stood still for a night in autumn.
gap = [line for line in lines if line.startswith("2025-10-12 0")][1:7]
lines = [line for line in lines if line not in gap]
open("examples/dairy-weather.csv", "w").write("\n".join(lines) + "\n")
