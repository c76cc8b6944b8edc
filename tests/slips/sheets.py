"""Makes laboratory sheets of invented natural waters, sound ones and ones with a single slip; conductivity by PHREEQC.

Usage: sheets.py SEED HOW_MANY > sheets.csv
Columns: slip, ph, conductivity (uS/cm as written), solids (mg/L), calcium's part of hardness, numbers as written."""

import csv
import math
import random
import sys

import phreeqpython

PP = phreeqpython.PhreeqPython()
MASS = dict(CaCO3=100.09, Ca=40.08, Mg=24.312, Na=22.99, K=39.1, HCO3=61.017, CO3=60.011, Cl=35.453, SO4=96.064, NO3=62.007, N=14.007, SiO2=60.084)


def spread(rng, middle, factor):
    """About two thirds within the factor."""
    return middle * math.exp(rng.gauss(0, math.log(factor)))


def water(rng):
    """Kind, mmol/L of each ion, alkalinity in meq/L, pH: what rock, sea, salt, treatment and use make of rain."""
    kind = rng.choice(["limestone", "upland", "river", "gypsum", "bicarbonate", "softened", "reclaimed", "coastal", "desert", "lime softened", "farm well", "blend", "volcanic"])
    s = lambda middle, factor=1.5: spread(rng, middle, factor)
    w = dict(Ca=0.0, Mg=0.0, Na=0.0, K=0.0, Cl=0.0, SO4=0.0, NO3=0.0, SiO2=s(0.2, 1.6), Alk=0.0)
    ph = rng.uniform(7.2, 8.2)
    if kind == "limestone":
        w.update(Ca=s(2.5, 1.35), Mg=s(0.8, 1.8), Na=s(0.6, 2), K=s(0.05, 1.8), Cl=s(0.6, 1.8), SO4=s(0.4, 1.8), NO3=s(0.15, 2.5))
        close = "Alk"
        ph = rng.uniform(6.9, 7.7)
    elif kind == "upland":
        w.update(Ca=s(0.2, 1.6), Mg=s(0.08, 1.6), Na=s(0.2, 1.5), K=s(0.02, 1.6), Cl=s(0.15, 1.6), SO4=s(0.06, 1.6), NO3=s(0.02, 2))
        close = "Alk"
        ph = rng.uniform(6.8, 8.0)
    elif kind == "river":
        w.update(Ca=s(1.2, 1.4), Mg=s(0.4, 1.5), Na=s(0.8, 1.8), K=s(0.08, 1.6), Cl=s(0.7, 1.7), SO4=s(0.4, 1.7), NO3=s(0.12, 2.2))
        close = "Alk"
    elif kind == "gypsum":
        w.update(Ca=s(4.5, 1.4), Mg=s(1.8, 1.6), Na=s(1.5, 2), K=s(0.1, 1.8), Cl=s(1.0, 1.9), NO3=s(0.1, 2), Alk=s(4.2, 1.3))
        close = "SO4"
    elif kind == "bicarbonate":
        w.update(Ca=s(0.15, 1.8), Mg=s(0.06, 1.8), K=s(0.04, 1.6), Cl=s(0.8, 2.2), SO4=s(0.2, 2.5), NO3=s(0.01, 2), Alk=s(5.5, 1.4))
        close = "Na"
        ph = rng.uniform(8.0, 8.9)
    elif kind == "softened":
        w.update(Ca=s(0.02, 2.5), Mg=s(0.01, 2.5), K=s(0.05, 1.6), Cl=s(0.9, 1.8), SO4=s(0.4, 1.7), NO3=s(0.12, 2.2), Alk=s(4.0, 1.5))
        close = "Na"
    elif kind == "reclaimed":
        w.update(Ca=s(1.4, 1.4), Mg=s(0.8, 1.5), K=s(0.45, 1.3), Cl=s(4.5, 1.5), SO4=s(1.2, 1.5), NO3=s(0.5, 2), Alk=s(3.4, 1.4))
        close = "Na"
        ph = rng.uniform(6.9, 7.6)
    elif kind == "coastal":
        w.update(Ca=s(2.5, 1.5), Mg=s(1.5, 1.6), K=s(0.2, 1.6), Cl=s(12.0, 2.0), NO3=s(0.1, 2), Alk=s(4.0, 1.4))
        w["SO4"] = 0.052 * w["Cl"] + s(0.3, 1.8)
        close = "Na"
    elif kind == "desert":
        w.update(Ca=s(3.5, 1.5), Mg=s(1.8, 1.5), K=s(0.15, 1.6), Cl=s(6.0, 1.8), SO4=s(4.0, 1.6), NO3=s(0.15, 2.5), Alk=s(3.0, 1.4))
        close = "Na"
    elif kind == "lime softened":
        w.update(Ca=s(0.6, 1.4), Mg=s(0.35, 1.4), K=s(0.08, 1.5), Cl=s(0.9, 1.6), SO4=s(0.7, 1.7), NO3=s(0.08, 2), Alk=s(0.8, 1.3))
        close = "Na"
        ph = rng.uniform(8.8, 9.7)
    elif kind == "farm well":
        w.update(Ca=s(2.6, 1.3), Mg=s(0.7, 1.7), Na=s(0.7, 1.8), K=s(0.1, 2.2), Cl=s(1.1, 1.6), SO4=s(0.7, 1.6), NO3=s(0.7, 1.5))
        close = "Alk"
        ph = rng.uniform(6.9, 7.6)
    elif kind == "blend":
        part = rng.uniform(0.1, 0.5)
        w.update(Ca=s(2.0, 1.4) * part, Mg=s(0.8, 1.5) * part, K=s(0.1, 1.5) * part, Cl=s(2.0, 1.6) * part + 0.2, SO4=s(1.0, 1.6) * part, NO3=s(0.1, 2) * part, Alk=s(3.0, 1.4) * part)
        close = "Na"
    else:
        w.update(Ca=s(0.5, 1.5), Mg=s(0.6, 1.5), K=s(0.2, 1.5), Cl=s(0.8, 1.7), SO4=s(0.3, 1.8), NO3=s(0.03, 2), Alk=s(2.6, 1.4), SiO2=s(1.0, 1.3))
        close = "Na"
    without = 2 * (w["Ca"] + w["Mg"]) + w["Na"] + w["K"] - w["Cl"] - 2 * w["SO4"] - w["NO3"] - w["Alk"]
    gap = -without if close == "Na" else without
    if gap < 0.02:
        return water(rng)
    w[close] += gap / 2 if close == "SO4" else gap
    return kind, w, ph


def conductivity(w, ph):
    solution = PP.add_solution({"units": "mmol/kgw", "pH": ph, "temp": 25, "Ca": w["Ca"], "Mg": w["Mg"], "Na": w["Na"], "K": w["K"], "Cl": w["Cl"], "S(6)": w["SO4"], "N(5)": w["NO3"], "Si": w["SiO2"], "Alkalinity": w["Alk"]})
    sc = solution.sc
    solution.forget()
    return sc


def rounded(rng, number):
    """As laboratories print: three digits, sometimes two, and no more than a tenth."""
    if number <= 0:
        return 0.0
    digits = (3 if rng.random() < 0.75 else 2) - 1 - math.floor(math.log10(number))
    return round(number, min(digits, 2 if number < 1 else 1))


def sheet(rng):
    kind, w, ph = water(rng)
    error = rng.choice([0.03, 0.05, 0.05, 0.08, 0.10])
    off = lambda: 1 + rng.uniform(-error, error)
    written = {}

    def add(name, mass, basis):
        written[name] = [rounded(rng, mass * off()), basis]

    hardness = 100.09 * (w["Ca"] + w["Mg"])
    form = rng.choices(["parts", "three", "calcium", "alone"], [0.55, 0.15, 0.12, 0.18])[0]
    if form in ("parts", "three", "calcium"):
        basis = rng.choice(["Ca", "CaCO3"])
        add("calcium", w["Ca"] * MASS[basis], basis)
    if form in ("parts", "three"):
        basis = rng.choice(["Mg", "CaCO3"]) if basis == "CaCO3" else "Mg"
        add("magnesium", w["Mg"] * MASS[basis], basis)
    if form in ("three", "calcium", "alone"):
        add("hardness", hardness, "CaCO3")
    is_kit = form == "alone" or rng.random() < 0.08
    if is_kit:
        present = {"Na": 0.0, "K": 0.0, "Cl": 0.5, "SO4": 0.0, "NO3": 0.0}
    else:
        present = {"Na": 0.65, "K": 0.5, "Cl": 0.95, "SO4": 0.8, "NO3": 0.5}
    if w["NO3"] > 0.4 and not is_kit:
        present["NO3"] = 0.9
    for ion, name in (("Na", "sodium"), ("K", "potassium"), ("Cl", "chloride"), ("SO4", "sulfate"), ("NO3", "nitrate")):
        if rng.random() < present[ion]:
            basis = "N" if ion == "NO3" and rng.random() < 0.4 else ion
            add(name, w[ion] * MASS[basis], basis)
    if rng.random() < 0.7:
        add("alkalinity", w["Alk"] * 50.045, "CaCO3")
    elif ph < 8.4:
        add("bicarbonate", w["Alk"] * MASS["HCO3"], "HCO3")
    else:
        add("alkalinity", w["Alk"] * MASS["HCO3"], "HCO3")
    if not is_kit and rng.random() < 0.8:
        add("silica", w["SiO2"] * 60.084, "SiO2")
    sc = conductivity(w, ph)
    ec = None if rng.random() < 0.12 else rounded(rng, sc * (1 + rng.uniform(-0.05, 0.05)))
    ions = sum(w[i] * MASS[i] for i in ("Ca", "Mg", "Na", "K", "Cl", "SO4", "NO3", "SiO2")) + w["Alk"] * 61.017
    solids = None
    if rng.random() < 0.35:
        dry = ions - w["Alk"] * (61.017 - 30.0)
        solids = rng.choice([dry * rng.uniform(0.97, 1.15), ions * off(), dry * off()])
        solids = float(round(solids))
    return dict(kind=kind, ph=round(ph, 1), ec=ec, solids=solids, written=written)


def slips(s):
    """Every slip that can be made in a sheet."""
    found = []
    for name, (number, basis) in s["written"].items():
        if number > 0 and name in ("calcium", "magnesium", "hardness", "sodium", "potassium", "alkalinity", "bicarbonate", "chloride", "sulfate", "nitrate"):
            found += [(name, "dropped"), (name, "added")]
        if name in ("calcium", "magnesium", "alkalinity", "bicarbonate", "nitrate"):
            found.append((name, "basis"))
    if s["ec"]:
        found += [("conductivity", "dropped"), ("conductivity", "added"), ("conductivity", "micro"), ("conductivity", "milli")]
    return found


OTHER = {("calcium", "Ca"): "CaCO3", ("calcium", "CaCO3"): "Ca", ("magnesium", "Mg"): "CaCO3", ("magnesium", "CaCO3"): "Mg", ("alkalinity", "CaCO3"): "HCO3", ("alkalinity", "HCO3"): "CaCO3", ("bicarbonate", "HCO3"): "CaCO3", ("nitrate", "NO3"): "N", ("nitrate", "N"): "NO3"}


def slipped(rng, s):
    name, kind = rng.choice(slips(s))
    if name == "conductivity":
        s["ec"] *= {"dropped": 0.1, "added": 10, "micro": 1e-3, "milli": 1e3}[kind]
    elif kind == "basis":
        number, basis = s["written"][name]
        s["written"][name][1] = OTHER[(name, basis)]
    else:
        s["written"][name][0] *= {"dropped": 0.1, "added": 10.0}[kind]
    return f"{name} {kind}"


def main():
    rng = random.Random(int(sys.argv[1]))
    many = int(sys.argv[2])
    out = csv.writer(sys.stdout, lineterminator="\n")
    out.writerow(["slip", "kind", "ph", "conductivity", "solids", "numbers"])
    for index in range(2 * many):
        s = sheet(rng)
        slip = slipped(rng, s) if index % 2 else "none"
        numbers = " ".join(f"{name}={number:.6g}:{basis}" for name, (number, basis) in s["written"].items())
        out.writerow([slip, s["kind"], s["ph"], "" if s["ec"] is None else f"{s['ec']:.6g}", s["solids"] or "", numbers])


main()
