"""Makes reconcile.json beside this file with numpy (see README.md)."""

import json
import pathlib

import numpy as np

HERE = pathlib.Path(__file__).parent


def published():
    """Narasimhan and Jordache (2000), ch. 1, exchanger with bypass (from memory): the formula itself."""
    a = np.array([[1, -1, -1, 0, 0, 0], [0, 1, 0, -1, 0, 0], [0, 0, 1, 0, -1, 0], [0, 0, 0, 1, 1, -1]], float)
    y = np.array([101.91, 64.45, 34.65, 64.20, 36.44, 98.88])
    x = y - a.T @ np.linalg.solve(a @ a.T, a @ y)
    assert np.allclose(x, [100.22, 64.50, 35.72, 64.50, 35.72, 100.22], atol=0.005), x


def balances(x, stored):
    makeup, blowdown, evaporation, drift = x[:4]
    tracers = x[4:].reshape(-1, 2)
    f = [makeup - evaporation - blowdown - drift - stored[0]]
    f += [makeup * m - (blowdown + drift) * b - s for (m, b), s in zip(tracers, stored[1:])]
    return np.array(f)


def slopes(x, stored):
    columns = []
    for j in range(len(x)):
        h = 1e-6 * max(1.0, abs(x[j]))
        up, down = x.copy(), x.copy()
        up[j] += h
        down[j] -= h
        columns.append((balances(up, stored) - balances(down, stored)) / (2 * h))
    return np.array(columns).T


def reconcile(y, u, stored):
    q = np.diag(np.square(u))
    x = y.copy()
    for _ in range(200):
        a = slopes(x, stored)
        s = a @ q @ a.T
        new = y - q @ a.T @ np.linalg.solve(s, balances(x, stored) + a @ (y - x))
        if np.max(np.abs(new - x) / u) < 1e-13:
            break
        x = new
    a = slopes(x, stored)
    covariance = q - q @ a.T @ np.linalg.solve(a @ q @ a.T, a @ q)
    a = slopes(y, stored)
    s = a @ q @ a.T
    r = balances(y, stored)
    misfit = r @ np.linalg.solve(s, r)
    loss = np.array([1.0, *y[4:].reshape(-1, 2)[:, 1]])
    signatures = {"loss": loss} | {str(j): a[:, j] for j in range(len(y)) if j != 1}
    found = {}
    for name, g in signatures.items():
        weighed = np.linalg.solve(s, g)
        found[name] = {"explains": (weighed @ r) ** 2 / (weighed @ g), "size": (weighed @ r) / (weighed @ g), "uncertainty": (weighed @ g) ** -0.5}
    return {"values": x.tolist(), "uncertainties": np.sqrt(np.diag(covariance)).tolist(), "misfit": misfit, "candidates": found}


# Makeup, blowdown, evaporation, drift, then makeup and basin of every tracer; m3/d, uS/cm, mg/L.
RELATIVE = [0.01, 0.015, 0.08, 0.5, 0.02, 0.02, 0.03, 0.03]
CASES = {
    "healthy": [77.9, 18.9, 60.5, 0.144, 410, 1655],
    "leak": [77.5, 13.1, 58.5, 0.144, 412, 1640],
    "probe_low": [73.9, 15.6, 57.2, 0.144, 410, 1640],
    "makeup_meter_low": [71.1, 19.3, 58.6, 0.144, 409, 1645],
    "heat_low": [77.4, 19.2, 46.6, 0.144, 411, 1638],
    "leak_with_chloride": [77.5, 13.1, 58.5, 0.144, 412, 1640, 40.0, 161.0],
    "stored": [80.0, 18.0, 58.0, 0.144, 410, 1655],
}

if __name__ == "__main__":
    published()
    rows = []
    for name, values in CASES.items():
        y = np.array(values, float)
        u = y * RELATIVE[: len(y)]
        stored = np.array([3.0, 5.0e3]) if name == "stored" else np.zeros(1 + (len(y) - 4) // 2)
        rows.append({"name": name, "readings": values, "relative": RELATIVE[: len(y)], "stored": stored.tolist(), "out": reconcile(y, u, stored)})
        print(name, rows[-1]["out"]["misfit"])
    lines = ",\n".join(json.dumps(row) for row in rows)
    (HERE / "reconcile.json").write_text('{"source": "numpy 2.4.6", "rows": [\n%s\n]}\n' % lines)
