"""The measures of a pose that axles.py has solved, written from the words and signs of README and `trammel measures`."""

import collections
import functools

import numpy as np

from axles import H, MIRROR, TIP, norm

OF_MEMBERS = (
    "length", "installation_ratio", "progression", "closing_left", "opening_left", "stop_crush", "solid_left", "angle", "bind", "twist", "plunge",
    "lever_angle", "lever_angle_first", "lever_angle_second", "dead_centre", "dead_centre_first", "dead_centre_second", "joint_angle_inner", "joint_angle_outer",
    "clearance", "tilt", "axis_x", "axis_y", "axis_z",
)
FAR = 1e6  # mm: beyond 1 km an instant centre has no value
NEAR_CENTRE = np.radians(1.0)  # inner wheel: below this ackermann and turn_radius have no value
STILL = 1e-9  # mm of wheel travel for a unit of the motion: below it a wheel stands still

Kind = collections.namedtuple("Kind", "title absolute relative")
PLACE = Kind("places and lengths of axles, mm", 1e-8, 0)
ANGLE = Kind("angles of axles, deg", 1e-8, 0)
RATE = Kind("rates of axles", 1e-10, 1e-6)
FAR_PLACE = Kind("places of axles that hang on rates, mm, and per cent", 1e-8, 1e-6)


def finite(x):
    return None if x is None or not abs(x) <= FAR else x


def turn_about(r, k):
    """Angle of a rotation matrix about a unit axis, right-handed; r may be complex."""
    w = np.array([r[2, 1] - r[1, 2], r[0, 2] - r[2, 0], r[1, 0] - r[0, 1]]) / 2
    return 2 * np.arctan((w @ k) / (1 + (np.trace(r) - 1) / 2))


class Shot:
    """All places of an axle at one moment, seen from one side: with the right one the car is mirrored, so that the same
    formulae serve. Places may be complex."""

    def __init__(self, axle, p, drive, side):
        self.axle, self.side, self.drive = axle, side, drive
        self.flip = MIRROR if side == "right" else np.ones(3)
        self.whole = p

    def node(self, i):
        return self.whole[i] * self.flip

    def at(self, point):
        body = point[0]
        if body in self.axle.centre_arms:
            return self.on_centre_arm(point) * self.flip
        return self.node(self.axle.index[point])

    def design(self):
        return Shot(self.axle, self.axle.design, np.zeros(5), self.side)

    def turned(self, body):
        """The rotation of a part from design, in the car's coordinates."""
        if body[0] in ("frame", "rack"):
            return np.eye(3)
        t = list(self.axle.frames[body])

        def edges(p):
            u, v = p[t[1]] - p[t[0]], p[t[2]] - p[t[0]]
            return np.stack([u, v, np.cross(u, v)], axis=-1)

        return edges(self.whole) @ np.linalg.inv(edges(self.axle.design))

    def follower(self, body):
        """The member that a part is, and the body that carries its axis."""
        for m in self.axle.members:
            if m.body == body and m.kind in ("arm", "h_arm", "rocker") or m.kind == "kingpin" and m.bodies[1] == body:
                return m, m.bodies[0]
        return None, None

    def angle_in_car(self, body):
        """Turn of an arm, rocker or upright about its axis from first point to second, right-handed in the car."""
        m, base = self.follower(body)
        a, b = (self.axle.place[p[1:]] for p in m.points[:2])
        r = self.turned(base)
        return turn_about(np.linalg.inv(r) @ self.turned(body), (b - a) / norm(b - a))

    def angle(self, m):
        if m.kind == "centre_arm":
            return self.middle(m) if self.axle.drawn == "left" else -self.middle(m)
        body = m.bodies[1] if m.kind == "kingpin" else m.body
        side = m.side or self.axle.drawn
        return self.angle_in_car(body) * (1 if side == "left" else -1)

    # A torsion bar: its ends turn about their own axes, counted about the first's.

    def ends(self, bar):
        first, second = bar.bodies
        axes = []
        for body in (first, second):
            m, _ = self.follower(body)
            a, b = (self.axle.place[p[1:]] for p in m.points[:2])
            axes.append((b - a) / norm(b - a))
        sense = 1 if axes[0] @ axes[1] > 0 else -1
        return self.angle_in_car(first), sense * self.angle_in_car(second)

    def twist(self, bar):
        a, b = self.ends(bar)
        # The right-handed turn about an axis changes its sign in a mirror: counted as the drawing's own side has it.
        return (a - b) * (1 if self.axle.drawn == "left" else -1)

    def middle(self, m):
        a, b = self.ends(self.axle.bars[(m.spec["centre_arm"], None)])
        return (a + b) / 2

    def on_centre_arm(self, point):
        m = self.axle.centre_arms[point[0]]
        bar = self.axle.bars[(m.spec["centre_arm"], None)]
        end, _ = self.follower(bar.bodies[0])
        a, b = (self.axle.place[p[1:]] for p in end.points[:2])
        k, t = (b - a) / norm(b - a), self.middle(m)
        d = self.axle.place[point[1:]] - a
        flat = (d @ k) * k
        return a + flat + (d - flat) * np.cos(t) + np.cross(k, d) * np.sin(t)

    # The wheel.

    @property
    def car_side(self):
        return -1 if self.side == "right" else 1

    @property
    def centre(self):
        return self.at(self.axle.wheels[self.side][0])

    @property
    def spin(self):
        return (self.at(self.axle.wheels[self.side][1]) - self.centre) / TIP

    @property
    def roll(self):
        return self.drive[3]

    @property
    def normal(self):
        return self.axle.normal(self.roll) * self.flip

    @property
    def contact(self):
        n, s = self.normal, self.spin
        down = (n @ s) * s - n
        return self.centre + self.axle.radius * down / norm(down)

    def travel(self):
        return self.centre[2] - self.design().centre[2]

    def camber(self):
        return -np.arcsin(self.spin[2])

    def camber_to_ground(self):
        return -np.arcsin(self.normal @ self.spin)

    def toe(self):
        return np.arctan(self.spin[0] / self.spin[1])

    def steer(self):
        return -self.car_side * self.toe()

    @functools.cached_property
    def joints(self):
        """Two points of the steering axis, or None: a kingpin's, or the balls of arms and a strut's top."""
        mine = [m for m in self.axle.members if m.side == self.side]
        for m in mine:
            if m.kind == "kingpin":
                return m.points[:2]
        if self.axle.beam:
            return None
        found = [m.points[2] for m in mine if m.kind == "arm"] + [m.points[0] for m in mine if m.kind == "strut"]
        return found if len(found) == 2 else None

    def axis(self):
        low, high = sorted((self.at(p) for p in self.joints), key=lambda p: p[2].real)
        return low, (high - low) / norm(high - low)

    def caster(self):
        _, k = self.axis()
        return np.arctan(-k[0] / k[2])

    def kingpin_inclination(self):
        _, k = self.axis()
        return np.arctan(-k[1] / k[2])

    def from_axis(self, point):
        """How far ahead of and inboard of a point the steering axis passes at the point's height above the ground."""
        (low, k), s, n = self.axis(), self.spin, self.normal
        d = low + k * (n @ (point - low)) / (n @ k) - point
        ahead = np.cross(s, n)
        return d @ ahead / norm(ahead), -(d @ s) / norm(ahead)

    # Members.

    def length(self, m):
        return norm(self.at(m.points[0]) - self.at(m.points[1]))

    def turns_about(self, body):
        """A point and the unit direction of the axis on which a part turns: its own, or an upright's steering axis."""
        m, _ = self.follower(body)
        if body in self.axle.centre_arms:  # about the axis of its bar's first end
            m, _ = self.follower(self.axle.bars[(self.axle.centre_arms[body].spec["centre_arm"], None)].bodies[0])
        if m is None:
            return self.axis()
        a, b = (self.at(p) for p in m.points[:2])
        return a, (b - a) / norm(b - a)

    def lever(self, near, far):
        """At near, the angle between the rod to far and the line square to the axis of the part that near is on, and the angle
        between the rod's shadow along that axis and that line, whichever way along it is nearer."""
        seen = self
        if near[0][0] == "upright" and near[0][1] != self.side:
            seen = Shot(self.axle, self.whole, self.drive, near[0][1])
        a, k = seen.turns_about(near[0])
        arm = seen.at(near) - a
        arm = arm - (arm @ k) * k
        rod = seen.at(far) - seen.at(near)
        return np.arctan2(norm(np.cross(rod, -arm)), rod @ -arm), np.arctan2(abs(k @ np.cross(arm, rod)), abs(arm @ rod))

    def bend(self, m, body, axis):
        shaft = self.at(m.points[1]) - self.at(m.points[0])
        return np.arctan2(norm(np.cross(axis, shaft)), abs(axis @ shaft))

    def joint_angle_inner(self, m):
        f = self.axle
        d = np.array(m.spec.get("axis", f.turn @ np.array([0, 1, 0])), float) @ f.turn
        if m.side != f.drawn:
            d = d * MIRROR
        return self.bend(m, m.bodies[0], self.turned(m.bodies[0]) @ d * self.flip)

    def joint_angle_outer(self, m):
        return self.bend(m, m.bodies[1], self.spin)


class Pose:
    """A solved pose and its motion, seen from one side."""

    def __init__(self, axle, x, drive, way, rolls, rates, side, straight=None):
        self.axle, self.x, self.drive, self.way, self.side, self.rolls = axle, x, np.array(drive, float), np.array(way, float), side, rolls
        self.v, self.a = rates
        self.now = self.shot(0)
        self.ahead = self.shot(1j * H)
        self.straight = straight  # the pose at the same wheel travel with the rack centred
        self.rise = self.slope(Shot.travel)

    def shot(self, s):
        x = self.x + s * self.v + s * s / 2 * self.a
        drive = self.drive + s * self.way
        return Shot(self.axle, self.axle.points(x, drive), drive, self.side)

    def slope(self, f, s=0.0):
        """Derivative of a measure along the motion, at s further along."""
        shot = self.shot(s + 1j * H) if s else self.ahead
        return np.imag(f(shot)) / H

    def per_travel(self, f):
        return None if abs(self.rise) < STILL else self.slope(f) / self.rise

    def bent(self, f):
        """Derivative with wheel travel of the slope with wheel travel, by central differences of exact slopes."""
        if abs(self.rise) < STILL:
            return None
        h = 1e-3 if self.rolls else 0.5

        def ratio(s):
            return self.slope(f, s) / self.slope(Shot.travel, s)

        coarse, fine = (ratio(h) - ratio(-h)) / (2 * h), (ratio(h / 2) - ratio(-h / 2)) / h
        return (4 * fine - coarse) / 3 / self.rise

    def velocity(self, f):
        return np.imag(f(self.ahead)) / H

    @functools.cached_property
    def turning(self):
        """Angular velocity of what carries the wheel. A mirror reverses turns but not the axis that lies in it."""
        body = self.axle.wheel_body(self.side)
        w = (self.ahead.turned(body).imag / H) @ np.linalg.inv(self.now.turned(body).real)
        w = np.array([w[2, 1], w[0, 2], w[1, 0]])
        return w if self.side == "left" else -w * MIRROR

    @functools.cached_property
    def carried(self):
        """Velocity of the carrier's own point at the contact."""
        return self.velocity(lambda s: s.centre) + np.cross(self.turning, self.now.contact - self.now.centre)

    def anti(self, share, sign, carried):
        if abs(self.rise) < STILL:
            return None
        v = self.carried if carried else self.velocity(lambda s: s.centre)
        f = self.axle
        height = f.length(f.vehicle["centre_of_gravity"])
        return 100 * share * sign * v[0] / v[2] * f.length(f.vehicle["wheelbase"]) / height


def roll_centre(left, right):
    """Height and lateral place in ground axes, from the two sides of one pose."""
    if min(abs(left.rise), abs(right.rise)) < STILL or left.axle.beam and not left.rolls:
        return None, None
    rows = [(left.carried[1:], left.now.contact[1:]), (right.carried[1:] * (-1, 1), right.now.contact[1:] * (-1, 1))]
    q = np.linalg.solve([v for v, _ in rows], [v @ c for v, c in rows])
    c, d = rows[0][1], rows[1][1]
    across = (c - d) / norm(c - d)
    up = np.array([-across[1], across[0]])
    q = q - (c + d) / 2
    return q @ up, q @ across


def turning_circle(left, right):
    """Ackermann, per cent, and how far the outer contact is from the point that its wheel would roll about."""
    steer_left, steer_right = left.straight.toe() - left.now.toe(), right.now.toe() - right.straight.toe()
    inner, outer, far = (steer_left, steer_right, right) if steer_left > 0 else (-steer_right, -steer_left, left)
    if inner < NEAR_CENTRE or outer <= 0:
        return None, None
    between = 0
    for pose in (left, right):
        design = pose.now.design()
        low, k = design.axis()
        between += (low + k * (pose.axle.ground() - low[2]) / k[2])[1]
    wheelbase = left.axle.length(left.axle.vehicle["wheelbase"])
    ideal = np.arctan2(1, 1 / np.tan(inner) + between / wheelbase)
    ahead = far.now.contact[0] - far.now.design().contact[0]
    radius = finite((wheelbase + ahead) / np.sin(outer)) if outer >= NEAR_CENTRE else None
    return 100 * (inner - outer) / (inner - ideal), radius


def of_wheel(pose, other):
    """The measures of one wheel and of the axle as that wheel's side has them."""
    s, start, side = pose.now, pose.now.design(), pose.now.car_side
    deg, f = np.degrees, pose.axle
    still = abs(pose.rise) < STILL
    v = pose.velocity(lambda s: s.contact)
    left, right = (pose, other) if pose.side == "left" else (other, pose)
    height, lateral = roll_centre(left, right)
    out = {
        "wheel_travel_mm": (PLACE, s.travel()),
        "camber_deg": (ANGLE, deg(s.camber())), "camber_to_ground_deg": (ANGLE, deg(s.camber_to_ground())), "toe_deg": (ANGLE, deg(s.toe())),
        "steer_angle_deg": (ANGLE, deg(s.steer())),
        "contact_x_mm": (PLACE, s.contact[0]), "contact_y_mm": (PLACE, side * s.contact[1]), "contact_z_mm": (PLACE, s.contact[2]),
        "half_track_change_mm": (PLACE, s.contact[1] - start.contact[1]), "contact_x_change_mm": (PLACE, s.contact[0] - start.contact[0]),
        "camber_gain_deg_per_mm": (RATE, pose.per_travel(lambda s: deg(1) * s.camber())), "bump_steer_deg_per_mm": (RATE, pose.per_travel(lambda s: deg(1) * s.toe())),
        "contact_path_y": (RATE, None if still else v[1] / v[2]), "contact_path_x": (RATE, None if still else v[0] / v[2]),
        "front_view_swing_arm_mm": (FAR_PLACE, None if still else finite(pose.carried[2] / pose.turning[0])),
        "side_view_swing_arm_mm": (FAR_PLACE, None if still else finite(pose.carried[2] / pose.turning[1])),
        "roll_centre_height_mm": (FAR_PLACE, finite(height)), "roll_centre_lateral_mm": (FAR_PLACE, finite(lateral)),
        "roll_camber_deg_per_deg": (RATE, pose.slope(Shot.camber_to_ground) if pose.rolls else None),
        "roll_steer_deg_per_deg": (RATE, pose.slope(Shot.steer) if pose.rolls else None),
    }
    if s.joints:
        trail, offset = s.from_axis(s.contact)
        hub_trail, hub_offset = s.from_axis(s.centre)
        out |= {
            "caster_deg": (ANGLE, deg(s.caster())), "kingpin_inclination_deg": (ANGLE, deg(s.kingpin_inclination())),
            "caster_trail_mm": (PLACE, trail), "kingpin_offset_mm": (PLACE, offset), "hub_trail_mm": (PLACE, hub_trail), "hub_offset_mm": (PLACE, hub_offset),
            "caster_gain_deg_per_mm": (RATE, pose.per_travel(lambda s: deg(1) * s.caster())),
        }
        if "wheelbase" in f.vehicle:
            ackermann, radius = turning_circle(left, right)
            out |= {"ackermann_percent": (FAR_PLACE, ackermann), "turn_radius_mm": (FAR_PLACE, radius)}
    return out | antis(pose, other)


def antis(pose, other):
    """Of a beam where both wheels travel alike, as they do in pitch."""
    f, v = pose.axle, pose.axle.vehicle
    if "wheelbase" not in v or "centre_of_gravity" not in v:
        return {}
    live, outboard = v.get("differential", "frame") == "axle", v.get("brakes", "outboard") == "outboard"
    names = {"front": ("anti_dive", "anti_lift_drive", 1), "rear": ("anti_lift_brake", "anti_squat", -1)}
    brake, drive, sign = names[v.get("axle", "front")]
    out, alike = {}, not f.beam or not pose.rolls and abs(pose.rise - other.rise) < STILL
    if f.share("brake_share") > 0:
        out[brake + "_percent"] = (FAR_PLACE, pose.anti(f.share("brake_share"), sign, outboard) if alike else None)
    if f.share("drive_share") > 0:
        out[drive + "_percent"] = (FAR_PLACE, pose.anti(f.share("drive_share"), sign, live) if alike else None)
    return out


def turned_by_rods(axle):
    """Which rod turns which rocker or upright on its kingpin: in rounds, from what stands or is closed already, first of all
    from the rack and what it turns."""
    waiting = {b for m in axle.members for b in [m.bodies[1] if m.kind == "kingpin" else m.body] if m.kind in ("kingpin", "rocker")}
    out, racked = {}, {("rack", None)}
    rods = [(m, *ends) for m in axle.members if m.kind == "link" and not m.spec.get("soft") for ends in (m.bodies, m.bodies[::-1])]
    for from_rack in (True, False):
        found = True
        while found:
            found = False
            for m, near, far in rods:
                if far in waiting and (near in racked if from_rack else near not in waiting):
                    out[far], found = m, True
                    waiting.discard(far)
                    if near in racked:
                        racked.add(far)
    return out


def levers(shot, m):
    """The ends of a rod, damper or spring that work on what turns, and the one at which lever_angle is taken."""
    f, turned = shot.axle, turned_by_rods(shot.axle)
    holds = m.kind == "link" and not m.spec.get("soft") and m not in turned.values()
    ends, steers = [], []
    for body, point in zip(m.bodies, m.points):
        of, _ = shot.follower(body)
        turns = body in f.centre_arms or of is not None and not (holds and of.kind in ("arm", "h_arm"))
        joints = Shot(f, shot.whole, shot.drive, body[1]).joints if holds and of is None and body[0] == "upright" else None
        ends.append(turns)
        steers.append(joints is not None and f.index[point] not in [f.index[p] for p in joints])
    near = 1 if ends[1] and (not ends[0] or turned.get(m.bodies[1]) is m) else 0 if ends[0] else steers.index(True) if any(steers) else None
    return [k for k in (0, 1) if ends[k] or steers[k]], near


def of_member(pose, m):
    """The measures of a member, by the names of their columns."""
    s, deg = pose.now, np.degrees(1)
    out = {}
    if m.kind in ("damper", "spring", "strut", "distance"):
        out["length_mm"] = (PLACE, s.length(m))
        ends = {k: s.axle.length(v) for k, v in m.spec.get("length", {}).items()}
        for key, name, way in (("min", "closing_left", 1), ("max", "opening_left", -1), ("stop", "stop_crush", -1), ("solid", "solid_left", 1)):
            if key in ends:
                out[f"{name}_mm"] = (PLACE, way * (s.length(m) - ends[key]))
    if m.kind in ("damper", "spring", "strut"):
        rate, bend = pose.per_travel(lambda s: s.length(m)), pose.bent(lambda s: s.length(m))
        out["installation_ratio"] = (RATE, None if rate is None else -rate)
        out["progression_per_mm"] = (RATE, None if bend is None else -bend)
    if m.kind in ("arm", "h_arm", "rocker", "kingpin", "centre_arm"):
        out["angle_deg"] = (ANGLE, deg * s.angle(m))
    if m.kind in ("link", "damper", "spring"):
        on, chosen = levers(s, m)
        for k, word in [(chosen, "")] * (chosen is not None) + [(0, "_first"), (1, "_second")] * (len(on) == 2):
            lever, dead = s.lever(m.points[k], m.points[1 - k])
            out |= {f"lever_angle{word}_deg": (ANGLE, deg * lever), f"dead_centre{word}_deg": (ANGLE, deg * dead)}
    if m.kind == "link" and m.spec.get("soft"):
        out["bind_mm"] = (PLACE, s.length(m) - s.design().length(m))
    if m.kind == "torsion_bar":
        out["twist_deg"] = (ANGLE, deg * s.twist(m))
    if m.kind == "shaft":
        out["plunge_mm"] = (PLACE, s.length(m) - s.design().length(m))
        out["joint_angle_inner_deg"] = (ANGLE, deg * s.joint_angle_inner(m))
        out["joint_angle_outer_deg"] = (ANGLE, deg * s.joint_angle_outer(m))
    return {f"{m.name}_{name}": value for name, value in out.items()}
