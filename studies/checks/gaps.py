"""Compares package kin/gap with other ways to the same gaps, on random pairs of every kind.

- Coal (https://github.com/coal-library/coal, BSD licence), a general-purpose engine for distances of convex shapes: it looks for the nearest
  point of both shapes' difference (the method of E. G. Gilbert, D. W. Johnson and S. S. Keerthi, 1988) and, in an overlap, for the
  shortest way out. Capsules, balls, boxes, cylinders with sharp or round edges, and half-spaces are its own shapes.
- A ring with a hole is no convex shape. It is what its section sweeps: the least of Coal's distances over the angle of a flat plate, found with scipy.
- Two rings: points that go to and fro between the nearest of both, from many places.
- Where a core and a ring overlap, the gap is by its definition the depth of the deepest point of the core: looked for in dense rows of points, denser
  and denser about the deepest. For boxes and rings in rings it is the depth of a place of an edge that is deepest around, or that of two outer cylinders that
  cross, and must be one of these; where nothing of an edge is in the other there is another depth: it must overlap, and few may be so.

The nearest points that are reported must lie on both surfaces, so that no gap can be too small; none may be greater than what is found here.
A fifth of the pairs stand along the axes, on whole numbers: parallel, level, one in another's middle, or just touching.
"""

import argparse
import collections
import json
import math
import subprocess
import sys

import coal
import numpy as np
from scipy.optimize import minimize_scalar
from scipy.spatial.transform import Rotation

BOUND = 1e-5  # mm
ORDERLY = 0.2
CLEAR = 1e-3  # mm between cores that do not overlap: about a kink, scipy's least is no better than this
KINDS = ("capsule", "ball", "box", "cylinder", "ring", "half-space")

REQUEST = coal.DistanceRequest()
REQUEST.enable_signed_distance = True
REQUEST.gjk_tolerance, REQUEST.gjk_max_iterations = 1e-8, 1000  # finer, it stops early now and then
REQUEST.epa_tolerance, REQUEST.epa_max_iterations = 1e-9, 1000
RESULT = coal.DistanceResult()


def engine(a, pose_a, b, pose_b):
    """Coal's signed distance of two of its shapes."""
    RESULT.clear()
    return coal.distance(a, pose_a, b, pose_b, REQUEST, RESULT)


class Solid:
    """A solid: a core in its own axes (the columns of turn, about middle), rounded by soft. The core of a capsule is a line of half its length to
    either side, of a box half its edges, of a cylinder or ring a section to outer and from inner, and half as high."""

    def __init__(self, kind, turn, middle, half=0.0, soft=0.0, outer=0.0, inner=0.0):
        self.kind, self.turn, self.middle = kind, turn, middle
        self.half, self.soft, self.outer, self.inner = half, soft, outer, inner

    @classmethod
    def drawn(cls, kind, rng, orderly):
        """A random one at the origin."""

        def size(low, high):
            x = rng.uniform(low, high)
            return max(round(x / 5), 1) * 5.0 if orderly else x

        turn = Rotation.random(rng=rng).as_matrix()
        if orderly:
            turn = np.roll(np.diag(rng.choice([-1.0, 1.0], 3)), rng.integers(3), axis=0)
        s = cls(kind, turn, np.zeros(3))
        if kind in ("capsule", "ball"):
            s.soft = size(0, 30)
            s.half = size(1, 250) if kind == "capsule" else 0.0
        elif kind == "box":
            s.half = np.array([size(1, 150) for _ in range(3)])
        elif kind in ("cylinder", "ring"):
            outer, half, inner = size(20, 300), size(2, 150), 0.0
            wall = outer
            if kind == "ring":
                inner = outer * (0.5 if orderly else rng.uniform(0.1, 0.97))
                wall = (outer - inner) / 2
            soft = min(wall, half) * rng.choice([0, rng.uniform(0, 0.98)])
            s = cls.hoop(turn, s.middle, half, outer, inner, soft)
        return s

    @classmethod
    def hoop(cls, turn, middle, half, outer, inner, soft):
        """A cylinder or a ring by its outside, its edges rounded by soft."""
        return cls("ring" if inner > 0 else "cylinder", turn, middle, half - soft, soft, outer - soft, inner + soft if inner > 0 else 0.0)

    def reach(self):
        """Radius of a ball about the middle."""
        if self.kind == "half-space":
            return 0.0
        return self.soft + np.sqrt(np.sum(np.square(self.half)) + self.outer**2)

    def line(self):
        """The solid as studies/checks/gaps reads it."""
        if self.kind == "half-space":
            return {"kind": "plane", "at": [list(self.middle), list(self.turn[:, 2])]}
        if self.kind == "box":
            h = self.turn @ self.half
            return {"kind": "box", "at": [list(self.middle - h), list(self.middle + h), *self.turn.T.tolist()]}
        ring = self.kind in ("cylinder", "ring")
        h = (self.half + self.soft * ring) * self.turn[:, 2]
        out = {"at": [list(self.middle - h), list(self.middle + h)]}
        if ring:
            return out | {"kind": "ring", "r": self.outer + self.soft, "in": self.inner - self.soft if self.inner else 0.0, "round": self.soft}
        return out | {"kind": "capsule", "r": self.soft}

    def shape(self):
        """Coal's shape and pose of the whole; of a ring without its hole."""
        pose = coal.Transform3s(self.turn, self.middle)
        if self.kind == "half-space":
            n = self.turn[:, 2]
            return coal.Halfspace(n, n @ self.middle), coal.Transform3s.Identity()
        if self.kind == "box":
            return coal.Box(*(2 * self.half)), pose
        if self.kind == "ball":
            return coal.Sphere(self.soft), pose
        if self.kind == "capsule":
            return coal.Capsule(self.soft, 2 * self.half), pose
        shape = coal.Cylinder(self.outer, 2 * self.half)
        shape.setSweptSphereRadius(self.soft)
        return shape, pose

    def plate(self):
        """The section of a ring at an angle of 0, and its pose at any angle."""
        shape = coal.Box(self.outer - self.inner, 0.0, 2 * self.half)
        shape.setSweptSphereRadius(self.soft)
        middle = (self.outer + self.inner) / 2
        x, y, z = self.turn.T
        turn = np.empty((3, 3))
        turn[:, 2] = z

        def pose(angle):
            c, s = math.cos(angle), math.sin(angle)
            turn[:, 0], turn[:, 1] = c * x + s * y, c * y - s * x
            return coal.Transform3s(turn, self.middle + middle * turn[:, 0])

        return shape, pose

    def depth(self, p):
        """Signed distance of points of shape (..., 3) from the surface."""
        q = (p - self.middle) @ self.turn
        if self.kind == "half-space":
            return q[..., 2]
        if self.kind in ("capsule", "ball"):
            q[..., 2] -= np.clip(q[..., 2], -self.half, self.half)
            return np.sqrt((q * q).sum(axis=-1)) - self.soft
        if self.kind == "box":
            over = abs(q) - self.half
        else:
            rho = np.hypot(q[..., 0], q[..., 1])
            out = rho - self.outer if self.kind == "cylinder" else np.maximum(rho - self.outer, self.inner - rho)
            over = np.stack([out, abs(q[..., 2]) - self.half], axis=-1)
        beside = np.maximum(over, 0)
        return np.sqrt((beside * beside).sum(axis=-1)) + np.minimum(over.max(axis=-1), 0) - self.soft

    def edges(self):
        """Curves of the core that can be deepest in another, as middle + f·cos 2πt + g·sin 2πt + l·(2t − 1), 0 ≤ t ≤ 1: shape (4, n, 3)."""
        middle, f, g, l = [], [], [], []

        def curve(*q):
            for into, v in zip((middle, f, g, l), q):
                into.append(v)

        o = np.zeros(3)
        if self.kind in ("capsule", "ball"):
            curve(o, o, o, np.array([0, 0, self.half]))
        elif self.kind == "box":
            for k in range(3):
                for signs in ((-1, -1), (-1, 1), (1, -1), (1, 1)):
                    across = np.insert(signs, k, 0) * self.half
                    curve(across, o, o, np.eye(3)[k] * self.half)
        else:
            for r in [self.outer] + [self.inner] * (self.kind == "ring"):
                for z in (-self.half, self.half):
                    curve(np.array([0, 0, z]), np.array([r, 0, 0]), np.array([0, r, 0]), o)
        out = np.array([middle, f, g, l]) @ self.turn.T
        out[0] += self.middle
        return out

    def place(self, q):
        return self.middle + q @ self.turn.T


def along(curves, t):
    """Points of curves (4, n, 3) at t, (n, k) or (k)."""
    middle, f, g, l = curves[:, :, None, :]
    angle, t = 2 * np.pi * t[..., None], t[..., None]
    return middle + f * np.cos(angle) + g * np.sin(angle) + l * (2 * t - 1)


def dips(curves, solid):
    """The signed distances of curves from a solid where they are least around: the lowest of many places, and of finer ones about each dip."""
    n = 200
    t = np.linspace(0, 1, n + 1)
    d = solid.depth(along(curves, t))
    beside = np.pad(d, ((0, 0), (1, 1)), mode="edge")
    rows, at = np.nonzero((d <= beside[:, :-2]) & (d <= beside[:, 2:]))
    first = np.argsort(d[rows, at], kind="stable")[:100]
    rows, at = rows[first], at[first]
    curves, low, high = curves[:, rows], t[np.maximum(at - 1, 0)], t[np.minimum(at + 1, n)]
    best = d[rows, at]
    for _ in range(8):
        fine = np.linspace(low, high, 17, axis=-1)
        d = solid.depth(along(curves, fine))
        best, k = np.minimum(best, d.min(axis=-1)), d.argmin(axis=-1)
        each = np.arange(len(k))
        low, high = fine[each, np.maximum(k - 1, 0)], fine[each, np.minimum(k + 1, 16)]
    return best


def overlap(a, b):
    """Minus the depths that a core or an edge of one has in the other where it is deepest around, the deepest first; None where there is none."""
    found = []
    for one, other in ((a, b), (b, a)):
        if other.kind not in ("capsule", "ball"):  # against a tube it is the tube's core that counts
            found.append(dips(one.edges(), other) - one.soft)
    if a.outer and b.outer:
        found.append(crossing(a, b))
    found = np.sort(np.concatenate(found))
    return found[found < -a.soft - b.soft] if found[0] < -a.soft - b.soft else None


def crossing(a, b):
    """By how much two outer cylinders cross that pass one another within both, none or one."""
    m, v = np.cross(a.turn[:, 2], b.turn[:, 2]), b.middle - a.middle
    mm = m @ m
    if mm < 1e-12:
        return np.empty(0)
    at_a, at_b = np.cross(v, b.turn[:, 2]) @ m / mm, np.cross(v, a.turn[:, 2]) @ m / mm
    if abs(at_a) > a.half or abs(at_b) > b.half:
        return np.empty(0)
    return np.array([abs(m @ v) / math.sqrt(mm) - a.outer - b.outer - a.soft - b.soft])


def swept(ring, other):
    """The least distance of a ring's plate from a convex solid, over the angle."""
    shape, pose = ring.plate()
    b, at = other.shape()

    def f(angle):
        return engine(shape, pose(angle), b, at)

    n = 120
    step = 2 * np.pi / n
    d = [f(k * step) for k in range(n)]
    # No distance falls faster than the plate's outer edge moves, and none is farther than half a step from one of these.
    limit = min(d) + ring.outer * step / 2
    best = min(d)
    for k in range(n):
        if d[k] < limit and d[k] <= d[k - 1] and d[k] <= d[(k + 1) % n]:
            best = min(best, minimize_scalar(f, bounds=((k - 1) * step, (k + 1) * step), method="bounded", options={"xatol": 1e-7}).fun)
    return best


class Rings:
    """Many rings at once, one a row, for points of shape (n, k, 3)."""

    def __init__(self, rings):
        self.middle = np.array([r.middle for r in rings])[:, None]
        self.turn = np.array([r.turn for r in rings])
        self.inner, self.outer, self.half = np.array([(r.inner, r.outer, r.half) for r in rings]).T[:, :, None]

    def nearest(self, p):
        """The points of the cores that are nearest to p."""
        q = (p - self.middle) @ self.turn
        rho = np.hypot(q[..., 0], q[..., 1])
        q[..., 0] = np.where(rho == 0, 1e-300, q[..., 0])  # on the axis all ways are as far
        rho = np.maximum(rho, 1e-300)
        q[..., :2] *= (np.clip(rho, self.inner, self.outer) / rho)[..., None]
        q[..., 2] = np.clip(q[..., 2], -self.half, self.half)
        return self.middle + q @ self.turn.swapaxes(1, 2)

    def around(self, n):
        """Points of the cores' sections, in n directions."""
        t = np.linspace(0, 2 * np.pi, n, endpoint=False)
        radii = self.inner + (self.outer - self.inner) * [[0, 1, 0, 1]]
        heights = self.half * [[-1, -1, 1, 1]]
        q = np.stack(np.broadcast_arrays(np.cos(t)[None, :, None] * radii[:, None], np.sin(t)[None, :, None] * radii[:, None], heights[:, None]), axis=-1)
        return self.middle + q.reshape(len(q), -1, 3) @ self.turn.swapaxes(1, 2)


def to_and_fro(a, b, starts=16, steps=300):
    """The least distances of the cores of rings, row by row: from the nearest of many points of a, to and fro between the nearest of both, with
    the momentum of Y. Nesterov (1983) as long as it does not lead away (B. O'Donoghue, E. Candès, 2015)."""
    each = np.arange(len(a.turn))[:, None]
    x = a.around(64)
    order = np.argsort(norm(x - b.nearest(x)), axis=1, kind="stable")
    x = x[each, order[:, ::8][:, :starts]]
    y, way, best = x, np.zeros(x.shape[:2]), np.full(x.shape[:2], np.inf)
    for _ in range(steps):
        z = b.nearest(y)
        new = a.nearest(z)
        d = norm(new - z)
        way = np.where(d > best, 0, way + 1)
        best = np.minimum(best, d)
        step = new - x
        y, x = new + (way / (way + 3))[..., None] * step, new
        if abs(step).max() < 1e-9:
            break
    return np.minimum(best, norm(x - b.nearest(x))).min(axis=1)


def between_cores(pairs):
    """The least distances of the cores of pairs of rings."""
    one, two = (Rings([p[k] for p in pairs]) for k in range(2))
    return np.minimum(to_and_fro(one, two), to_and_fro(two, one))


def norm(v):
    return np.sqrt((v * v).sum(axis=-1))


def reference(a, b, apart):
    """The gap by another way, and the name of that way; None where no way here has the definition of an overlap. What parts two
    cores that are both rings may be known."""
    rings = (a.kind == "ring") + (b.kind == "ring")
    if "half-space" in (a.kind, b.kind) or rings == 0:
        d, way = engine(*a.shape(), *b.shape()), "coal"
    elif rings == 2:
        cores = between_cores([(a, b)])[0] if apart is None else apart
        d, way = cores - a.soft - b.soft, "to and fro"
    else:
        d, way = swept(a, b) if a.kind == "ring" else swept(b, a), "coal's plates"
    tubes = {a.kind, b.kind} <= {"capsule", "ball"}
    round_edges = "half-space" in (a.kind, b.kind) or not {a.kind, b.kind} & {"cylinder", "ring"}
    if d > -a.soft - b.soft + CLEAR or round_edges and not tubes:
        return d, way
    return (None if tubes else overlap(a, b)), "depth"


def draw(kinds, rng):
    """A pair whose surfaces are near one another as a rule."""
    orderly = rng.random() < ORDERLY
    a, b = (Solid.drawn(k, rng, orderly) for k in kinds)
    if b.kind == "half-space":
        way, far = b.turn[:, 2], a.reach() * rng.uniform(-1.1, 1.1)
    else:
        way, far = rng.normal(size=3), (a.reach() + b.reach()) * rng.uniform(0, 1.1)
    if orderly:
        way, far = np.eye(3)[rng.integers(3)], 5 * round(far / 5)
    b.middle = a.middle + far * way / np.linalg.norm(way)
    shift = rng.uniform(-500, 500, 3)
    for s in (a, b):
        s.middle = s.middle + (10 * np.round(shift / 10) if orderly else shift)
    return (a, b) if rng.random() < 0.5 else (b, a)


def ask(program, pairs):
    lines = "".join(json.dumps({"a": a.line(), "b": b.line()}) + "\n" for a, b in pairs)
    done = subprocess.run([program], input=lines, capture_output=True, text=True)
    if done.returncode != 0:
        sys.exit(f"{program} ended with {done.returncode}: {done.stderr.strip()}")
    return [json.loads(line) for line in done.stdout.splitlines()]


def check(program, kinds, cases, rng, faults):
    """Compares the pairs of one kind; returns how many were compared by each way, and the greatest difference."""
    pairs = [draw(kinds, rng) for _ in range(cases)]
    apart = [None] * cases
    if kinds == ("ring", "ring"):
        apart = between_cores(pairs)
    loose = kinds[0] in ("box", "cylinder", "ring") and kinds[1] != "half-space"
    ways, worst = collections.Counter(), 0.0
    for number, ((a, b), got) in enumerate(zip(pairs, ask(program, pairs), strict=True)):
        want, way = reference(a, b, apart[number])
        p, q = np.array(got["a"]), np.array(got["b"])
        off = abs(np.linalg.norm(p - q) - abs(got["gap"]))
        if got["gap"] > 0:
            off = max(off, abs(a.depth(p)), abs(b.depth(q)))
        if way == "depth" and want is not None:
            want = float(want[abs(want - got["gap"]).argmin()] if loose else want[0])
        if want is None:
            way = "no way"
        elif loose and way == "depth" and abs(got["gap"] - want) > BOUND:
            way = "other depth"
            off = max(off, got["gap"] + a.soft + b.soft)  # it must overlap, no less than the rounding
        else:
            off = max(off, abs(got["gap"] - want))
        ways[way] += 1
        worst = max(worst, off)
        if not off <= BOUND:
            faults.append(f"{kinds[0]} and {kinds[1]}, pair {number}: gap {got['gap']!r} where {way} gives {want!r}, nearest points off by {off:.3g} mm: {json.dumps({'a': a.line(), 'b': b.line()})}")
    return ways, worst


def main():
    args = argparse.ArgumentParser(description="Compares package kin/gap with Coal and scipy.")
    args.add_argument("--gaps", required=True, help="the program of studies/checks/gaps")
    args.add_argument("--cases", type=int, default=2000, help="pairs of each kind; of those with a ring, which Coal does not know, a third")
    args.add_argument("--seed", type=int, default=1)
    args.add_argument("--only", help="two kinds with a comma between them")
    o = args.parse_args()
    faults = []
    for i, first in enumerate(KINDS):
        for second in KINDS[i:]:
            if first == "half-space" or o.only and o.only != f"{first},{second}":
                continue
            rng = np.random.default_rng([o.seed, i, KINDS.index(second)])
            cases = o.cases // 3 if "ring" in (first, second) else o.cases
            ways, worst = check(o.gaps, (first, second), cases, rng, faults)
            print(f"{first} and {second}: " + ", ".join(f"{n} by {w}" for w, n in ways.most_common()) + f"; greatest difference {worst:.2g} mm", flush=True)
            if ways["no way"] > cases / 5 or ways["other depth"] > 3 + ways["depth"] / 20:
                faults.append(f"{first} and {second}: {ways['no way']} of {cases} pairs were not compared, {ways['other depth']} overlaps have another depth")
    for text in faults[:20]:
        print("WRONG " + text)
    if faults:
        sys.exit(f"{len(faults)} differences")


if __name__ == "__main__":
    main()
