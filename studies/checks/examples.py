"""Every built-in geometry file, solved by axles.py and compared with `trammel cycle`: both wheels, through heave beyond its own
travel, steer, body roll and one wheel's bump."""

import json
import re
import subprocess

import numpy as np

from axle_measures import ANGLE, Pose, Shot, of_member, of_wheel
from axles import SIDES, Axle

KEYS = ("motion", "wheel_travel_mm", "rack_travel_mm", "body_roll_deg")
SUFFIX = re.compile("(_deg_per_mm|_deg_per_deg|_per_mm|_percent|_mm|_deg)$")
BEYOND = 1.2  # times the travel of the file


def motions(f):
    """Options of `trammel cycle`, with which wheels move and whether the body rolls."""
    t = {k: float(v) for k, v in f.file["travel"].items()}
    bump, droop, rack = BEYOND * t["bump"], -BEYOND * t["droop"], t.get("rack", 0)
    wheel = f"--travel={droop}..{bump}"
    out = [([wheel + ":9"], SIDES, False), ([wheel + ":5", "--wheels=left"], SIDES[:1], False), ([wheel + ":3", "--wheels=right"], SIDES[1:], False),
           (["--roll=-4..4:5"], SIDES, True), ([f"--travel={t['bump'] / 2}", "--roll=-2.5..2:3"], SIDES, True)]
    if rack:
        out += [([wheel + ":3", f"--rack={-rack}..{rack}:5"], SIDES, False), ([f"--rack={rack / 2}", "--roll=-3..3:2"], SIDES, True)]
    return out


def cycle(trammel, path, options, measures):
    done = subprocess.run([trammel, "cycle", str(path), *options, "--measures", measures, "--format", "json"], capture_output=True, text=True)
    if done.returncode != 0:
        raise ValueError(f"trammel ended with {done.returncode}: {done.stderr.strip()}")
    return json.loads(done.stdout)["rows"]


def drive_of(row, wheels):
    """Where the drivers are in a row, and how they move along its motion."""
    z, rack, roll = (row.get(k) or 0.0 for k in KEYS[1:])
    return z, rack, np.radians(roll), ("left" in wheels, "right" in wheels)


def solve(f, rows, wheels, rolls):
    """The coordinates in every row, and at the same wheel travel with the rack centred."""
    known = {(0.0, 0.0, 0.0): f.start()}

    def drive(z, rack, roll):
        return (0, 0, rack, roll, z) if rolls else (z * ("left" in wheels), z * ("right" in wheels), rack, 0, 0)

    def pose(key):
        """Reached along the wheel's travel, then roll, then the rack, from the nearest pose known on that way."""
        if key in known:
            return known[key]
        z, rack, roll = key
        near = (z, 0.0, roll) if rack else (z, 0.0, 0.0) if roll else (0.0, 0.0, 0.0)
        axis = 1 if rack else 2 if roll else 0
        for other in known:
            rest = [other[i] == key[i] for i in range(3) if i != axis]
            if all(rest) and abs(key[axis] - other[axis]) < abs(key[axis] - near[axis]):
                near = other
        known[key] = f.go(pose(near), drive(*near), drive(*key), rolls)
        return known[key]

    if rolls:
        known[0.0, 0.0, 0.0] = f.solve(f.start(), drive(0, 0, 0), True)
    out = []
    for row in rows:
        z, rack, roll, _ = drive_of(row, wheels)
        out.append((drive(z, rack, roll), pose((z, rack, roll)), drive(z, 0.0, roll), pose((z, 0.0, roll))))
    return out


def asked(columns, members):
    """The names, as in a study, of the columns of one side: NAME or MEMBER.NAME; and of those that exist once."""
    mine, once = [], []
    for c in columns:
        name, member = SUFFIX.sub("", c), None
        for m in members:
            if name.startswith(m.name + "_"):
                member = m if member is None or len(m.name) > len(member.name) else member
        if member:
            name = member.name + "." + name[len(member.name) + 1 :]
        (once if member and member.side is None else mine).append(name)
    return mine, once


def compare(f, title, rows, wheels, rolls, report):
    way = (0, 0, 0, 1, 0) if rolls else ("left" in wheels, "right" in wheels, 0, 0, 0)
    for row, (drive, x, centred, y) in zip(rows, solve(f, rows, wheels, rolls)):
        rates = f.rates(x, drive, way, rolls)
        straight = Shot(f, f.points(y, np.array(centred, float)), np.array(centred, float), "left")
        poses = [Pose(f, x, drive, way, rolls, rates, s, Shot(f, straight.whole, straight.drive, s)) for s in SIDES]
        if f.drawn == "right":
            poses.reverse()
        own = poses[0]
        want = {}
        for pose in poses:
            here = of_wheel(pose, poses[pose is own])
            for m in f.members:
                if m.side == pose.side:
                    here |= of_member(pose, m)
            want |= here if pose is own else {f"{pose.side}_{k}": v for k, v in here.items()}
        for m in f.members:
            if m.side is None:
                want |= of_member(own, m)
        left, right = (p.now for p in sorted(poses, key=lambda p: p.side))
        want["right_toe_minus_left_toe_deg"] = (ANGLE, np.degrees(right.toe() - left.toe()))
        got = {k: v for k, v in row.items() if k not in KEYS}
        if set(got) != set(want):
            report.fault(f"{title}: the table has {sorted(set(got) ^ set(want))} where this check has not, or the other way round")
            return
        where = f"{title}, wheel {row['wheel_travel_mm']:g}, rack {row['rack_travel_mm']:g}, roll {row.get('body_roll_deg') or 0:g}"
        for name, (kind, value) in want.items():
            report.compare(where, name, kind, None if value is None else float(np.real(value)), got[name])


def check_examples(trammel, folder, report):
    """Compares every geometry file of a folder; returns how many there were."""
    number = 0
    for path in sorted(folder.glob("*.yaml")):
        f = None
        if not re.search("(?m)^points:", path.read_text()):
            continue  # a study
        number += 1
        try:
            f = Axle(path)
            columns = [c for c in cycle(trammel, path, ["--travel=0"], "all")[0] if c not in KEYS]
            mine, once = asked(columns, f.members)
            other = SIDES[1 - SIDES.index(f.drawn)]
            names = mine + once + [f"{other}.{n}" for n in mine] + ["right.toe - left.toe"]
            for options, wheels, rolls in motions(f):
                rows = cycle(trammel, path, options, ",".join(names))
                compare(f, f"{path.name}, {' '.join(options)}", rows, wheels, rolls, report)
        except (ValueError, np.linalg.LinAlgError) as e:
            report.fault(f"{path.name}: {e}")
    return number
