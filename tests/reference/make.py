"""Makes psychrometrics.json, water.json and towers.json beside this file (see README.md)."""

import json
import math
import pathlib

import CoolProp.CoolProp as coolprop
import psychrolib
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

HERE = pathlib.Path(__file__).parent
psychrolib.SetUnitSystem(psychrolib.SI)


def write(name, source, rows):
    lines = ",\n".join(json.dumps(row) for row in rows)
    text = '{"source": %s, "rows": [\n%s\n]}\n' % (json.dumps(source), lines)
    (HERE / name).write_text(text)


# Properties


def real(output, celsius, pressure, humidity):
    """Real-gas moist air; None where the library has no answer."""
    try:
        value = coolprop.HAPropsSI(output, "T", celsius + 273.15, "P", pressure, "R", humidity)
    except ValueError:
        return None
    return value if math.isfinite(value) else None


def psychrometrics():
    for pressure in (50e3, 65e3, 80e3, 95e3, 101325.0, 110e3):
        for celsius in range(-30, 71, 10):
            for humidity in (0.05, 0.3, 0.6, 0.9, 1.0):
                ratio = psychrolib.GetHumRatioFromRelHum(celsius, humidity, pressure)
                kelvin = real("B", celsius, pressure, humidity)
                yield {
                    "pressure": pressure,
                    "dry_bulb": celsius,
                    "relative_humidity": humidity,
                    "saturation_pressure": psychrolib.GetSatVapPres(celsius),
                    "humidity_ratio": ratio,
                    "wet_bulb": psychrolib.GetTWetBulbFromHumRatio(celsius, ratio, pressure),
                    "dew_point": psychrolib.GetTDewPointFromHumRatio(celsius, ratio, pressure),
                    "enthalpy": psychrolib.GetMoistAirEnthalpy(celsius, ratio),
                    "specific_volume": psychrolib.GetMoistAirVolume(celsius, ratio, pressure),
                    "real_humidity_ratio": real("W", celsius, pressure, humidity),
                    "real_wet_bulb": None if kelvin is None else kelvin - 273.15,
                }


def water():
    def of(output, celsius, key="P", value=101325.0):
        return coolprop.PropsSI(output, "T", celsius + 273.15, key, value, "Water")

    zero = of("H", 0.01)
    for celsius in (0.01, 5, 10, 15, 20, 25, 30, 35, 40, 45, 50, 60, 70, 80, 90, 99):
        yield {
            "celsius": celsius,
            "density": of("D", celsius),
            "specific_heat": of("C", celsius),
            "enthalpy": of("H", celsius) - zero,
            "latent_heat": of("H", celsius, "Q", 1) - of("H", celsius, "Q", 0),
        }


# The equations of Poppe, from Kloppers and Kroeger (2005), kJ and kg

CP_AIR, CP_VAPOUR, CP_WATER, H_VAPOUR = 1.006, 1.86, 4.186, 2501.0


def saturated(celsius, pressure):
    vapour = psychrolib.GetSatVapPres(celsius)
    return 0.621945 * vapour / (pressure - vapour)


def enthalpy(celsius, ratio):
    return CP_AIR * celsius + ratio * (H_VAPOUR + CP_VAPOUR * celsius)


def vapour_of(ratio, heat, pressure):
    """The vapour in air of this water and enthalpy: all of it, or saturation beside mist."""
    celsius = (heat - H_VAPOUR * ratio) / (CP_AIR + CP_VAPOUR * ratio)
    if ratio <= saturated(celsius, pressure):
        return ratio

    def excess(t):
        vapour = saturated(t, pressure)
        return enthalpy(t, vapour) + (ratio - vapour) * CP_WATER * t - heat

    return saturated(brentq(excess, celsius, celsius + 20, xtol=1e-9), pressure)


def fluxes(water, ratio, heat, pressure):
    """For a unit of mass transfer: water evaporated, and heat that cools the water."""
    interface = saturated(water, pressure)
    vapour = vapour_of(ratio, heat, pressure)
    r = (interface + 0.622) / (vapour + 0.622)
    lewis = 0.865 ** (2 / 3) * ((r - 1) / math.log(r) if abs(r - 1) > 1e-9 else 1.0)
    evaporated = interface - vapour
    sensible = (
        enthalpy(water, interface)
        - heat
        - evaporated * (H_VAPOUR + CP_VAPOUR * water)
        + (ratio - vapour) * CP_WATER * water
    )
    total = lewis * sensible + evaporated * (H_VAPOUR + CP_VAPOUR * water)
    return evaporated, total - evaporated * CP_WATER * water


MOST_TRANSFER = 500.0
"""Transfer number beyond which a duty counts as pinched."""


def counterflow(hot, cold, ratio, heat, pressure, water_to_air):
    """Number, exit humidity ratio, exit enthalpy; ValueError beyond a pinch."""

    def left(water, state):
        """Falls to 0 where the water no longer cools, or where the number leaves all bounds."""
        if not 0 <= state[0] < 1:
            return -1.0
        return min(fluxes(water, state[0], state[1], pressure)[1] - 1e-3, MOST_TRANSFER - state[2])

    left.terminal = True

    def run(exit_ratio):
        def slopes(water, state):
            evaporated, cooling = fluxes(water, state[0], state[1], pressure)
            local = water_to_air - (exit_ratio - state[0])
            humidity = CP_WATER * local * evaporated / cooling
            return [humidity, CP_WATER * (local + humidity * water), CP_WATER / cooling]

        start = [ratio, heat, 0.0]
        found = solve_ivp(slopes, (cold, hot), start, "DOP853", rtol=1e-9, atol=1e-11, events=left)
        if found.status != 0:
            raise ValueError("pinch")
        return found.y[:, -1]

    exit_ratio = ratio + water_to_air * 0.0016 * (hot - cold)
    for _ in range(30):
        end = run(exit_ratio)
        if abs(end[0] - exit_ratio) < 1e-11:
            break
        exit_ratio = end[0]
    return {"merkel_number": end[2], "exit_humidity_ratio": end[0], "exit_enthalpy": end[1]}


def crossflow_field(hot, ratio, heat, pressure, water_to_air, n):
    """By lines: Runge-Kutta down the water, and across the air at every stage. A function of the number
    that gives the mixed water, exit humidity ratio and exit enthalpy."""

    def across(waters, number):
        step = 2.0 / n

        def slope(water, state):
            evaporated, cooling = fluxes(water, state[0], state[1], pressure)
            scale = number * water_to_air
            return (scale * evaporated, scale * (cooling + evaporated * CP_WATER * water)), (evaporated, cooling)

        def moved(state, by, h):
            return (state[0] + h * by[0], state[1] + h * by[1])

        state, rates = (ratio, heat), [None] * (n + 1)
        for j in range(0, n, 2):
            k1, rates[j] = slope(waters[j], state)
            k2, _ = slope(waters[j + 1], moved(state, k1, step / 2))
            k3, _ = slope(waters[j + 1], moved(state, k2, step / 2))
            k4, _ = slope(waters[j + 2], moved(state, k3, step))
            end = moved(state, [(a + 2 * b + 2 * c + d) / 6 for a, b, c, d in zip(k1, k2, k3, k4)], step)
            k5, last = slope(waters[j + 2], end)
            middle = [
                (a + b) / 2 + step / 8 * (p - q) for a, b, p, q in zip(state, end, k1, k5)
            ]
            _, rates[j + 1] = slope(waters[j + 1], middle)
            state, rates[j + 2] = end, last
        return rates, state

    def simpson(values):
        odd, even = sum(values[1:-1:2]), sum(values[2:-1:2])
        return (values[0] + 4 * odd + 2 * even + values[-1]) / (3 * n)

    def field(number):
        waters, masses = [hot] * (n + 1), [1.0] * (n + 1)
        exit_ratio, exit_heat = [], []

        def slopes(t, m):
            rates, state = across(t, number)
            cool = [-number * cooling / (mass * CP_WATER) for (_, cooling), mass in zip(rates, m)]
            lose = [-number * evaporated for evaporated, _ in rates]
            return cool, lose, state

        h = 1.0 / n
        add = lambda a, b, s: [x + s * y for x, y in zip(a, b)]
        for _ in range(n):
            c1, l1, state = slopes(waters, masses)
            exit_ratio.append(state[0])
            exit_heat.append(state[1])
            c2, l2, _ = slopes(add(waters, c1, h / 2), add(masses, l1, h / 2))
            c3, l3, _ = slopes(add(waters, c2, h / 2), add(masses, l2, h / 2))
            c4, l4, _ = slopes(add(waters, c3, h), add(masses, l3, h))
            waters = [x + h / 6 * (a + 2 * b + 2 * c + d) for x, a, b, c, d in zip(waters, c1, c2, c3, c4)]
            masses = [x + h / 6 * (a + 2 * b + 2 * c + d) for x, a, b, c, d in zip(masses, l1, l2, l3, l4)]
        _, state = across(waters, number)
        exit_ratio.append(state[0])
        exit_heat.append(state[1])
        mixed = simpson([m * t for m, t in zip(masses, waters)]) / simpson(masses)
        return mixed, simpson(exit_ratio), simpson(exit_heat)

    return field


def crossflow(hot, cold, ratio, heat, pressure, water_to_air, n):
    """Number, exit humidity ratio, exit enthalpy."""
    field = crossflow_field(hot, ratio, heat, pressure, water_to_air, n)
    number = brentq(lambda x: field(x)[0] - cold, 0.2, 6.0, xtol=1e-7, rtol=1e-8)
    _, out_ratio, out_heat = field(number)
    return {"merkel_number": number, "exit_humidity_ratio": out_ratio, "exit_enthalpy": out_heat}


# hot, cold, dry bulb, relative humidity, pressure, water to air; all invented
TOWERS = [
    (37.0, 29.0, 32.0, 0.52, 99890.0, 1.3),
    (45.0, 30.0, 38.0, 0.15, 101325.0, 1.0),
    (36.0, 31.0, 33.0, 0.75, 101325.0, 1.1),
    (30.0, 20.0, 12.0, 0.70, 101325.0, 1.4),
    (24.0, 17.0, -2.0, 0.80, 101325.0, 1.8),
    (22.0, 16.0, -15.0, 0.75, 101325.0, 2.0),
    (35.0, 25.0, 28.0, 0.30, 80000.0, 0.7),
    (33.0, 24.0, 20.0, 0.45, 60000.0, 1.2),
    (50.0, 32.0, 30.0, 0.50, 101325.0, 0.8),
    (31.0, 29.0, 30.0, 0.60, 101325.0, 1.5),
]
CROSSFLOW = {0, 2, 3, 6}


def towers():
    for index, (hot, cold, dry, humidity, pressure, water_to_air) in enumerate(TOWERS):
        ratio = psychrolib.GetHumRatioFromRelHum(dry, humidity, pressure)
        inputs = (hot, cold, ratio, enthalpy(dry, ratio), pressure, water_to_air)
        row = {
            "hot_water": hot,
            "cold_water": cold,
            "dry_bulb": dry,
            "relative_humidity": humidity,
            "pressure": pressure,
            "water_to_air": water_to_air,
            "counterflow": counterflow(*inputs),
        }
        if index in CROSSFLOW:
            row["crossflow"] = crossflow(*inputs, n=64)
            coarse = crossflow(*inputs, n=32)
            fine = row["crossflow"]
            row["crossflow_change_from_half_the_lines"] = {
                key: coarse[key] / fine[key] - 1 for key in fine
            }
        yield row


if __name__ == "__main__":
    write("psychrometrics.json", "psychrolib 2.5.0; real_*: CoolProp 8.0.0, moist air", psychrometrics())
    write("water.json", "CoolProp 8.0.0, IAPWS-95", water())
    write("towers.json", "scipy 1.17.1 DOP853; crossflow by lines, n = 64", towers())
