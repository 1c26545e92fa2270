"""Counts the evaluations that scipy's least_squares (trust region reflective, exact Jacobians) needs on the
problems of BenchmarkRestarts, from the same starts, and prints them beside that benchmark's output.

    go test -run xxx -bench Restarts -benchtime 1x ./optimize/leastsquares > restarts.txt
    python restarts.py restarts.txt ../problems/nistdata.go
"""

import math
import re
import sys

import numpy as np
import scipy
from scipy.optimize import least_squares


class Reached(Exception):
    pass


def jacobian(f):
    """Exact derivatives of an analytic function, by complex steps."""

    def j(x):
        out = []
        for i in range(len(x)):
            z = np.array(x, dtype=complex)
            z[i] += 1e-30j
            out.append(np.imag(f(z)) / 1e-30)
        return np.array(out).T

    return j


def rosenbrock(x):
    return np.concatenate([10 * (x[1:] - x[:-1] ** 2), 1 - x[:-1]])


def beale(x):
    return np.array([c - x[0] * (1 - x[1] ** (i + 1)) for i, c in enumerate((1.5, 2.25, 2.625))])


def freudenstein_roth(x):
    a, b = x
    return np.array([-13 + a + ((5 - b) * b - 2) * b, -29 + a + ((b + 1) * b - 14) * b])


def powell(x):
    a, b, c, d = x
    return np.array([a + 10 * b, math.sqrt(5) * (c - d), (b - 2 * c) ** 2, math.sqrt(10) * (a - d) ** 2])


def helical(x):
    a, b, c = x
    turn = np.arctan(b / a) if a.real > 0 else np.arctan(b / a) + np.pi
    return np.array([10 * (c - 10 * turn / (2 * np.pi)), 10 * (np.sqrt(a * a + b * b) - 1), c])


def branin(x):
    a, b = x
    return np.array([b - 5.1 / (4 * np.pi**2) * a * a + 5 / np.pi * a - 6,
                     np.sqrt(10 * (1 - 1 / (8 * np.pi)) * np.cos(a) + 10)])


PROBLEMS = {
    "rosenbrock-5": (rosenbrock, [(-5, 10)] * 5, 1e-6),
    "beale": (beale, [(-4.5, 4.5)] * 2, 1e-6),
    "freudenstein-roth": (freudenstein_roth, [(-20, 20)] * 2, 1e-6),
    "powell-singular": (powell, [(-4, 5)] * 4, 1e-6),
    "helical-valley": (helical, [(-10, 10)] * 3, 1e-6),
    "branin": (branin, [(-5, 10), (0, 15)], 0.397887 * 1.001),
}

MODELS = {
    "misra": lambda b, x: b[0] * (1 - np.exp(-b[1] * x)),
    "danWood": lambda b, x: b[0] * x ** b[1],
    "decays": lambda b, x: b[0] + b[1] * np.exp(-x * b[3]) + b[2] * np.exp(-x * b[4]),
    "rational": lambda b, x: (b[0] + b[1] * x + b[2] * x**2 + b[3] * x**3) / (1 + b[4] * x + b[5] * x**2 + b[6] * x**3),
    "logistic": lambda b, x: b[0] / (1 + np.exp(b[1] - b[2] * x)),
    "richards": lambda b, x: b[0] / (1 + np.exp(b[1] - b[2] * x)) ** (1 / b[3]),
    "kowalik": lambda b, x: b[0] * (x**2 + x * b[1]) / (x**2 + x * b[2] + b[3]),
    "meyer": lambda b, x: b[0] * np.exp(b[1] / (x + b[2])),
}


def restart(n, sequence, k):
    ratio = 2.0
    for _ in range(50):
        ratio = (1 + ratio) ** (1 / (n + 1))
    return np.array([math.modf(0.5 + (k + 1 + 1000 * sequence) / ratio ** (i + 1))[0] for i in range(n)])


def counted(f, goal, state):
    def fun(x):
        r = f(x)
        state["count"] += 1
        if float(r @ r) <= goal:
            raise Reached
        return r

    return fun


def to_target(name, scale):
    f, box, goal = PROBLEMS[name]
    low, high = np.array(box, dtype=float).T
    counts = []
    for sequence in range(21):
        state = {"count": 0}
        k = 0
        try:
            while state["count"] < 5000:
                start = low + (high - low) * restart(len(box), sequence, k)
                k += 1
                least_squares(counted(f, goal, state), start, jacobian(f), (low, high), "trf", 1e-9, 1e-9, 1e-9,
                              high - low if scale == "box" else "jac", max_nfev=500)
        except Reached:
            pass
        counts.append(state["count"])
    return sorted(counts)[10]


def numbers(text):
    return np.array([float(v) for v in re.findall(r"[-+0-9.eE]+", text)])


def regressions(path):
    for part in open(path).read().split("Name: ")[1:]:
        field = lambda name, close: re.search(name + r": +(?:\[\d*\](?:\[\])?float64)?\{(.*?)" + close, part, re.S).group(1)
        starts = field("Starts", r"\}\}").split("}, {")
        yield (part.split('"')[1], MODELS[re.search(r"Model: (\w+)", part).group(1)], numbers(field("X", r"\}")),
               numbers(field("Y", r"\}")), [numbers(s) for s in starts], float(re.search(r"Squares: +(\S+),", part).group(1)))


def fitted(model, x, y, start, squares, scale):
    state = {"count": 0}
    f = lambda b: model(b, x) - y
    try:
        with np.errstate(all="ignore"):
            least_squares(counted(f, squares * (1 + 1e-6), state), start, jacobian(f), method="trf", ftol=1e-15, xtol=1e-15,
                          gtol=1e-15, x_scale=1.0 if scale == "box" else "jac", max_nfev=2000)
    except Reached:
        return state["count"]
    except ValueError:
        pass
    return 0


def main():
    ours = {}
    for line in open(sys.argv[1]):
        m = re.match(r"BenchmarkRestarts/(\S+?)-\d+\s+1\s+([\d.]+) evaluations", line)
        if m:
            ours[m.group(1).replace("_", " ")] = float(m.group(2))
    print(f"scipy {scipy.__version__}, numpy {np.__version__}; evaluations to the target, 0: never reached")
    print(f"{'problem':24} {'trammel':>8} {'scipy, scaled by box or 1':>26} {'scipy, by Jacobian':>20} {'against the better':>20}")
    logs = []
    theirs = {name: [to_target(name, s) for s in ("box", "jac")] for name in PROBLEMS}
    for name, model, x, y, starts, squares in regressions(sys.argv[2]):
        for i, start in enumerate(starts):
            theirs[f"{name}/start {i + 1}"] = [fitted(model, x, y, start, squares, s) for s in ("box", "jac")]
    for name, both in theirs.items():
        better = min([n for n in both if n > 0], default=0)
        ratio = ours[name] / better if better and ours[name] else float("nan")
        if better and ours[name]:
            logs.append(math.log(ratio))
        print(f"{name:24} {ours[name]:8.0f} {both[0]:26d} {both[1]:20d} {ratio:20.2f}")
    print(f"geometric mean of the ratios, where both came there: {math.exp(sum(logs) / len(logs)):.2f}")


main()
