"""Searches of other packages on the built-in studies, beside trammel's own, counted in evaluations.

    python searches.py --objective PROGRAM --raw FOLDER run [--seeds 1] [--refined 21] [STUDY...]
    python searches.py --raw FOLDER table

PROGRAM is `go build ./studies/checks/objective`. `run` writes one file of JSON lines for each study and search into FOLDER and
leaves out what stands there already; `table` prints the tables from these files alone. `run --quick` is a small form of
everything, of one study and one seed, which checks itself: it fails where refine is not the best.

What is compared, and how it is counted, stands in studies/benchmarks/searches.md.
"""

import argparse
import json
import math
import os
import statistics
import struct
import subprocess
import sys
import tempfile

import numpy as np

STUDIES = ["corncrake", "corncrake-inch", "corncrake-rear", "dunlin", "whinchat", "wheatear", "ptarmigan", "dotterel", "pipit", "twite"]
OURS = ["refine", "blind", "study"]  # refine from the design, from nothing, after a sample
OTHERS = ["scipy-differential-evolution", "cma", "differential-evolution", "cma-es"]
BUDGET = 200_000  # evaluations of a reference search
SHARE = 20  # refine has this part of them
BROKEN = 1e-6  # of its scale: a limit passed by more is broken
WORTH = 1e-5  # as in objective/search.go: a smaller gain is not written down


class Enough(Exception):
    """The goal is reached or the evaluations are spent."""


class Objective:
    """A study served by the program: see objective/serve.go."""

    def __init__(self, program, study, free=False):
        args = [program, "serve"] + (["-free"] if free else []) + [study]
        self.process = subprocess.Popen(args, stdin=subprocess.PIPE, stdout=subprocess.PIPE)
        numbers, choices, self.m, self.k = struct.unpack("<4I", self.process.stdout.read(16))
        self.n, self.numbers = numbers + choices, numbers  # choices are numbers too, the last ones
        self.low, self.high, self.design = (self._numbers(self.n) for _ in range(3))

    def _numbers(self, count):
        data = self.process.stdout.read(8 * count)
        if len(data) != 8 * count:
            raise RuntimeError("the objective ended early")
        return np.frombuffer(data, dtype="<f8").copy()

    def plain(self, xs):
        """Rows of status, reached, score, violation for rows of x."""
        xs = np.ascontiguousarray(xs, dtype="<f8").reshape(-1, self.n)
        out = np.empty((len(xs), 4))
        for at in range(0, len(xs), 256):  # less than what both pipes hold
            part = xs[at : at + 256]
            self.process.stdin.write(struct.pack("<2I", len(part), 0) + part.tobytes())
            self.process.stdin.flush()
            out[at : at + 256] = self._numbers(4 * len(part)).reshape(-1, 4)
        return out

    def full(self, x):
        """status, reached, score, violation; R, G, JR, JG."""
        self.process.stdin.write(struct.pack("<2I", 1, 1) + np.asarray(x, dtype="<f8").tobytes())
        self.process.stdin.flush()
        head = self._numbers(4)
        r, g = self._numbers(self.m), self._numbers(self.k)
        return head, r, g, *(self._numbers(rows * self.numbers).reshape(rows, self.numbers) for rows in (self.m, self.k))

    def close(self):
        self.process.stdin.close()
        self.process.wait()


class Trace:
    """Counts evaluations and keeps the best, in the form of objective/search.go."""

    def __init__(self, study, free, method, seed, most, goal=-1.0, price=0.0):
        self.line = dict(study=study, free=free, method=method, seed=seed, price=price, evaluations=0, rows=0, derivatives=0, best=-1, x=[], better=[])
        self.most, self.goal = most, goal

    def see(self, x, head, cost=1.0):
        t = self.line
        t["evaluations"] += cost
        t["rows"] += 1
        t["derivatives"] += cost > 1
        status, _, score, violation = head
        if status == 0 and violation <= BROKEN and (t["best"] < 0 or score < t["best"]):
            t["best"], t["x"] = float(score), [float(v) for v in x]
            b = t["better"]
            if not b or score < b[-1][1] * (1 - WORTH) - 1e-9 or score <= self.goal < b[-1][1]:
                b.append([t["evaluations"], float(score)])
        if t["evaluations"] >= self.most or 0 <= t["best"] <= self.goal:
            raise Enough

    def rank(self, rows):
        """One number for each row, ordered as trammel ranks: score while limits hold, then violation, then failures."""
        status, reached, score, violation = rows.T
        return np.where(status > 1, 1e12 * (2 - reached), np.where(status > 0, 1e8 * (1 + np.arctan(violation)), np.minimum(score, 1e8)))

    def batch(self, objective, xs):
        rows = objective.plain(xs)
        for x, row in zip(np.atleast_2d(xs), rows):
            self.see(x, row)
        return self.rank(rows)


def restart(n, sequence, k):
    """Start number k of a sequence in a box of length 1, as in objective/local.go."""
    ratio = 2.0
    for _ in range(50):
        ratio = (1 + ratio) ** (1 / (n + 1))
    return np.array([math.modf(0.5 + (k + 1 + 1000 * sequence) / ratio ** (i + 1))[0] for i in range(n)])


def scipy_evolution(objective, trace):
    """scipy's differential_evolution with its defaults, begun anew where its population has converged."""
    from scipy.optimize import differential_evolution

    for again in range(1000):
        differential_evolution(
            lambda x: trace.batch(objective, x.T), list(zip(objective.low, objective.high)), vectorized=True, updating="deferred",
            polish=False, maxiter=100_000, tol=1e-8, rng=np.random.default_rng([trace.line["seed"], again]))


def package_cma(objective, trace):
    """cma with restarts in two regimes, a first width of 0.3 of the box, its own handling of bounds, otherwise defaults."""
    import cma

    rng = np.random.default_rng(trace.line["seed"])
    low, width = objective.low, objective.high - objective.low
    for again in range(1000):
        cma.fmin2(
            None, lambda: rng.random(objective.n), 0.3, parallel_objective=lambda xs: list(trace.batch(objective, low + width * np.clip(np.array(xs), 0, 1))),
            options=dict(bounds=[0, 1], maxfevals=BUDGET, verbose=-9, seed=1 + trace.line["seed"] * 1000 + again), restarts=30, bipop=True)


def scipy_squares(objective, trace, price, weights, scaling):
    """scipy's least_squares (trust region reflective, exact Jacobians) from one start of the sequence after the other. It knows
    no limits: they are residuals sqrt(weight)·max(0, g + margin), with one weight after the other from where the last one led to.
    A choice stays as it is at the start."""
    from scipy.optimize import least_squares

    n = objective.numbers
    low, high = objective.low[:n], objective.high[:n]
    last = {}

    def at(x):
        x = np.concatenate([x, choice])
        if last.get("x") is None or not np.array_equal(last["x"], x):
            last.update(x=x.copy(), of=objective.full(x), known=False)
            trace.see(x, last["of"][0], 1.0)
        return last["of"]

    def descend(x, weight):
        margin, root = 1 / weight, math.sqrt(weight)  # what a multiplier of 1 leaves of the limit

        def residuals(x):
            head, r, g, _, _ = at(x)
            return np.full(objective.m + objective.k, 1e3) if head[0] > 1 else np.concatenate([r, root * np.maximum(g + margin, 0)])

        def jacobian(x):
            _, _, g, jr, jg = at(x)
            if not last["known"]:  # what the derivatives cost beyond the residuals
                last["known"] = True
                trace.line["evaluations"] += price - 1
                trace.line["derivatives"] += 1
            return np.vstack([jr, root * jg * (g + margin > 0)[:, None]])

        return least_squares(residuals, x, jacobian, bounds=(low, high), x_scale=high - low if scaling == "box" else "jac").x

    for k in range(1000):
        x = objective.low + (objective.high - objective.low) * restart(objective.n, trace.line["seed"], k)
        x, choice = x[:n], x[n:]
        if at(x)[0][0] > 1:
            continue
        for weight in weights:
            x = descend(x, weight)


# Forms of least_squares: the weights of limits, and the scaling of numbers.
FORMS = {"rising": (1.0, 1e3, 1e6), "stiff": (1e4,)}
VARIANTS = [(form, scaling) for form in FORMS for scaling in ("box", "jac")]


class Bench:
    def __init__(self, program, raw, studies=STUDIES, rows=BUDGET // SHARE):
        self.program, self.raw, self.studies, self.rows = program, raw, studies, rows
        os.makedirs(raw, exist_ok=True)

    def path(self, study, method):
        return os.path.join(self.raw, f"{study}.{method}.jsonl")

    def lines(self, study, method):
        try:
            with open(self.path(study, method), encoding="utf-8") as f:
                return [json.loads(line) for line in f]
        except FileNotFoundError:
            return []

    def missing(self, study, method, seeds):
        have = {line["seed"] for line in self.lines(study, method)}
        return [s for s in seeds if s not in have]

    def add(self, study, method, line):
        line = json.loads(line) if isinstance(line, str) else line
        with open(self.path(study, method), "a", encoding="utf-8") as f:
            f.write(json.dumps(short(line), separators=(",", ":")) + "\n")

    def ours(self, study, method, seeds, rows, price, free=False, goal=-1.0, name=None):
        name = name or method
        for seed in self.missing(study, name, seeds):
            args = [self.program, "search"] + (["-free"] if free else [])
            args += ["-method", method, "-rows", str(rows), "-price", str(price), "-goal", repr(goal), "-seeds", f"{seed}-{seed}", study]
            self.add(study, name, subprocess.run(args, check=True, capture_output=True, text=True).stdout)

    def theirs(self, study, name, search, seeds, rows, free=False, goal=-1.0, price=0.0):
        for seed in self.missing(study, name, seeds):
            objective = Objective(self.program, study, free)
            trace = Trace(study, free, name, seed, rows, goal, price)
            try:
                search(objective, trace)
            except Enough:
                pass
            objective.close()
            self.add(study, name, trace.line)

    def price(self, study):
        """What an evaluation with derivatives costs in plain ones, and a plain one in microseconds: measured once."""
        if not self.lines(study, "price"):
            ratio, plain = subprocess.run([self.program, "price", study], check=True, capture_output=True, text=True).stdout.split()
            self.add(study, "price", dict(seed=0, price=float(ratio), microseconds=float(plain)))
        return self.lines(study, "price")[0]["price"]

    # What is measured.

    def refined(self, study, seeds):
        """refine from the design, from nothing, and after the sample of a study that names no stages. The first seed has all of its
        evaluations; the others end a ten-thousandth above what it came to. A better reference would ask for them anew."""
        goal = -1.0
        for method in OURS:
            self.ours(study, method, seeds[:1], self.rows, self.price(study))
        if found := [line["best"] for method in OURS for line in self.lines(study, method)[:1] if line["best"] >= 0]:
            goal = 1.0001 * min(found) + 1e-7
        for method in OURS:
            self.ours(study, method, seeds[1:], self.rows, self.price(study), goal=goal)

    def references(self, study, seeds, rows=BUDGET):
        """Searches without derivatives, with all of their evaluations."""
        self.theirs(study, "scipy-differential-evolution", scipy_evolution, seeds, rows)
        self.theirs(study, "cma", package_cma, seeds, rows)
        for method in ("differential-evolution", "cma-es"):
            self.ours(study, method, seeds, rows, 1)

    def goal(self, study):
        """What local searches are to reach, numbers free of steps: the best known, found beforehand, and a thousandth."""
        if not self.lines(study, "free-goal"):
            price = self.price(study)
            self.ours(study, "blind", [1], self.rows, price, free=True, name="free-blind")
            self.ours(study, "refine", [1], self.rows, price, free=True, name="free-refine")
            best = min(line["best"] for name in ("free-blind", "free-refine") for line in self.lines(study, name) if line["best"] >= 0)
            self.add(study, "free-goal", dict(seed=0, best=best))
        return target(self.lines(study, "free-goal")[0]["best"])

    def free(self, study, seeds, rows=4000, most=BUDGET // 4):
        """Local searches from the same starts, and cma, until they reach the goal."""
        goal, price = self.goal(study), self.price(study)
        self.ours(study, "local", seeds, rows, price, free=True, goal=goal, name="free-local")
        for form, scaling in VARIANTS:
            search = lambda objective, trace: scipy_squares(objective, trace, price, FORMS[form], scaling)
            self.theirs(study, variant(form, scaling), search, seeds, rows, free=True, goal=goal, price=price)
        self.theirs(study, "free-cma", package_cma, seeds, most, free=True, goal=goal)


def short(line):
    """The line without the digits that say nothing: twelve of a score, hundredths of an evaluation."""
    if "better" in line:
        line["evaluations"] = round(line["evaluations"], 2)
        line["better"] = [[round(n, 2), float(f"{score:.12g}")] for n, score in line["better"]]
        line["x"] = [float(f"{v:.12g}") for v in line["x"]]
    return line


def variant(form, scaling):
    return f"free-squares-{form}-{scaling}"


def target(best):
    """1.001 times a best score, and a little for scores of next to nothing."""
    return 1.001 * best + 1e-6


def needed(line, goal):
    """Evaluations until a score is reached; infinity if it is not."""
    return min((n for n, score in line["better"] if score <= goal), default=math.inf)


def median(lines, goal):
    return statistics.median_high(needed(line, goal) for line in lines) if lines else math.nan


def shown(n):
    return "-" if not math.isfinite(n) else f"{n:.0f}"


def table_of_bests(bench):
    print("| study | numbers | best of others | found by | refine's best | over it | from the design | worst seed | from nothing | worst seed | after a sample | a Jacobian |")
    print("| --- | ---: | ---: | --- | ---: | ---: | ---: | ---: | ---: | ---: | ---: | ---: |")
    kept = True
    for study in bench.studies:
        others = {m: bench.lines(study, m) for m in OTHERS}
        bests = {m: min((line["best"] for line in lines if line["best"] >= 0), default=math.inf) for m, lines in others.items()}
        by = min(bests, key=bests.get)
        ours = {m: bench.lines(study, m) for m in OURS}
        if not ours["blind"] or not math.isfinite(bests[by]):
            continue
        goal = target(bests[by])
        best = min(line["best"] for lines in ours.values() for line in lines)
        cells = [study, len(others[by][0]["x"]), f"{bests[by]:.6g}", by, f"{best:.6g}", f"{best / bests[by]:.4f}"]
        for m in ("refine", "blind"):
            cells += [shown(median(ours[m], goal)), shown(max(needed(line, goal) for line in ours[m]))]
        cells += [shown(median(ours["study"], goal)), f"{bench.price(study):.2f}"]
        kept = kept and all(median(ours[m], goal) <= BUDGET / SHARE for m in ours)
        print("| " + " | ".join(str(c) for c in cells) + " |")
    print()
    print("| best over refine's | scipy-differential-evolution | cma | differential-evolution | cma-es |")
    print("| --- | ---: | ---: | ---: | ---: |")
    for study in bench.studies:
        best = min((line["best"] for m in OURS for line in bench.lines(study, m)), default=math.nan)
        cells = [[line["best"] / best for line in bench.lines(study, m) if line["best"] >= 0] for m in OTHERS]
        if any(cells):
            print(f"| {study} | " + " | ".join(f"{min(c):.4f}" if c else "-" for c in cells) + " |")
    print()
    print(f"Reached with at most {BUDGET // SHARE} evaluations in the median of every study of the table: {'yes' if kept else 'NO'}.")
    return kept


def table_of_locals(bench):
    print("| study | goal | refine's local search | least_squares | its best form | refine over it | cma | refine over it |")
    print("| --- | ---: | ---: | ---: | --- | ---: | ---: | ---: |")
    against = {"least_squares": [], "cma": []}
    for study in bench.studies:
        if not bench.lines(study, "free-cma") or not bench.lines(study, "free-local"):
            continue
        goal = target(bench.lines(study, "free-goal")[0]["best"])
        ours = median(bench.lines(study, "free-local"), goal)
        forms = {v: median(bench.lines(study, variant(*v)), goal) for v in VARIANTS if bench.lines(study, variant(*v))}
        form = min(forms, key=forms.get)
        cma = median(bench.lines(study, "free-cma"), goal)
        least = lowest(bench, study)
        cells = [study, f"{goal:.6g}", shown(ours), shown(forms[form]), ", ".join(form)]
        for name, other in (("least_squares", forms[form]), ("cma", cma)):
            if name == "cma":
                cells.append(shown(cma))
            against[name].append(ours / other if math.isfinite(other) else ours / least[name])
            cells.append(("" if math.isfinite(other) else "below ") + f"{against[name][-1]:.3g}")
        print("| " + " | ".join(cells) + " |")
    print()
    kept = True
    for name, ratios in against.items():
        if ratios:
            mean = math.exp(statistics.fmean(math.log(r) for r in ratios))
            kept = kept and mean <= 1 and max(ratios) <= 1.5
            print(f"Against {name}: geometric mean of the ratios {mean:.3f}, greatest {max(ratios):.2f}.")
    return kept


def lowest(bench, study):
    """What a search that did not come there spent at least."""
    spent = {"least_squares": [], "cma": [line["evaluations"] for line in bench.lines(study, "free-cma")]}
    for v in VARIANTS:
        spent["least_squares"] += [line["evaluations"] for line in bench.lines(study, variant(*v))]
    return {name: statistics.median(of) for name, of in spent.items() if of}


def quick(program):
    """Everything once, of one study and one seed, in a folder that goes away: does what is measured still work?"""
    with tempfile.TemporaryDirectory() as folder:
        bench = Bench(program, folder, studies=["dotterel"], rows=5000)
        bench.refined("dotterel", [1])
        bench.references("dotterel", [1], rows=4000)
        bench.free("dotterel", [1], rows=1000, most=4000)
        held = table_of_bests(bench)
        table_of_locals(bench)
        if not held:
            sys.exit("refine does not come within a thousandth of what searches without derivatives find")
        ours = bench.lines("dotterel", "free-local")[0]
        if needed(ours, bench.goal("dotterel")) == math.inf:
            sys.exit("the local search does not reach its goal from any start")


def main():
    p = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    p.add_argument("--objective", help="the program that serves objectives")
    p.add_argument("--raw", default=os.path.join(os.path.dirname(__file__), "..", "benchmarks", "searches"), help="folder of the JSON lines")
    p.add_argument("--seeds", type=int, default=1, help="of a reference search")
    p.add_argument("--refined", type=int, default=21, help="seeds of refine and of local searches")
    p.add_argument("--only", choices=["refined", "free", "references"], help="this part alone")
    p.add_argument("--quick", action="store_true")
    p.add_argument("what", choices=["run", "table"])
    p.add_argument("studies", nargs="*")
    a = p.parse_args()
    if a.quick:
        quick(a.objective)
        return
    bench = Bench(a.objective, a.raw)
    if a.what == "table":
        print("Best scores\n")
        table_of_bests(bench)
        print("\nLocal searches\n")
        table_of_locals(bench)
        return
    for study in a.studies or STUDIES:
        for part, work in (("refined", lambda: bench.refined(study, range(1, a.refined + 1))), ("free", lambda: bench.free(study, range(1, a.refined + 1))),
                           ("references", lambda: bench.references(study, range(1, a.seeds + 1)))):
            if a.only in (None, part):
                work()
                print(study, part, flush=True)


if __name__ == "__main__":
    main()
