"""Random linkages and geometry files, solved a second way and compared with `trammel cycle`.

trammel moves the wheel carrier as a rigid body on Newton steps and turns arms and rockers in closed
form. Here nothing is a body: the unknowns are the coordinates of all moving points, and the equations
are the distances between points of one part, the volume that four points of one part span (so that no
part turns inside out), the lengths of rods, and the height of the wheel centre. They are solved with
scipy from design outward in small steps and polished with Newton steps. Rates come from the same
equations by implicit differentiation. What each measure means is written here anew, from the words
and signs that README and `trammel measures` give. The random linkages are corners on wishbones; axles.py, axle_measures.py
and axle_files.py do the same with every built-in geometry file and those of the tests, whatever holds the wheels.

    python linkages.py --trammel PATH [--linkages 20] [--seed 1]

Prints the worst deviation of every kind and ends with 1 when one is above its bound.
"""

import argparse
import collections
import itertools
import json
import os
import pathlib
import subprocess
import sys
import tempfile

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # the matrices are small

import numpy as np
from scipy.optimize import least_squares

from axle_files import check_files

# Millimetres, x forward, y left, z up, left wheel; a sensible corner that the random ones depart from.
POINTS = {
    "lower_front": (168, 226, 140), "lower_rear": (-152, 240, 134), "lower_ball": (7, 652, 134),
    "upper_front": (132, 284, 318), "upper_rear": (-138, 292, 310), "upper_ball": (-12, 617, 350),
    "rack_end": (-74, 246, 182), "steering_arm": (-84, 634, 184), "wheel_centre": (0, 690, 250),
    "pushrod_foot": (4, 584, 156), "pushrod_head": (-4, 334, 446),
    "rocker_front": (46, 290, 400), "rocker_rear": (-54, 290, 400),
    "damper_rocker": (-4, 277, 467), "damper_frame": (-4, 32, 438),
}
# How the spring side is laid out: the body that the foot of rod or damper is on, and where it stands.
LAYOUTS = {
    "pushrod on the lower arm": ("lower_arm", {}),
    "pushrod on the upper arm": ("upper_arm", {"pushrod_foot": (-6, 560, 352), "pushrod_head": (-4, 330, 470), "rocker_front": (46, 276, 428),
                                               "rocker_rear": (-54, 276, 428), "damper_rocker": (-4, 262, 494)}),
    "pushrod on the upright": ("upright", {"pushrod_foot": (2, 610, 170)}),
    "damper straight on the lower arm": ("lower_arm", {"damper_foot": (30, 560, 150), "damper_frame": (26, 330, 470)}),
}
ROCKER_POINTS = ("pushrod_foot", "pushrod_head", "rocker_front", "rocker_rear", "damper_rocker")
AXES = (
    "{x: forward, y: left, z: up}",
    "{x: rearward, y: right, z: up}",
    "{x: left, y: rearward, z: up}",
)
SHIFT = 15.0  # mm, greatest departure of a coordinate
TIP = 100.0  # mm, from the wheel centre to a point on the spin axis
FAR = 1e6  # mm: beyond 1 km an instant centre has no value
NEAR_CENTRE = np.radians(1.0)  # inner wheel: below this ackermann and turn_radius have no value
H = 1e-30  # complex step

Kind = collections.namedtuple("Kind", "title absolute relative")
PLACE = Kind("places and lengths, mm", 1e-8, 0)
ANGLE = Kind("angles, deg", 1e-8, 0)
RATE = Kind("rates", 1e-12, 1e-6)
FAR_PLACE = Kind("places that hang on rates, mm, and per cent", 1e-8, 1e-6)


def norm(v):
    """Euclidean length that a complex step passes through."""
    return np.sqrt((v * v).sum(axis=-1))


class Linkage:
    """One corner: points at design in ISO axes on the left, and the parts that tie them."""

    def __init__(self, number, rng):
        self.layout = list(LAYOUTS)[number % len(LAYOUTS)]
        self.foot_body, places = LAYOUTS[self.layout]
        self.straight = "damper_foot" in places
        points = {**POINTS, **places}
        if self.straight:
            for name in ROCKER_POINTS:
                del points[name]
        self.points = {n: np.round(np.array(p) + rng.uniform(-SHIFT, SHIFT, 3), 3) for n, p in points.items()}
        self.camber, self.toe = np.round(rng.uniform(-2, 1), 2), np.round(rng.uniform(-0.4, 0.4), 2)
        self.radius = np.round(rng.uniform(230, 320), 3)
        self.wheelbase = np.round(rng.uniform(2000, 3000), 3)
        self.right = number % 5 == 3
        self.axes = AXES[number // 2 % len(AXES)]
        self.build()

    def build(self):
        c, t = np.radians(self.camber), np.radians(self.toe)
        at = dict(self.points)
        at["tip"] = at["wheel_centre"] + TIP * np.array([np.cos(c) * np.sin(t), np.cos(c) * np.cos(t), -np.sin(c)])
        self.bodies = {
            "lower_arm": ["lower_front", "lower_rear", "lower_ball"],
            "upper_arm": ["upper_front", "upper_rear", "upper_ball"],
            "upright": ["lower_ball", "upper_ball", "steering_arm", "wheel_centre", "tip"],
        }
        self.rods = [("rack_end", "steering_arm")]
        self.damper = ("damper_rocker", "damper_frame")
        if self.straight:
            self.damper = ("damper_foot", "damper_frame")
            self.bodies[self.foot_body].append("damper_foot")
        else:
            self.bodies[self.foot_body].append("pushrod_foot")
            self.bodies["rocker"] = ["rocker_front", "rocker_rear", "pushrod_head", "damper_rocker"]
            self.rods.append(("pushrod_foot", "pushrod_head"))
        held = {"lower_front", "lower_rear", "upper_front", "upper_rear", "rack_end", "rocker_front", "rocker_rear", "damper_frame"}
        self.moving = [n for n in at if n not in held]
        self.names = self.moving + [n for n in at if n in held]
        self.index = {n: i for i, n in enumerate(self.names)}
        self.design = np.array([at[n] for n in self.names])
        self.size = 3 * len(self.moving)
        pairs, fours = list(self.rods), []
        for body in self.bodies.values():
            pairs += itertools.combinations(body, 2)
            fours += [body[:3] + [p] for p in body[3:]]
        pairs = dict.fromkeys(p for p in pairs if set(p) & set(self.moving))
        self.a = np.array([self.index[p[0]] for p in pairs])
        self.b = np.array([self.index[p[1]] for p in pairs])
        self.fours = np.array([[self.index[n] for n in f] for f in fours])
        self.length = norm(self.design[self.a] - self.design[self.b])
        self.volume = self.volumes(self.design)
        self.scale = np.array([self.edge(f) ** 2 for f in self.fours])

    def edge(self, four):
        return max(norm(self.design[p] - self.design[q]) for p, q in itertools.combinations(four, 2))

    def place(self, x, rack):
        """All points: the moving ones from x, the rack's end from its travel."""
        p = self.design.astype(x.dtype)
        p[: len(self.moving)] = x.reshape(-1, 3)
        p[self.index["rack_end"], 1] += rack
        return p

    def volumes(self, p):
        u, v, w = (p[self.fours[:, k]] - p[self.fours[:, 0]] for k in (1, 2, 3))
        return (np.cross(u, v) * w).sum(axis=1)

    def equations(self, x, travel, rack):
        p = self.place(x, rack)
        d = p[self.a] - p[self.b]
        centre = self.index["wheel_centre"]
        return np.concatenate([
            ((d * d).sum(axis=1) - self.length**2) / (2 * self.length),
            (self.volumes(p) - self.volume) / self.scale,
            [p[centre, 2] - self.design[centre, 2] - travel],
        ])

    def jacobian(self, x, rack):
        """Derivatives of the equations with the coordinates, written out."""
        p = self.place(x, rack)
        n = len(self.a)
        out = np.zeros((n + len(self.fours) + 1, 3 * len(self.names)), x.dtype)
        d = (p[self.a] - p[self.b]) / self.length[:, None]
        for row, (i, j) in enumerate(zip(self.a, self.b)):
            out[row, 3 * i : 3 * i + 3] = d[row]
            out[row, 3 * j : 3 * j + 3] = -d[row]
        for k, (o, i, j, m) in enumerate(self.fours):
            u, v, w = p[i] - p[o], p[j] - p[o], p[m] - p[o]
            for q, g in ((i, np.cross(v, w)), (j, np.cross(w, u)), (m, np.cross(u, v))):
                out[n + k, 3 * q : 3 * q + 3] += g / self.scale[k]
                out[n + k, 3 * o : 3 * o + 3] -= g / self.scale[k]
        out[-1, 3 * self.index["wheel_centre"] + 2] = 1
        return out[:, : self.size]

    def solve(self, x, travel, rack):
        """From x nearby to the pose at travel and rack; None where there is none."""
        fit = least_squares(self.equations, x, lambda x, z, r: self.jacobian(x, r), args=(travel, rack), method="lm", xtol=1e-12, ftol=1e-12, gtol=1e-12)
        x = fit.x
        for _ in range(6):
            step = np.linalg.lstsq(self.jacobian(x, rack), -self.equations(x, travel, rack), rcond=None)[0]
            x = x + step
            if abs(step).max() < 1e-11:
                break
        else:
            return None
        if abs(self.equations(x, travel, rack)).max() > 1e-10:
            return None
        return x

    def firm(self, x, rack):
        """The least singular value of the equations: 0 at a dead centre."""
        return np.linalg.svd(self.jacobian(x, rack), compute_uv=False)[-1]

    def follow(self, wheel, rack):
        """Poses at every travel of a grid, each reached from design; None when one is out of reach."""
        start = self.design[: len(self.moving)].ravel()
        bound = 0.3 * self.firm(start, 0)
        poses = {}
        for r in rack:
            x = start
            for part in np.linspace(0, r, 2 + int(abs(r) // 3))[1:]:
                x = self.solve(x, 0.0, part)
                if x is None:
                    return None
            for direction in (1, -1):
                y, last = x, 0.0
                for z in sorted((z for z in wheel if z * direction >= 0), key=abs):
                    for part in np.linspace(last, z, 2 + int(abs(z - last) // 4))[1:]:
                        y = self.solve(y, part, r)
                        if y is None:
                            return None
                    if self.firm(y, r) < bound:
                        return None
                    poses[z, r], last = y, z
        return poses

    def rates(self, x, rack):
        """First and second derivatives of the coordinates with wheel travel, the rack held."""
        j = self.jacobian(x, rack)
        rise = np.zeros(len(j))
        rise[-1] = 1
        v = np.linalg.lstsq(j, rise, rcond=None)[0]
        turn = self.jacobian(x + 1j * H * v, rack).imag / H @ v  # derivative of the Jacobian along v, times v
        return v, np.linalg.lstsq(j, -turn, rcond=None)[0]

    def write(self, path):
        """Writes the geometry file: the corner as drawn on its side, in its axes."""
        flip = np.array([1, -1, 1]) if self.right else np.array([1, 1, 1])
        ways = {"forward": (1, 0, 0), "rearward": (-1, 0, 0), "left": (0, 1, 0), "right": (0, -1, 0), "up": (0, 0, 1)}
        turn = np.array([ways[w.strip("{} ").split(": ")[1]] for w in self.axes.split(",")])
        lines = ["format: 1", f"name: random corner, {self.layout}", "units: mm", f"axes: {self.axes}",
                 f"side: {'right' if self.right else 'left'}", "points:"]
        for name, p in self.points.items():
            lines.append(f"  {name}: [{', '.join('%.3f' % c for c in turn @ (flip * p))}]")
        lines += ["members:",
                  "  lower_arm: {arm: [lower_front, lower_rear], ball: lower_ball}",
                  "  upper_arm: {arm: [upper_front, upper_rear], ball: upper_ball}",
                  "  tie_rod: {link: [rack_end, steering_arm], ends: [rack, upright]}"]
        if self.straight:
            lines.append(f"  damper: {{damper: [damper_foot, damper_frame], ends: [{self.foot_body}, frame]}}")
        else:
            lines += [f"  pushrod: {{link: [pushrod_foot, pushrod_head], ends: [{self.foot_body}, rocker]}}",
                      "  rocker: {rocker: [rocker_front, rocker_rear]}",
                      "  damper: {damper: [damper_rocker, damper_frame], ends: [rocker, frame]}"]
        lines += [f"wheel: {{centre: wheel_centre, camber: {self.camber}, toe: {self.toe}, loaded_radius: {self.radius}}}",
                  f"vehicle: {{wheelbase: {self.wheelbase}}}", ""]
        path.write_text("\n".join(lines))


class Corner:
    """The measures of one pose of the left wheel; x may be complex."""

    def __init__(self, linkage, x, rack):
        self.l = linkage
        self.p = linkage.place(x, rack)

    def at(self, name):
        return self.p[self.l.index[name]]

    @property
    def spin(self):
        return (self.at("tip") - self.at("wheel_centre")) / TIP

    @property
    def axis(self):
        d = self.at("upper_ball") - self.at("lower_ball")
        return d / norm(d)

    @property
    def contact(self):
        s = self.spin
        down = np.array([s[2] * s[0], s[2] * s[1], s[2] * s[2] - 1])  # -z, less its part along the spin axis
        return self.at("wheel_centre") + self.l.radius * down / norm(down)

    def camber(self):
        return -np.arcsin(self.spin[2])

    def toe(self):
        return np.arctan(self.spin[0] / self.spin[1])

    def caster(self):
        return np.arctan(-self.axis[0] / self.axis[2])

    def kingpin_inclination(self):
        return np.arctan(-self.axis[1] / self.axis[2])

    def from_axis(self, point):
        """How far ahead of and inboard of a point the steering axis passes at the point's height."""
        low, k, s = self.at("lower_ball"), self.axis, self.spin
        d = low + k * (point[2] - low[2]) / k[2] - point
        out = np.array([s[0], s[1]]) / np.hypot(s[0].real, s[1].real)  # level, across the wheel, outward
        ahead = np.array([out[1], -out[0]])
        return d[:2] @ ahead, -(d[:2] @ out)

    def length(self):
        return norm(self.at(self.l.damper[0]) - self.at(self.l.damper[1]))

    def about(self, body, point):
        """A point's arm from the axis of a body, and the unit axis from its first point to its second."""
        a, b = (self.at(n) for n in self.l.bodies[body][:2])
        k = (b - a) / norm(b - a)
        d = self.at(point) - a
        return d - (d @ k) * k, k

    def lever(self, body, near, far):
        """At near, the angle between the rod to far and the line to the body's axis, and the nearer of the two angles between
        that line and the rod as it is seen along the axis."""
        if body == "upright":
            k = self.axis
            arm = self.at(near) - self.at("lower_ball")
            arm = arm - (arm @ k) * k
        else:
            arm, k = self.about(body, near)
        rod = self.at(far) - self.at(near)
        flat = rod - (rod @ k) * k
        return np.arctan2(norm(np.cross(rod, -arm)), rod @ -arm), np.arctan2(norm(np.cross(flat, arm)), abs(flat @ arm))

    def turned(self, body, point):
        """Turn of a body from design."""
        now, k = self.about(body, point)
        then, _ = Corner(self.l, self.l.design[: len(self.l.moving)].ravel(), 0).about(body, point)
        return np.arctan2(np.cross(then, now) @ k, then @ now)


class Moving(Corner):
    """A real pose with its rates."""

    def __init__(self, linkage, x, rack):
        super().__init__(linkage, x, rack)
        self.v, self.a = linkage.rates(x, rack)
        self.ahead = Corner(linkage, x + 1j * H * self.v, rack)
        names = linkage.bodies["upright"]
        i = [linkage.index[n] for n in names]
        vel = self.v.reshape(-1, 3)[i]
        c = linkage.index["wheel_centre"]
        rel, dv = self.p[i] - self.p[c], vel - self.v.reshape(-1, 3)[c]
        skew = np.concatenate([[[0, r[2], -r[1]], [-r[2], 0, r[0]], [r[1], -r[0], 0]] for r in rel])  # w × r = skew(r) w
        self.w = np.linalg.lstsq(skew, dv.ravel(), rcond=None)[0]
        self.carried = self.v.reshape(-1, 3)[c] + np.cross(self.w, self.contact - self.p[c])  # the carrier's point at the contact

    def slope(self, measure):
        return measure(self.ahead).imag / H

    def stroke(self):
        """First and second derivative of the damper's length."""
        l = self.l
        pick = np.zeros((2, len(l.names)))
        pick[0, l.index[l.damper[0]]] = 1
        v = np.zeros((len(l.names), 3), complex)
        v[: len(l.moving)] = (self.v + 1j * H * self.a).reshape(-1, 3)
        d = self.ahead.at(l.damper[0]) - self.ahead.at(l.damper[1])
        rate = d @ (v[l.index[l.damper[0]]] - v[l.index[l.damper[1]]]) / norm(d)
        return rate.real, rate.imag / H


def finite(x):
    return None if abs(x) > FAR else x


def roll_centre(left, right):
    """Height and lateral place; right is the pose of the left wheel whose mirror image the right wheel is."""
    # A line through a contact, square to the velocity there: v·(q - c) = 0, one for each wheel.
    rows = [(left.carried[1:], left.contact[1:]), (right.carried[1:] * (-1, 1), right.contact[1:] * (-1, 1))]
    q = np.linalg.solve([v for v, _ in rows], [v @ c for v, c in rows])
    c, d = rows[0][1], rows[1][1]
    across = (c - d) / norm(c - d)
    up = np.array([-across[1], across[0]])
    q = q - (c + d) / 2
    return q @ up, q @ across


def turning(l, left, right, straight):
    """Ackermann, per cent, and how far the outer contact is from the point that its wheel would roll about.

    straight is the pose at the same wheel travel with the rack centred, whose toe is no steer. None near centre.
    """
    steer_left, steer_right = straight.toe() - left.toe(), right.toe() - straight.toe()
    inner, outer, contact = (steer_left, steer_right, right.contact) if steer_left > 0 else (-steer_right, -steer_left, left.contact)
    if inner < NEAR_CENTRE or outer <= 0:
        return None, None
    start = Corner(l, l.design[: len(l.moving)].ravel(), 0)
    low, k = start.at("lower_ball"), start.axis
    between = 2 * (low + k * (start.contact[2] - low[2]) / k[2])[1]
    ideal = np.arctan2(1, 1 / np.tan(inner) + between / l.wheelbase)
    rear = start.contact[0] - l.wheelbase  # of the rear axle's line
    radius = (contact[0] - rear) / np.sin(outer) if outer >= NEAR_CENTRE else None
    return 100 * (inner - outer) / (inner - ideal), radius


def measures(l, left, right, straight):
    """Every column of `trammel cycle`, as name: (kind, value) of the left wheel."""
    deg = np.degrees
    start = Corner(l, l.design[: len(l.moving)].ravel(), 0)
    trail, offset = left.from_axis(left.contact)
    hub_trail, hub_offset = left.from_axis(left.at("wheel_centre"))
    d = left.ahead.contact.imag / H
    height, lateral = roll_centre(left, right)
    ackermann, radius = turning(l, left, right, straight)
    rate, bend = left.stroke()
    side = -1 if l.right else 1
    out = {
        "camber_deg": (ANGLE, deg(left.camber())), "camber_to_ground_deg": (ANGLE, deg(left.camber())),
        "toe_deg": (ANGLE, deg(left.toe())), "steer_angle_deg": (ANGLE, -side * deg(left.toe())),
        "caster_deg": (ANGLE, deg(left.caster())), "kingpin_inclination_deg": (ANGLE, deg(left.kingpin_inclination())),
        "caster_trail_mm": (PLACE, trail), "kingpin_offset_mm": (PLACE, offset), "hub_trail_mm": (PLACE, hub_trail), "hub_offset_mm": (PLACE, hub_offset),
        "contact_x_mm": (PLACE, left.contact[0]), "contact_y_mm": (PLACE, side * left.contact[1]), "contact_z_mm": (PLACE, left.contact[2]),
        "half_track_change_mm": (PLACE, left.contact[1] - start.contact[1]), "contact_x_change_mm": (PLACE, left.contact[0] - start.contact[0]),
        "camber_gain_deg_per_mm": (RATE, deg(left.slope(Corner.camber))), "bump_steer_deg_per_mm": (RATE, deg(left.slope(Corner.toe))),
        "caster_gain_deg_per_mm": (RATE, deg(left.slope(Corner.caster))),
        "roll_camber_deg_per_deg": (RATE, None), "roll_steer_deg_per_deg": (RATE, None),  # in a motion with body_roll only
        "contact_path_y": (RATE, d[1] / d[2]), "contact_path_x": (RATE, d[0] / d[2]),
        "front_view_swing_arm_mm": (FAR_PLACE, finite(left.carried[2] / left.w[0])), "side_view_swing_arm_mm": (FAR_PLACE, finite(left.carried[2] / left.w[1])),
        "roll_centre_height_mm": (FAR_PLACE, finite(height)), "roll_centre_lateral_mm": (FAR_PLACE, finite(side * lateral)),
        "ackermann_percent": (FAR_PLACE, ackermann), "turn_radius_mm": (FAR_PLACE, radius),
        "damper_length_mm": (PLACE, left.length()), "damper_installation_ratio": (RATE, -rate), "damper_progression_per_mm": (RATE, -bend),
        "lower_arm_angle_deg": (ANGLE, deg(left.turned("lower_arm", "lower_ball"))), "upper_arm_angle_deg": (ANGLE, deg(left.turned("upper_arm", "upper_ball"))),
    }
    levers = {"tie_rod": ("upright", "steering_arm", "rack_end")}
    if l.straight:
        levers["damper"] = (l.foot_body, "damper_foot", "damper_frame")
    else:
        out["rocker_angle_deg"] = (ANGLE, deg(left.turned("rocker", "pushrod_head")))
        levers["pushrod"] = ("rocker", "pushrod_head", "pushrod_foot")
        levers["damper"] = ("rocker", "damper_rocker", "damper_frame")
    for name, where in levers.items():
        both = [("", where)]
        if name == "pushrod" and l.foot_body != "upright":
            both += [("_first", (l.foot_body, "pushrod_foot", "pushrod_head")), ("_second", where)]
        for word, end in both:
            lever, dead = left.lever(*end)
            out |= {f"{name}_lever_angle{word}_deg": (ANGLE, deg(lever)), f"{name}_dead_centre{word}_deg": (ANGLE, deg(dead))}
    return out


class Report:
    def __init__(self):
        self.worst = {}
        self.faults = []
        self.values = 0

    def fault(self, text):
        self.faults.append(text)

    def compare(self, where, name, kind, want, got):
        self.values += 1
        if want is None or got is None:
            if want is not got:
                self.fault(f"{where}: {name} is {got} where the points give {want}")
            return
        bound = kind.absolute + kind.relative * abs(want)
        share = abs(got - want) / bound
        if share > self.worst.get(kind, (0,))[0]:
            self.worst[kind] = share, f"{name}, {where}: {got!r} and {want!r}"
        if not share <= 1:
            self.fault(f"{where}: {name} is {got!r} where the points give {want!r}")


def check(l, poses, wheel, rack, table, title, report):
    side = -1 if l.right else 1
    moving = {k: Moving(l, x, k[1]) for k, x in poses.items()}
    rows = {(row["wheel_travel_mm"], side * row["rack_travel_mm"]): row for row in table["rows"]}
    if set(rows) != set(moving):
        report.fault(f"{title}: the table has other positions than were asked for")
        return
    for (z, r), left in moving.items():
        want = measures(l, left, moving[z, -r], moving[z, 0])
        row = dict(rows[z, r])
        del row["wheel_travel_mm"], row["rack_travel_mm"]
        if set(row) != set(want):
            report.fault(f"{title}: the table has {sorted(set(row) ^ set(want))} where this check has not, or the other way round")
            return
        for name, (kind, value) in want.items():
            report.compare(f"{title}, wheel {z:g}, rack {side * r:g}", name, kind, value, row[name])


def main():
    ask = argparse.ArgumentParser(description="Compares trammel with a formulation in point coordinates.")
    ask.add_argument("--trammel", required=True, help="the program")
    ask.add_argument("--linkages", type=int, default=20)
    ask.add_argument("--seed", type=int, default=1)
    o = ask.parse_args()
    rng = np.random.default_rng(o.seed)
    wheel, rack = np.linspace(-40, 40, 9), np.linspace(-20, 20, 5)
    report, drawn, number = Report(), 0, 0
    with tempfile.TemporaryDirectory() as folder:
        while number < o.linkages:
            l = Linkage(number, rng)
            drawn += 1
            poses = l.follow(wheel, rack)
            if poses is None:  # comes near a dead centre: draw another
                if drawn > 10 * o.linkages:
                    sys.exit("too many of the random linkages do not close")
                continue
            title = f"linkage {number + 1}, {l.layout}, {'right' if l.right else 'left'} side"
            number += 1
            path = pathlib.Path(folder) / f"corner-{number}.yaml"
            l.write(path)
            args = [o.trammel, "cycle", str(path), "--travel=-40..40:9", "--rack=-20..20:5", "--measures", "all", "--format", "json"]
            done = subprocess.run(args, capture_output=True, text=True)
            if done.returncode != 0:
                report.fault(f"{title}: trammel ended with {done.returncode}: {done.stderr.strip()}")
                continue
            check(l, poses, wheel, rack, json.loads(done.stdout), title, report)
    print(f"{number} linkages of {drawn} drawn, seed {o.seed}; {report.values} values compared")
    for place, reach in (("examples", 1.2), ("files/testdata/good", 0.6)):
        before = report.values
        files = check_files(o.trammel, pathlib.Path(__file__).parent.parent / place, reach, report)
        print(f"{files} geometry files of {place}; {report.values - before} values compared")
    for kind, (share, where) in report.worst.items():
        print(f"  {kind.title}: worst is {share:.2g} of its bound ({kind.absolute:g} + {kind.relative:g} of the value): {where}")
    for text in report.faults[:20]:
        print("WRONG " + text)
    if report.faults:
        sys.exit(f"{len(report.faults)} differences")


if __name__ == "__main__":
    main()
