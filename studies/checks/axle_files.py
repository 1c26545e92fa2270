"""Geometry files, solved by axles.py and compared with `trammel cycle`: both wheels, through heave, steer, body roll and one wheel's bump."""

import json
import re
import subprocess

import numpy as np

from axle_measures import ANGLE, OF_MEMBERS, PLACE, Pose, Shot, of_member, of_wheel
from axle_solids import Car, add_rooms, find_axes, of_room
from axles import SIDES, Axle

KEYS = ("motion", "wheel_travel_mm", "rack_travel_mm", "body_roll_deg")
SUFFIX = re.compile("(_deg_per_mm|_deg_per_deg|_per_mm|_percent|_mm|_deg)$")
AXLE = ("ackermann", "turn_radius", "roll_centre_height", "roll_centre_lateral")  # of both wheels together: no side stands before them
STANDARD = {"bump": "40", "droop": "40"}  # mm, where a file gives no travel


def motions(f, reach):
    """What to cycle through, as far as reach times the file's wheel travel: wheel travel (where the body rolls, the ground's), rack
    travel, roll in deg, which wheels."""
    t = {k: round(f.length(v) / f.unit, 4) for k, v in f.file.get("travel", STANDARD).items()}
    places = 3 if f.unit == 1 else 4  # of the lattice
    down, up = round(-reach * t["droop"], places), round(reach * t["bump"], places)
    out = [(spread(down, up, 9), [0.0], None, SIDES), (spread(down, up, 5), [0.0], None, SIDES[:1]), (spread(down, up, 3), [0.0], None, SIDES[1:]),
           ([0.0], [0.0], spread(-4, 4, 5), SIDES), ([round(t["bump"] / 2, places)], [0.0], spread(-2.5, 2, 3), SIDES)]
    if "rack" in t:
        rack = round(min(reach, 1) * t["rack"], places)
        out += [(spread(down, up, 3), spread(-rack, rack, 5), None, SIDES), ([0.0], [round(rack / 2, places)], spread(-3, 3, 2), SIDES)]
    return out


def spread(first, last, n):
    """n values as `trammel cycle` spreads them, by whole parts."""
    return [(first * (n - 1 - i) + last * i) / (n - 1) for i in range(n)]


def listed(values):
    return f"{values[0]}..{values[-1]}:{len(values)}" if len(values) > 1 else str(values[0])


def cycle(trammel, path, options, measures):
    done = subprocess.run([trammel, "cycle", str(path), *options, "--measures", measures, "--format", "json"], capture_output=True, text=True)
    if done.returncode != 0:
        raise ValueError(f"trammel ended with {done.returncode}: {done.stderr.strip()}")
    return json.loads(done.stdout)["rows"]


def solve(f, places, wheels, rolls):
    """The coordinates at every place (wheel, rack, roll), and at the same wheel travel with the rack centred."""

    def drive(z, rack, roll):
        return (0, 0, rack, roll, z) if rolls else (z * ("left" in wheels), z * ("right" in wheels), rack, 0, 0)

    design = (0.0, 0.0, 0.0)
    known = {design: f.solve(f.start(), drive(*design), True) if rolls else f.start()}

    def pose(place):
        """Reached by the wheel's travel, then by roll, then by the rack, from the nearest known place on that way."""
        if place not in known:
            z, rack, roll = place
            near, axis = ((z, 0.0, roll), 1) if rack else ((z, 0.0, 0.0), 2) if roll else (design, 0)
            for other in known:
                same = all(other[i] == place[i] for i in range(3) if i != axis)
                if same and abs(place[axis] - other[axis]) < abs(place[axis] - near[axis]):
                    near = other
            known[place] = f.go(pose(near), drive(*near), drive(*place), rolls)
        return known[place]

    return [((drive(z, r, a), pose((z, r, a))), (drive(z, 0.0, a), pose((z, 0.0, a)))) for z, r, a in places]


def asked(columns, members):
    """The names, as in a study, of the columns that each side has, NAME or MEMBER.NAME, and of those that exist once."""
    mine, once = [], []
    for c in columns:
        name = SUFFIX.sub("", c)
        side = name not in AXLE
        for m in members:
            if name.startswith(m.name + "_") and name[len(m.name) + 1 :] in OF_MEMBERS:
                name, side = f"{m.name}.{name[len(m.name) + 1 :]}", m.side
        (mine if side else once).append(name)
    return mine, once


def compare(f, title, rows, motion, report):
    """Compares the rows of a motion, in the order in which `trammel cycle` lists a grid."""
    wheel, rack, roll, wheels = motion
    rolls = roll is not None
    way = (0, 0, 0, 1, 0) if rolls else ("left" in wheels, "right" in wheels, 0, 0, 0)
    places = [(f.unit * z, f.unit * r, np.radians(a)) for z in wheel for r in rack for a in roll or [0.0]]
    if len(rows) != len(places):
        report.fault(f"{title}: the table has {len(rows)} rows for {len(places)} places")
        return
    for row, place, ((drive, x), (centred, y)) in zip(rows, places, solve(f, places, wheels, rolls)):
        rates = f.rates(x, drive, way, rolls)
        poses = []
        for side in SIDES if f.drawn == "left" else SIDES[::-1]:
            straight = Shot(f, f.points(y, np.array(centred, float)), np.array(centred, float), side)
            poses.append(Pose(f, x, drive, way, rolls, rates, side, straight))
        own = poses[0]
        car, want = Car({p.side: p.now for p in poses}), {}
        for pose in poses:
            here = of_wheel(pose, poses[pose is own])
            for m in f.members:
                if m.side == pose.side:
                    here |= of_member(pose, m) | of_room(car, m)
            want |= here if pose is own else {f"{pose.side}_{k}": v for k, v in here.items() if SUFFIX.sub("", k) not in AXLE}
        for m in f.members:
            if m.side is None:
                want |= of_member(own, m) | of_room(car, m)
        left, right = (p.now for p in sorted(poses, key=lambda p: p.side))
        want["right_toe_minus_left_toe_deg"] = (ANGLE, np.degrees(right.toe() - left.toe()))
        want["rack_travel_mm"], want["body_roll_deg"] = (PLACE, drive[2]), (ANGLE, np.degrees(drive[3]))
        got = {k: v for k, v in row.items() if k != "motion"}
        if not rolls:
            got.setdefault("body_roll_deg", 0.0)
        got.setdefault("rack_travel_mm", 0.0)
        if set(got) != set(want):
            report.fault(f"{title}: the table has {sorted(set(got) ^ set(want))} where this check has not, or the other way round")
            return
        where = f"{title}, wheel {place[0]:g}, rack {place[1]:g}"
        for name, (kind, value) in want.items():
            report.compare(where, name, kind, None if value is None else float(np.real(value)), got[name])


CROSS = re.compile(r"at full droop \(body_roll to \+(\S+) deg and as far the other way, wheel_travel (\S+) (?:mm|in)\)")


def own_poses(f, trammel, path):
    """The poses over which axes are found: heave and steer over the file's own travel, both at once, and, where `trammel check` says how
    far the body leans for it, one wheel at full bump with the other at full droop. None where no joint asks for an axis, or where the axle does
    not close on the way."""
    if all(m.axes[0] is not None for m in f.members if m.kind == "joint"):
        return []
    t = {k: f.length(v) / f.unit for k, v in f.file["travel"].items()}
    wheel, rack = (-t["droop"], t["bump"]), (-t.get("rack", 0), t.get("rack", 0))
    places = [(f.unit * z, 0.0, 0.0) for z in spread(*wheel, 41)]
    if "rack" in t:
        places += [(0.0, f.unit * r, 0.0) for r in spread(*rack, 21)]
        places += [(f.unit * z, f.unit * r, 0.0) for z in spread(*wheel, 5) for r in spread(*rack, 5)]
    says = subprocess.run([trammel, "check", str(path)], capture_output=True, text=True).stdout
    leaning = [(f.unit * float(z), 0.0, np.radians(a)) for lean, z in CROSS.findall(says) for a in spread(-float(lean), float(lean), 9)]
    try:
        poses = [pose for pose, _ in solve(f, places, SIDES, False)] + [pose for pose, _ in solve(f, leaning, SIDES, True)]
    except ValueError:
        return []
    return [Car({side: Shot(f, f.points(x, np.array(drive, float)), np.array(drive, float), side) for side in SIDES}) for drive, x in poses]


def check_files(trammel, folder, reach, report):
    """Compares every geometry file of a folder; returns how many there were."""
    number = 0
    for path in sorted(folder.glob("*.yaml")):
        if not re.search("(?m)^points:", path.read_text()):
            continue  # a study
        number += 1
        try:
            f = Axle(path)
            add_rooms(f)
            find_axes(f, own_poses(f, trammel, path))
            columns = [c for c in cycle(trammel, path, ["--travel=0"], "all")[0] if c not in KEYS]
            mine, once = asked(columns, f.members)
            other = SIDES[1 - SIDES.index(f.drawn)]
            names = mine + once + [f"{other}.{n}" for n in ["wheel_travel", *mine]] + ["right.toe - left.toe"]
            for motion in motions(f, reach):
                wheel, rack, roll, wheels = motion
                options = [f"--travel={listed(wheel)}"]
                options += [f"--rack={listed(rack)}"] if rack != [0.0] else []  # a rear axle has no rack to move
                options += [f"--roll={listed(roll)}"] if roll else []
                options += [f"--wheels={wheels[0]}"] if len(wheels) == 1 else []
                rows = cycle(trammel, path, options, ",".join(names))
                compare(f, f"{path.name} {' '.join(options)}", rows, motion, report)
        except (ValueError, np.linalg.LinAlgError) as e:
            report.fault(f"{path.name}: {e}")
    if number < 10:
        report.fault(f"{folder} has {number} geometry files, not 10")
    return number
