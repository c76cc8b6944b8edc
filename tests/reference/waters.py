"""Makes waters.json, unsettled.json, acid.json and conductivities.json beside this file with PHREEQC (see README.md), and times it."""

import json
import math
import pathlib
import subprocess
import sys
import time

import phreeqpython

HERE = pathlib.Path(__file__).parent

# Invented makeup waters, mmol/kg of water; sodium closes the charge.
WATERS = {
    "river_with_phosphate": dict(Ca=1.6, Mg=0.7, K=0.2, Cl=2.1, SO4=0.8, NO3=0.3, F=0.01, NH4=0.02, SiO2=0.2, PO4=0.04, Alk=2.6),
    "fluoridated_mains": dict(Ca=0.9, Mg=0.3, K=0.05, Cl=0.6, SO4=0.3, NO3=0.1, F=0.05, NH4=0.0, SiO2=0.15, PO4=0.01, Alk=1.7),
    "reclaimed": dict(Ca=1.4, Mg=0.9, K=0.45, Cl=5.0, SO4=1.3, NO3=0.6, F=0.06, NH4=0.9, SiO2=0.3, PO4=0.09, Alk=3.4),
    "hard_well": dict(Ca=3.4, Mg=1.9, K=0.1, Cl=1.2, SO4=2.2, NO3=0.5, F=0.02, NH4=0.0, SiO2=0.4, PO4=0.0, Alk=5.9),
    "volcanic": dict(Ca=0.4, Mg=0.5, K=0.3, Cl=0.9, SO4=0.4, NO3=0.0, F=0.15, NH4=0.01, SiO2=1.3, PO4=0.02, Alk=2.9),
    "softened": dict(Ca=0.02, Mg=0.01, K=0.1, Cl=1.2, SO4=2.0, NO3=0.5, F=0.02, NH4=0.0, SiO2=0.4, PO4=0.0, Alk=5.9),
}
# Concentrated, this water is one that undamped passes of Newton's method may miss.
HIGH_SULFATE = dict(Ca=3.7425, Mg=1.9743, K=0.1279, Cl=1.6924, SO4=4.9967, SiO2=0.233, Alk=3.1971)
# Water, cycles, temperature, and what fixes the pH: the pH, log10 of the carbon dioxide pressure in atm, or
# the carbon of the same water under a pressure at another temperature ("closed").
UNSETTLED = [
    ("high_sulfate", 10.6425, 45.0, "closed", (-3.4, 27.0)),
    ("high_sulfate", 13.9, 25.0, "closed", (-3.0, 10.0)),
    ("high_sulfate", 10.5, 60.0, "closed", (-1.5, 35.0)),
    ("hard_well", 11.0, 60.0, "closed", (-4.0, 25.0)),
    ("hard_well", 11.6, 50.0, "closed", (-4.0, 27.0)),
    ("high_sulfate", 10.3, 60.0, "ph", 6.5),
    ("high_sulfate", 14.3, 40.0, "ph", 7.0),
    ("high_sulfate", 13.1, 40.0, "ph", 8.5),
    ("high_sulfate", 13.7, 35.0, "carbon_dioxide", -2.4),
    ("high_sulfate", 12.8, 27.0, "carbon_dioxide", -4.0),
]
CATIONS = dict(Ca=2, Mg=2, K=1, NH4=1)
ANIONS = dict(Cl=1, SO4=2, NO3=1, F=1, PO4=1, Alk=1)
# Solubility of beta-tricalcium phosphate, 5 to 37 degC: Gregory, Moreno, Patel and Brown (1974, J. Res. Natl.
# Bur. Stand. 78A, 667); beyond, the mean enthalpy between 25 and 37 degC goes on.
GREGORY = (287.4536, -0.546763, -45723.26)
GREGORY_LAST, GREGORY_ENTHALPY = 37.0, -93.0


def gregory_beyond():
    """log10 of the constant at 25 degC with which the enthalpy beyond meets the equation at its end."""
    last = GREGORY_LAST + 273.15
    at_last = GREGORY[0] + GREGORY[1] * last + GREGORY[2] / last
    return at_last + GREGORY_ENTHALPY / (math.log(10) * 8.3147e-3) * (1 / last - 1 / 298.15)


# What is added to the database: brucite of MINTEQA2 version 4, as in chemistry_cases.json, and Gregory's salt.
PHASES = f"""
PHASES
Brucite
  Mg(OH)2 + 2H+ = Mg+2 + 2H2O
  log_k 16.84
  delta_h -27.1 kcal
TCP_beta
  Ca3(PO4)2 = 3Ca+2 + 2PO4-3
  -analytic {GREGORY[0]} {GREGORY[1]} {GREGORY[2]} 0 0 0
TCP_beta_beyond
  Ca3(PO4)2 = 3Ca+2 + 2PO4-3
  log_k {gregory_beyond()!r}
  delta_h {GREGORY_ENTHALPY} kJ
"""
MINERALS = ["Calcite", "Gypsum", "SiO2(a)", "Brucite", "Sepiolite(d)", "Fluorite", "TCP_beta", "Hydroxyapatite"]
KEYS = dict(Ca="Ca", Mg="Mg", Na="Na", K="K", Cl="Cl", SO4="S(6)", NO3="N(5)", F="F", NH4="N(-3)", SiO2="Si", PO4="P", C="C(4)")


def closed(water):
    charge = sum(z * water[k] for k, z in ANIONS.items()) - sum(z * water[k] for k, z in CATIONS.items())
    return dict(water, Na=charge)


def block(totals, celsius, ph):
    lines = [f"{KEYS[k]} {v!r}" for k, v in totals.items() if k in KEYS and v > 0]
    alkalinity = f"Alkalinity {totals['Alk']!r}" if "Alk" in totals else ""
    return "\n".join(["SOLUTION 1", "units mmol/kgw", f"temp {celsius}", f"pH {ph}", alkalinity, *lines, "END"])


def punch(celsius):
    beyond = {"TCP_beta": "TCP_beta_beyond"} if celsius > GREGORY_LAST else {}
    indices = ", ".join(f'SI("{beyond.get(m, m)}")' for m in MINERALS)
    return f"""
SELECTED_OUTPUT 1
  -reset false
USER_PUNCH 1
  -headings pH mu aw sc co2 c {" ".join(MINERALS)}
  10 PUNCH -LA("H+"), MU, ACT("H2O"), SC, SI("CO2(g)"), TOT("C(4)"), {indices}
"""


def run(engine, totals, celsius, ph):
    engine.run_string(punch(celsius) + block(totals, celsius, ph))
    head, row = engine.get_selected_output_array()[:2]
    values = dict(zip(head, row))
    index = {m: values[m] if values[m] > -99 else None for m in MINERALS}
    keys = dict(pH="ph", mu="ionic_strength", aw="water_activity", sc="conductivity", co2="log10_carbon_dioxide", c="total_carbon")
    return {new: values[old] for old, new in keys.items()} | {"saturation_index": index}


def acid_for(engine, totals, celsius, ph, gas):
    """Moles of H2SO4 for a kg of water in equilibrium with the gas, found by bisection."""

    def ph_with(mole):
        engine.run_string(
            "SELECTED_OUTPUT 1\n -reset false\nUSER_PUNCH 1\n -headings pH\n 10 PUNCH -LA(\"H+\")\n"
            + block(totals, celsius, "8").replace("END", "")
            + f"EQUILIBRIUM_PHASES 1\n CO2(g) {gas}\nREACTION 1\n H2SO4 1\n {mole!r} moles\nREACTION_TEMPERATURE 1\n {celsius}\nEND"
        )
        return engine.get_selected_output_array()[-1][0]

    low, high = 0.0, totals["Alk"] / 2e3 * 0.999
    for _ in range(45):
        middle = (low + high) / 2
        low, high = (middle, high) if ph_with(middle) > ph else (low, middle)
    return low


def acids(engine):
    for name in ("hard_well", "volcanic"):
        # Without nitrogen, which would change its oxidation state in the reaction.
        water = dict(WATERS[name], NO3=0.0, NH4=0.0)
        for cycles, ph in ((3, 8.2), (6, 8.0), (10, 7.6)):
            totals = {k: cycles * v for k, v in closed(water).items()}
            yield {"water": name, "cycles": cycles, "celsius": 30.0, "ph": ph, "log10_carbon_dioxide": -3.0, "totals_mmol": totals, "sulfuric_acid_mol": acid_for(engine, totals, 30.0, ph, -3.0)}


def conductivities(engine):
    """Conductivity of healthy waters at 25 degC in equilibrium with carbon dioxide, by cycles."""
    for name, ph in (("hard_well", None), ("fluoridated_mains", None), ("hard_well", 8.0)):
        # Without nitrogen, which would change its oxidation state in the reaction.
        water = dict(WATERS[name], NO3=0.0, NH4=0.0)
        makeup = run(engine, closed(water), 25.0, "7.6")["conductivity"]
        points = []
        for cycles in (1, 1.5, 2, 2.5, 3, 3.5, 4, 4.5, 5, 6, 7):
            totals = {k: cycles * v for k, v in closed(water).items()}
            if ph is not None:
                acid = 1e3 * acid_for(engine, totals, 25.0, ph, -3.0)
                totals = dict(totals, SO4=totals["SO4"] + acid, Alk=totals["Alk"] - 2 * acid)
            points.append([cycles, run(engine, totals, 25.0, "8 CO2(g) -3.0")["conductivity"]])
        yield {"water": name, "held_ph": ph, "makeup_ph": 7.6, "makeup": makeup, "totals_mmol": closed(water), "points": points}


def unsettled(engine):
    """Waters that Newton's passes alone may miss."""
    waters = dict(WATERS, high_sulfate=HIGH_SULFATE)
    for name, cycles, celsius, mode, value in UNSETTLED:
        water = closed({k: waters[name].get(k, 0.0) for k in WATERS["reclaimed"]})
        totals = {k: cycles * v for k, v in water.items()}
        if mode == "closed":
            gas, gas_celsius = value
            value = run(engine, totals, gas_celsius, f"8 CO2(g) {gas}")["total_carbon"]
            # The charge fixes the pH: alkalinity is what it leaves.
            alkalinity = totals.pop("Alk")
            solved = run(engine, totals | {"C": 1e3 * value}, celsius, "8 charge")
            totals["Alk"] = alkalinity
        else:
            solved = run(engine, totals, celsius, str(value) if mode == "ph" else f"8 CO2(g) {value}")
        yield {"water": name, "cycles": cycles, "celsius": celsius, "mode": mode, "value": value, "totals_mmol": totals, "out": solved}


def main():
    package = phreeqpython.PhreeqPython(database="phreeqc.dat")
    engine = package.ip
    engine.run_string(PHASES)
    rows, spent, count = [], 0.0, 0
    for name, water in WATERS.items():
        for cycles in (1, 3, 6, 12):
            totals = {k: cycles * v for k, v in closed(water).items()}
            for celsius in (10.0, 25.0, 40.0, 60.0):
                for mode, ph in (("ph", "7.2"), ("ph", "8.8"), ("carbon_dioxide", "8 CO2(g) -3.0"), ("carbon_dioxide", "8 CO2(g) -2.4")):
                    begin = time.perf_counter()
                    solved = run(engine, totals, celsius, ph)
                    spent += time.perf_counter() - begin
                    count += 1
                    rows.append({"water": name, "cycles": cycles, "celsius": celsius, "mode": mode, "value": float(ph.split()[-1]), "totals_mmol": totals, "out": solved})
    lines = ",\n".join(json.dumps(row) for row in rows)
    source = "PHREEQC (IPhreeqc) through phreeqpython 1.6.2, its phreeqc.dat"
    (HERE / "waters.json").write_text('{"source": %s, "rows": [\n%s\n]}\n' % (json.dumps(source), lines))
    lines = ",\n".join(json.dumps(row) for row in unsettled(engine))
    (HERE / "unsettled.json").write_text('{"source": %s, "rows": [\n%s\n]}\n' % (json.dumps(source), lines))
    lines = ",\n".join(json.dumps(row) for row in acids(engine))
    (HERE / "acid.json").write_text('{"source": %s, "rows": [\n%s\n]}\n' % (json.dumps(source), lines))
    lines = ",\n".join(json.dumps(row) for row in conductivities(engine))
    (HERE / "conductivities.json").write_text('{"source": %s, "rows": [\n%s\n]}\n' % (json.dumps(source), lines))
    phreeqc = 1e6 * spent / count
    print(f"PHREEQC: {phreeqc:.0f} us a water, {count} waters, input text and results included")
    if "--ratio" in sys.argv:
        command = ["cargo", "run", "--quiet", "--release", "--example", "solve_waters"]
        ours = float(subprocess.run(command, cwd=HERE, check=True, capture_output=True).stdout)
        print(f"coldbasin: {ours:.1f} us a water, constants included; PHREEQC takes {phreeqc / ours:.0f} times as long")


if __name__ == "__main__":
    main()
