"""The room that the parts of an axle take, and its joints: read anew from a geometry file's text, placed by the poses that axles.py has solved, and
measured with Coal or by rows of points, as gaps.py has it."""

import itertools

import numpy as np
from scipy.spatial import ConvexHull

from axle_measures import ANGLE, Kind
from axles import MIRROR, SIDES, Member, norm
from gaps import Solid, dips, overlap, reference

ROUND = ("capsule", "ball")
WHEEL = ("tyre", "rim")
GAP = Kind("gaps between solids of axles, mm", 1e-5, 0)
DEPTH = Kind("depths of edges in rings of axles, as part of them", 0, 1)  # other depths count there too
FOUND = Kind("tilts from axes that are found, deg", 1e-6, 0)


class Room:
    """A solid of the file on a side (None: it exists once): how it is drawn, and its points as (body, side, name)."""

    def __init__(self, name, shape, side, points, spec):
        self.name, self.shape, self.side, self.points, self.spec = name, shape, side, points, spec


def named(name):
    """The side before a name, or None, and the name."""
    return tuple(name.split(".")) if "." in name else (None, name)


def add_rooms(f):
    """Reads solids, clearances and joints of an axle; clearances and joints become members of it, with measures of their own."""
    f.rooms = {}

    def room(name, shape, side, points, spec):
        f.rooms[name, side] = Room(name, shape, side, points, spec)

    for m in f.members:
        if "tube" in m.spec:
            order = {"arm": (0, 2, 1), "h_arm": (0, 2, 3, 1)}.get(m.kind, (0, 1))
            tube = m.spec["tube"]
            if isinstance(tube, dict) and "from" in tube and named(tube["from"])[1] == m.points[1][2] and named(tube["from"])[0] in (None, m.points[1][1]):
                order = (1, 0)
            room(m.name, "tube", m.side, [m.points[k] for k in order], tube if isinstance(tube, dict) else {"diameter": tube})
    for name, spec in (f.file.get("solids") or {}).items():
        shape = next(k for k in ("tube", "box", "cylinder", "ball") if k in spec)
        points = [spec[shape]] if isinstance(spec[shape], str) else spec[shape]
        on = spec.get("on", "frame")
        once = spec.get("once") == "true" or on in (f.file.get("across") or {})
        for side in [None] if once else SIDES:
            body = f.body(on, side)
            room(name, "tube" if shape == "ball" else shape, side, [f.point(p, side, body) for p in points], spec)
    for name in WHEEL:
        if name in f.file["wheel"]:
            for side in SIDES:
                room(name, "hoop", side, [], f.file["wheel"][name])
    room("ground", "ground", None, [], {})
    for name, spec in (f.file.get("clearances") or {}).items():
        add_clearance(f, name, spec)
    for name, spec in (f.file.get("joints") or {}).items():
        add_joint(f, name, spec)


def occupants(f, names):
    """Solids of a list as (side or None, name)."""
    out = []
    for full in [names] if isinstance(names, str) else names:
        side, name = named(full)
        for one in (f.file.get("groups") or {}).get(name, [name]):
            own, bare = named(one)
            out.append((own or (None if (bare, None) in f.rooms else side), bare))
    return out


def add_clearance(f, name, spec):
    lots = [occupants(f, names) for names in spec["between"]]
    everything = [(side, s) for lot in lots for side, s in lot]
    once = any(side for side, _ in everything) or all((s, None) in f.rooms for _, s in everything)

    def lot(names, side):
        out = []
        for own, s in names:
            sides = [None] if (s, None) in f.rooms else [own] if own else [side] if side else SIDES
            out += [f.rooms[s, k] for k in sides]
        return out

    for side in [None] if once else SIDES:
        m = Member(name, "clearance", side, [], [], spec)
        m.lots = [lot(names, side) for names in lots]
        f.members.append(m)


def add_joint(f, name, spec):
    rods = {m.name: m for m in f.members if m.kind in ("link", "damper", "spring", "strut")}
    # A rod, as an eye, or as bolt or housing of a spherical bearing; then the axis of the other side counts.
    key = next((k for k in ("rod_end", "bolt", "housing") if spec.get(k) in rods), None)
    if key:
        once = rods[spec[key]].side is None
    else:
        own, bare = named(spec["spherical"])
        once = own is not None or not any(m.side and any(p[2] == bare for p in m.points) for m in f.members)
    for side in [None] if once else SIDES:
        m = Member(name, "joint", side, [], [], spec)
        m.square = key == "rod_end"
        if key:
            rod = next(r for r in f.members if r.name == spec[key] and r.side == side and r.kind in ("link", "damper", "spring", "strut"))
            own, bare = named(spec["at" if m.square else "spherical"])
            k = next(k for k in (0, 1) if rod.points[k][2] == bare and own in (None, rod.points[k][1]))
            m.points, m.bodies = [rod.points[k], rod.points[1 - k]], [rod.bodies[k]]
            m.axes = [direction(f, spec.get("housing_axis" if key == "bolt" else "bolt_axis", "auto"), side)]
        else:
            m.bodies = [f.body(spec[k], side) for k in ("housing", "bolt")]
            m.axes = [direction(f, spec.get(k, "auto"), side) for k in ("housing_axis", "bolt_axis")]
        f.members.append(m)


def direction(f, text, side):
    """A direction of the file in the car's axes, mirrored on the side that is not drawn; None for one that is to be found."""
    if text == "auto":
        return None
    d = np.array(text, float) @ f.turn
    d = d / norm(d)
    return d * MIRROR if side not in (None, f.drawn) else d


class Car:
    """All places of a pose in the car's own coordinates."""

    def __init__(self, shots):
        self.shots = shots  # by side
        self.any = shots["left"]
        self.f = self.any.axle

    def turned(self, body):
        """The rotation of a body from design; a centre arm turns about the axis of its bar's first end."""
        if body not in self.f.centre_arms:
            return np.real(self.any.turned(body))
        m = self.f.centre_arms[body]
        end, _ = self.any.follower(self.f.bars[(m.spec["centre_arm"], None)].bodies[0])
        a, b = (self.f.place[p[1:]] for p in end.points[:2])
        x, y, z = (b - a) / norm(b - a)
        t = self.any.middle(m)
        k = np.array([[0, -z, y], [z, 0, -x], [-y, x, 0]])
        return np.eye(3) + np.sin(t) * k + (1 - np.cos(t)) * k @ k

    def at(self, point):
        """The place of any point of any body, whether or not a member holds it."""
        f, (body, *rest) = self.f, point
        design = f.place[tuple(rest)]
        if body == ("frame", None):
            return design
        if body == ("rack", None):
            return design + self.any.drive[2] * f.rack_axis
        if body in f.centre_arms:
            return np.real(self.any.on_centre_arm(point))
        anchor = f.parts[body][0]
        return self.any.whole[anchor].real + self.turned(body) @ (design - f.design[anchor])

    def wheel(self, side):
        s = self.shots[side]
        return np.real(s.centre * s.flip), np.real(s.spin * s.flip)

    def ground(self):
        """The plane along the car through both contact centres."""
        left, right = (np.real(self.shots[k].contact * self.shots[k].flip) for k in SIDES)
        up = np.cross([1.0, 0, 0], left - right)
        up = up / norm(up)
        return Solid("half-space", along(up), left)


def along(z):
    """A rotation whose last column is along z."""
    z = z / norm(z)
    x = np.cross(np.eye(3)[abs(z).argmin()], z)
    x = x / norm(x)
    return np.column_stack([x, np.cross(z, x), z])


def tube(p, q, radius):
    d = q - p
    l = norm(d)
    return Solid("capsule", along(d), (p + q) / 2, l / 2, radius) if l > 0 else Solid("ball", np.eye(3), p, 0.0, radius)


def radius(f, room):
    return f.length(room.spec["diameter"]) / 2 if "diameter" in room.spec else 0.0


def pieces(car, room, other, leave):
    """The solids of gaps.py that a room is made of. Tubes that share a point with the other begin so far from it."""
    f, spec = car.f, room.spec
    if room.shape == "ground":
        return [car.ground()]
    if room.shape == "hoop":
        centre, spin = car.wheel(room.side)
        rim = f.file["wheel"]["rim"]
        barrel = f.length(rim["diameter"]) / 2
        inner = barrel - f.length(rim["wall"]) if room.name == "rim" else barrel
        return [Solid.hoop(along(spin), centre, f.length(spec["width"]) / 2, f.length(spec["diameter"]) / 2, inner, f.length(spec.get("round", "0")))]
    at = [car.at(p) for p in room.points]
    if room.shape == "box":
        turn = car.turned(room.points[0][0])
        return [Solid("box", turn, (at[0] + at[1]) / 2, abs(turn.T @ (at[1] - at[0])) / 2)]
    if room.shape == "cylinder":
        d = at[1] - at[0]
        return [Solid.hoop(along(d), (at[0] + at[1]) / 2, norm(d) / 2, radius(f, room), f.length(spec.get("hole", "0")) / 2, 0.0)]
    both = other.shape == "tube"
    shared = [both and any(p[1:] == q[1:] for q in other.points) for p in room.points]
    if len(at) == 1:
        return [tube(at[0], at[0], radius(f, room))]
    out = []
    for k in range(len(at) - 1):
        total = norm(at[k + 1] - at[k])
        low, high = shared[k] * leave, total - shared[k + 1] * leave
        if "length" not in spec:
            legs = [(low, high, radius(f, room))]
        else:
            body = f.length(spec["length"])
            legs = [(min(low, body), body, radius(f, room))]
            if "rod" in spec:
                legs.append((body, high, f.length(spec["rod"]) / 2))
        for low, high, r in legs:
            if low > high:  # more is left out than there is
                low = high = (low + high) / 2 if shared[k + 1] else total
                low = high = 0.0 if not shared[k] and shared[k + 1] else low
            u = (at[k + 1] - at[k]) / total
            out.append(tube(at[k] + low * u, at[k] + high * u, r))
    return out


def signed(a, b):
    """The signed gap of two solids, and whether it is the depth of an edge in a ring, for which others count too."""
    if a.kind in ROUND or b.kind in ROUND:
        core, other = (a, b) if a.kind in ROUND else (b, a)
        if other.kind in ("cylinder", "ring"):
            return dips(core.edges(), other).min() - core.soft, False
        d, way = reference(a, b, None)
        if way == "depth" and d is not None:
            d = d[0]
        if other.kind in ROUND:
            # Where the cores cross, the gap is both radii.
            return (-a.soft - b.soft if d is None else d), False
        return d, False
    if {a.kind, b.kind} <= {"cylinder", "ring"}:
        d = overlap(a, b)  # looked for first, for to and fro takes long
        if d is not None:
            return d[0], True
    d, way = reference(a, b, None)
    if way == "depth":
        return (None if d is None else d[0]), True
    return d, False


def clearance(car, m):
    """The least gap of a clearance, and whether it is a depth as above."""
    f = car.f
    best, loose = np.inf, False
    for one in m.lots[0]:
        for two in m.lots[1]:
            leave = f.length(m.spec["joint"]) if "joint" in m.spec else 2 * (radius(f, one) + radius(f, two))
            for a in pieces(car, one, two, leave):
                for b in pieces(car, two, one, leave):
                    if "half-space" not in (a.kind, b.kind) and norm(a.middle - b.middle) - a.reach() - b.reach() > best:
                        continue
                    d, deep = signed(a, b)
                    if d is None:
                        continue
                    if d < best:
                        best, loose = d, deep
    return best, loose


def seen(car, m):
    """What tilts in a joint, as the body that holds it sees it; outward for y on either side."""
    turn = car.turned(m.bodies[0]).T
    if len(m.axes) == 1:
        line = car.at(m.points[1]) - car.at(m.points[0])
        line = turn @ line / norm(line)
    else:
        line = turn @ car.turned(m.bodies[1]) @ m.axes[1]
    return line * (MIRROR if m.side == "right" else 1)


def tilt(axis, line, square):
    return np.arcsin(np.minimum(abs(line @ axis) if square else norm(np.cross(axis, line)), 1))


def find_axes(f, cars):
    """Gives each joint whose axis is to be found the one that leaves the least tilt over the poses of cars, on both sides; None without poses."""
    for name in {m.name for m in f.members if m.kind == "joint" and m.axes[0] is None}:
        sides = [m for m in f.members if m.kind == "joint" and m.name == name]
        axis = least(np.array([seen(car, m) for car in cars for m in sides]), sides[0].square) if cars else None
        for m in sides:
            m.found = axis


def least(lines, square):
    """The axis whose greatest tilt against lines is least. It has the same tilt against three of them, or against two whose middle it is; all of
    those that lie outermost, seen along the lines, are tried."""
    to = lines.mean(axis=0)
    flat = (lines @ along(to)[:, :2]) / (lines @ to)[:, None]
    lines = lines[ConvexHull(flat, qhull_options="QJ").vertices]
    u, v, w = lines[np.array(list(itertools.combinations(range(len(lines)), 3))).T]
    tries = [np.cross(a * v - u, b * w - u) for a, b in itertools.product((1, -1) if square else (1,), repeat=2)]
    if not square:
        u, v = lines[np.array(list(itertools.combinations(range(len(lines)), 2))).T]
        tries.append(u + v)
    tries = np.concatenate(tries)
    tries = tries[norm(tries) > 1e-12]
    tries = tries / norm(tries)[:, None]
    along_them = abs(tries @ lines.T)
    worst = along_them.max(axis=1) if square else -along_them.min(axis=1)
    return tries[worst.argmin()]


def of_room(car, m):
    """The measures of a clearance or joint, by the names of their columns."""
    if m.kind == "clearance":
        gap, deep = clearance(car, m)
        return {f"{m.name}_clearance_mm": (DEPTH if deep else GAP, gap)}
    if m.kind != "joint":
        return {}
    line, axis = seen(car, m), m.axes[0]
    out = {f"{m.name}_axis_{k}": (ANGLE, x) for k, x in zip("xyz", line)}
    if axis is None:
        value = FOUND, None if m.found is None else np.degrees(tilt(m.found, line, m.square))
    else:
        value = ANGLE, np.degrees(tilt(axis * (MIRROR if m.side == "right" else 1), line, m.square))
    return out | {f"{m.name}_tilt_deg": value}
