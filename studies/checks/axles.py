"""Any axle, read from a geometry file and solved in point coordinates: the second way for the built-in examples.

A part is a set of points and nothing else. Its first three points keep their distances; every further point
keeps its three components along two edges of that triangle and along their vector product. Parts that meet in a joint
share the point (a wishbone's ball, a hinge's two pivots, a kingpin's two ends, the two points of a crank's axis). A rod
keeps the distance of its ends. A strut's leg keeps its line through the top: the vector product of the leg with the line to the
top is nought. The drivers are the heights of the two wheel centres or, where the body rolls, the gaps between the
contact centres and the turned ground. The whole axle is solved, both sides in the car's own coordinates, with scipy,
from design outward in small steps; rates come from the same equations by implicit differentiation.
"""

import csv
import itertools
import re
from fractions import Fraction

import numpy as np
import yaml
from scipy.optimize import least_squares

TIP = 100.0  # mm, from the wheel centre to a point on the spin axis
H = 1e-30  # complex step
INCH = 25.4
WAYS = {"forward": (1, 0, 0), "rearward": (-1, 0, 0), "left": (0, 1, 0), "right": (0, -1, 0), "up": (0, 0, 1), "down": (0, 0, -1)}
SIDES = ("left", "right")
MIRROR = np.array([1.0, -1.0, 1.0])
KINDS = ("arm", "link", "rocker", "damper", "spring", "h_arm", "strut", "hinge", "ball_joint", "kingpin", "distance", "shaft", "torsion_bar", "centre_arm")
RODS = ("link", "damper", "spring", "distance", "shaft")


def norm(v):
    """Euclidean length that a complex step passes through."""
    return np.sqrt((v * v).sum(axis=-1))


class Member:
    """A member on one side of the car, or across (side None): points and bodies are (body, side, name) and (body, side)."""

    def __init__(self, name, kind, side, points, bodies, spec):
        self.name, self.kind, self.side, self.points, self.bodies, self.spec = name, kind, side, points, bodies, spec

    @property
    def body(self):
        """The part that the member itself is."""
        return (self.name, self.side)


class Axle:
    """An axle as its geometry file draws it, in mm and ISO axes of the car."""

    def __init__(self, path):
        self.file = yaml.load(path.read_text(), yaml.BaseLoader)  # every value as text: no `on` becomes a truth
        self.unit = INCH if self.file["units"] == "in" else 1.0
        self.drawn = self.file["side"]
        self.read_points(path)
        self.vehicle = self.file.get("vehicle", {})
        texts = [str(m) for m in self.file["members"].values()]
        self.beam = "axle" in self.bodies_named()
        self.kingpins = any("'kingpin'" in t for t in texts)
        self.members = []
        for name, spec in self.file["members"].items():
            self.members += [self.member(name, spec, side) for side in SIDES]
        for name, spec in (self.file.get("across") or {}).items():
            self.members.append(self.member(name, spec, None))
        self.assemble()

    def length(self, text):
        """A length of the file in mm: a number or a fraction (25 1/2), with a unit of its own or in the file's, on its lattice."""
        number, unit = re.fullmatch(r"(.*?) *(mm|in|)", str(text).strip()).groups()
        mm = float(sum(map(Fraction, number.split()))) * {"mm": 1.0, "in": INCH, "": self.unit}[unit]
        step = 0.001 if self.unit == 1 else 0.0001 * INCH
        return step * round(mm / step)

    @staticmethod
    def degrees(text):
        return float(str(text).removesuffix("deg"))

    def share(self, key):
        value = self.vehicle.get(key, "0")
        return float(value.rstrip("% ")) / (100 if "%" in value else 1)

    def bodies_named(self):
        """Every body that the file names, with the sides before them dropped."""
        out = set()
        for group in ("members", "across"):
            for spec in (self.file.get(group) or {}).values():
                names = list(spec.get("ends", [])) + [spec.get("on", "frame")]
                out |= {n.split(".")[-1] for n in names}
        return out

    def read_points(self, path):
        f = self.file
        points = f["points"]
        if isinstance(points, str):
            with open(path.with_name(points), encoding="utf-8-sig") as table:
                rows = list(csv.reader(line for line in table if not line.startswith("#")))
            columns = [c.strip().lower() for c in rows[0]]
            rows = [dict(zip(columns, r)) for r in rows[1:]]
            points = {r["name"]: [r[k] for k in "xyz"] for r in rows}
        turn = np.array([WAYS[f["axes"][k]] for k in "xyz"])  # rows: what x, y, z of the file mean
        origin = np.array([self.length(c) for c in f.get("origin", "000")])

        def iso(p):
            return (np.array([self.length(c) for c in p]) - origin) @ turn

        self.place = {}
        other = SIDES[1 - SIDES.index(self.drawn)]
        for name, p in points.items():
            self.place[self.drawn, name] = iso(p)
            self.place[other, name] = iso(p) * MIRROR
        apart = {n.removeprefix("opposite."): p for n, p in points.items() if n.startswith("opposite.")}
        for name, p in (apart | (f.get("opposite") or {})).items():
            self.place[other, name] = iso(p)
        rack = np.array((f.get("rack") or {}).get("axis", WAYS["left"] @ turn.T), float) @ turn
        rack = rack / norm(rack)
        self.rack_axis = -rack if rack[1] < 0 else rack
        self.turn = turn

    # Names: a member of a side has its points and bodies there; an across member names sides itself.

    def carrier(self, side):
        return ("axle", None) if self.beam else ("upright", side)

    def wheel_body(self, side):
        return ("upright", side) if self.kingpins or not self.beam else ("axle", None)

    def body(self, name, side):
        if "." in name:
            side, name = name.split(".")
        if name in ("frame", "rack", "axle"):
            return (name, None)
        if name in (self.file.get("across") or {}):
            side = None
        elif side is None and name in self.file["members"]:
            side = self.drawn
        return (name, side)

    def point(self, name, side, body):
        if "." in name:
            side, name = name.split(".")
        return (body, side or self.drawn, name)

    def member(self, name, spec, side):
        kind = next(k for k in KINDS if k in spec)
        on = [self.body(b, side) for b in spec.get("ends", [])]
        word = spec[kind]
        names = [word] if isinstance(word, str) else list(word)
        whole = ("frame", None)
        held = on or [self.body(spec["on"], side) if "on" in spec else whole, self.carrier(side)]
        if kind == "torsion_bar":
            points, bodies = [], [self.body(n, side) for n in names]
        elif kind == "centre_arm":
            points, bodies = [], []
        elif kind == "kingpin":
            bodies = [("axle", None), ("upright", side)]
            points = [self.point(n, side, bodies[0]) for n in names]
        elif kind in RODS:
            bodies = held
            points = [self.point(n, side, b) for n, b in zip(names, bodies)]
        elif kind == "strut":
            bodies = held
            points = [self.point(n, side, b) for n, b in zip(names, bodies)]
        else:
            bodies = held
            balls = [spec["ball"]] if "ball" in spec else spec.get("balls", [])
            points = [self.point(n, side, bodies[0]) for n in names] + [self.point(n, side, bodies[1]) for n in balls]
        return Member(name, kind, side, points, bodies, spec)

    def assemble(self):
        """Joins the points of parts that meet, and writes down what each part and each rod keeps."""
        same = {}

        def find(p):
            while same.get(p, p) != p:
                p = same[p]
            return p

        def join(p, body):
            q = (body, *p[1:])
            if find(p) != find(q):
                same[find(q)] = find(p)
            return q

        used, on_line = {}, []
        for m in self.members:
            for p in m.points:
                used[p] = self.place[p[1:]]
            if m.kind in ("arm", "h_arm"):
                joined = [join(p, m.body) for p in m.points]
            elif m.kind == "rocker":
                joined = [join(p, m.body) for p in m.points]
            elif m.kind in ("hinge", "ball_joint", "kingpin"):
                joined = [join(p, m.bodies[1]) for p in m.points]
            elif m.kind == "strut":
                top = (m.bodies[1], m.side, m.points[0][2] + " on the leg")
                used[top] = self.place[m.points[0][1:]]
                on_line.append((m.points[0], m.points[1], top))
                joined = []
            else:
                joined = []
            for p in joined:
                used[p] = self.place[p[1:]]
        self.wheels = {}
        for side in SIDES:
            body, name = self.wheel_body(side), self.file["wheel"]["centre"]
            centre, tip = (body, side, name), (body, side, "tip of the spin axis")
            used[centre] = self.place[side, name]
            used[tip] = used[centre] + TIP * self.spin_at_design(side)
            self.wheels[side] = centre, tip
        self.centre_arms = {m.body: m for m in self.members if m.kind == "centre_arm"}
        self.bars = {(m.name, None): m for m in self.members if m.kind == "torsion_bar"}
        roots = {}
        for p in used:
            roots.setdefault(find(p), []).append(p)
        still = {p for p in used if p[0] in (("frame", None), ("rack", None))}
        self.racked = {find(p) for p in used if p[0] == ("rack", None)}
        carried = {find(p) for p in used if p[0] in self.centre_arms}  # solved afterwards
        held = {find(p) for p in still} | carried
        order = [r for r in roots if r not in held] + [r for r in roots if r in held]
        self.index = {p: i for i, r in enumerate(order) for p in roots[r]}
        self.free = len(order) - len(held)
        self.design = np.array([used[r] for r in order])
        self.racks = [self.index[p] for p in self.racked]
        self.parts = {}
        for p in used:
            if p[0] not in (("frame", None), ("rack", None)):
                self.parts.setdefault(p[0], []).append(self.index[p])
        for body in list(self.parts):
            self.parts[body] = list(dict.fromkeys(self.parts[body]))
        self.keep([(self.index[a], self.index[b], self.index[c]) for a, b, c in on_line])

    def spin_at_design(self, side):
        w = self.file["wheel"]
        c, t = (np.radians(self.degrees(w.get(k, 0))) for k in ("camber", "toe"))
        out = np.array([np.cos(c) * np.sin(t), np.cos(c) * np.cos(t), -np.sin(c)])
        return out if side == "left" else out * MIRROR

    def keep(self, on_line):
        """The equations: distances, components in a part's own axes, legs on their lines."""
        d = self.design
        pairs, self.frames = [], {}
        corner, inside = [], []
        for body, points in self.parts.items():
            if len(points) < 3:
                pairs += itertools.combinations(points, 2)
                continue
            best = max(itertools.combinations(points, 3), key=lambda t: norm(np.cross(d[t[1]] - d[t[0]], d[t[2]] - d[t[0]])))
            self.frames[body] = best
            if body in self.centre_arms:
                continue
            pairs += itertools.combinations(best, 2)
            for p in points:
                if p not in best:
                    corner.append(best)
                    inside.append(p)
        for m in self.members:
            if m.kind == "link" and not m.spec.get("soft"):
                pairs.append((self.index[m.points[0]], self.index[m.points[1]]))
        pairs = [p for p in dict.fromkeys(tuple(p) for p in pairs) if min(p) < self.free]
        self.a, self.b = (np.array([p[k] for p in pairs], int) for k in (0, 1))
        self.kept = norm(d[self.a] - d[self.b])
        self.corner = np.array(corner, int).reshape(-1, 3)
        self.inside = np.array(inside, int)
        self.edge = norm(d[self.corner[:, 1]] - d[self.corner[:, 0]]) if corner else np.zeros(0)
        axes = self.axes(d, self.corner)
        self.inner = np.linalg.solve(axes, (d[self.inside] - d[self.corner[:, 0]])[..., None])[..., 0]
        self.lines = np.array(on_line, int).reshape(-1, 3)
        self.leg = norm(d[self.lines[:, 2]] - d[self.lines[:, 1]])

    def axes(self, p, corner):
        """The two edges of a triangle and their vector product over the first edge's length at design, as columns."""
        u, v = p[..., corner[:, 1], :] - p[..., corner[:, 0], :], p[..., corner[:, 2], :] - p[..., corner[:, 0], :]
        return np.stack([u, v, np.cross(u, v) / self.edge[:, None]], axis=-1)

    # A drive is (left height, right height, rack, roll in rad, lift), from design; heights do not count where it rolls.

    def points(self, x, drive):
        """All places but those of centre arms, for x of shape (..., n)."""
        p = np.zeros(x.shape[:-1] + self.design.shape, np.result_type(x, drive))
        p[...] = self.design
        p[..., : self.free, :] = x.reshape(x.shape[:-1] + (-1, 3))
        p[..., self.racks, :] += np.asarray(drive)[..., None, None, 2] * self.rack_axis
        return p

    def ground(self):
        w = self.file["wheel"]
        z = np.mean([self.design[self.index[self.wheels[s][0]], 2] for s in SIDES])
        return z - self.radius * np.cos(np.radians(self.degrees(w.get("camber", 0))))

    @property
    def radius(self):
        return self.length(self.file["wheel"]["loaded_radius"])

    def normal(self, roll):
        """The normal of the ground under a body that leans right by roll."""
        return np.stack([np.zeros_like(roll), np.sin(roll), np.cos(roll)], axis=-1)

    def equations(self, x, drive, rolls):
        drive = np.asarray(drive)
        p = self.points(x, drive)
        d = p[..., self.a, :] - p[..., self.b, :]
        out = [((d * d).sum(axis=-1) - self.kept**2) / (2 * self.kept)]
        if len(self.inside):
            axes = self.axes(p, self.corner)
            r = p[..., self.inside, :] - p[..., self.corner[:, 0], :] - (axes * self.inner[:, None, :]).sum(axis=-1)
            out.append(r.reshape(r.shape[:-2] + (-1,)))
        if len(self.lines):
            leg, top = p[..., self.lines[:, 2], :] - p[..., self.lines[:, 1], :], p[..., self.lines[:, 0], :] - p[..., self.lines[:, 1], :]
            r = np.cross(leg, top) / self.leg[:, None]
            out.append(r.reshape(r.shape[:-2] + (-1,)))
        for k, side in enumerate(SIDES):
            centre, tip = (self.index[w] for w in self.wheels[side])
            if rolls:
                n = self.normal(drive[..., 3])
                s = (p[..., tip, :] - p[..., centre, :]) / TIP
                ns = (n * s).sum(axis=-1)
                level = np.cos(drive[..., 3]) * (self.ground() + drive[..., 4])
                gap = (n * p[..., centre, :]).sum(axis=-1) - level - self.radius * np.sqrt(1 - ns * ns)
            else:
                gap = p[..., centre, 2] - self.design[centre, 2] - drive[..., k]
            out.append(gap[..., None])
        shape = np.broadcast_shapes(*(r.shape[:-1] for r in out))
        return np.concatenate([np.broadcast_to(r, shape + r.shape[-1:]) for r in out], axis=-1)

    def jacobian(self, x, drive, rolls):
        """Derivatives of the equations with the coordinates, by complex steps, all at once."""
        steps = x + 1j * H * np.eye(len(x))
        return self.equations(steps, np.asarray(drive), rolls).imag.T / H

    def solve(self, x, drive, rolls):
        """From x nearby to the pose at drive; None where there is none."""
        fit = least_squares(lambda x: self.equations(x, drive, rolls), x, lambda x: self.jacobian(x, drive, rolls), method="lm", xtol=1e-8, ftol=1e-8, gtol=1e-8)
        x = fit.x
        for _ in range(6):
            step = np.linalg.lstsq(self.jacobian(x, drive, rolls), -self.equations(x, drive, rolls), rcond=None)[0]
            x = x + step
            if abs(step).max() < 1e-10:
                break
        else:
            return None
        return x if abs(self.equations(x, drive, rolls)).max() < 1e-10 else None

    def start(self):
        return self.design[: self.free].ravel()

    def go(self, x, begin, end, rolls, step=20.0):
        """Follows the axle from drive to drive in small steps; a radian of roll counts as 600 mm."""
        begin, end = np.array(begin, float), np.array(end, float)
        n = max(1, int(np.ceil(abs((end - begin) * (1, 1, 2, 600, 1)).max() / step)))
        for k in range(1, n + 1):
            x = self.solve(x, begin + (end - begin) * k / n, rolls)
            if x is None:
                raise ValueError(f"it does not close at {end}")
        return x

    def rates(self, x, drive, way, rolls):
        """First and second derivatives of the coordinates as the drive moves along way."""
        drive, way = np.asarray(drive, float), np.asarray(way, float)
        jacobian = self.jacobian(x, drive, rolls)
        back = np.linalg.pinv(jacobian, rcond=1e-13)
        v = -back @ (self.equations(x + 0j, drive + 1j * H * way, rolls).imag / H)

        def slope(s):
            return self.equations(x + (s + 1j * H) * v, drive + (s + 1j * H) * way, rolls).imag / H

        h = 1e-3 if way[3] else 0.5
        coarse, fine = (slope(h) - slope(-h)) / (2 * h), (slope(h / 2) - slope(-h / 2)) / h
        return v, -back @ ((4 * fine - coarse) / 3)
