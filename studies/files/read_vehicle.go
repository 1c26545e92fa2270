package files

import (
	"math"

	"trammel/kin"
)

// walkRack reads the direction in which the rack moves, and how far it goes.
func (g *draft) walkRack(f field) {
	m, ok := g.w.mapping(f, rackKeys)
	if !ok {
		return
	}
	if len(f.node.Content) == 0 {
		g.w.bad(f, "has neither axis nor travel; write one of them, or take the key out")
	}
	if c, given := m["travel"]; given {
		g.RackTravel, _ = g.w.positive(c, false)
		g.needsRack(c)
	}
	if c, given := m["axis"]; given {
		g.rackDirection(c)
	}
}

func (g *draft) rackDirection(c field) {
	d, ok := g.w.direction(c)
	if !ok {
		return
	}
	if g.framed {
		for i := range d {
			if axis, _ := g.Axes[i].iso(); axis == 1 && math.Abs(d[i]) < 1e-3*max(math.Abs(d[0]), math.Abs(d[1]), math.Abs(d[2])) {
				g.w.bad(c, "leads along the car and not across it; a rack moves from side to side, so %c must not be 0", 'x'+i)
				return
			}
		}
	}
	g.Rack = d
	g.needsRack(c)
	if g.framed {
		for i := range d {
			if axis, _ := g.Axes[i].iso(); axis == 1 && math.Abs(d[i]) < math.Hypot(math.Hypot(d[0], d[1]), d[2])/2 {
				g.w.note(c.pos(), c.path, "%s leads more along the car than across it, by more than 60 degrees; look at its three numbers", c.label)
			}
		}
	}
}

// holdable are the kinds of member that can be held to find the steering axis: those with a length that
// changes, and those that turn.
var holdable = []kin.Kind{kin.Damper, kin.Spring, kin.Strut, kin.Distance, kin.Arm, kin.HArm, kin.Rocker}

// walkHold reads the member that is held to find the steering axis.
func (g *draft) walkHold(m map[string]field) {
	f, given := m["hold"]
	if !given {
		return
	}
	name, ok := g.w.scalar(f, "the name of a damper, spring, strut or arm")
	if !ok {
		return
	}
	i := g.Member(name)
	switch {
	case i < 0 && g.isMember(name): // its own mistake was reported
	case i < 0:
		g.w.bad(f, "is %s, but there is no such member; %s", quoted(name), instead(name, g.names))
	case g.Members[i].Across:
		g.w.bad(f, "is %s, which stands under across; name a damper, spring, strut or arm that exists on both sides", name)
	case !g.holds(&g.Members[i]):
		g.w.bad(f, "is %s, %s %s, whose length never changes; name a damper, spring, strut or arm", name, article(g.Members[i].Kind.String()), g.Members[i].Kind)
	default:
		g.Hold = name
	}
}

func (g *draft) holds(m *Member) bool {
	for _, k := range holdable {
		if m.Kind == k {
			return true
		}
	}
	return m.Soft
}

// article returns a or an, whichever the word takes.
func article(word string) string {
	switch {
	case word == "":
	case word[0] == 'a' || word[0] == 'e' || word[0] == 'i' || word[0] == 'o' || word == kin.HArm.String():
		return "an"
	}
	return "a"
}

func (g *draft) walkVehicle(m map[string]field) {
	w, v := g.w, &g.Vehicle
	w.lengths(m, false, map[string]*int64{"wheelbase": &v.Wheelbase, "centre_of_gravity": &v.CentreOfGravity})
	for _, name := range []string{"brake_share", "drive_share"} {
		to := &v.BrakeShare
		if name == "drive_share" {
			to = &v.DriveShare
		}
		if f, given := m[name]; given {
			*to, _ = w.share(f)
		}
	}
	for _, c := range []struct {
		name  string
		words []string
		to    *bool // true for the second word
	}{
		{"axle", axleWords, &v.Rear},
		{"brakes", brakeWords, &v.Inboard},
		{"differential", differentialWords, &v.LiveAxle},
	} {
		if f, given := m[c.name]; given {
			word, ok := w.word(f, c.words, nil)
			*c.to = ok && word == c.words[1]
		}
	}
	if f, given := m["drive_share"]; given && g.axle && v.DriveShare > 0 {
		if _, said := m["differential"]; !said {
			w.note(f.pos(), f.path, "%s: the axle is driven and nothing says what carries its differential, so the frame is taken to, and %s is that of the wheel centre's path; write differential: axle for a live axle, or differential: frame",
				f.path, map[bool]string{false: "anti_lift_drive", true: "anti_squat"}[v.Rear])
		}
	}
}

// share returns a part of a whole, 0 to 1.
func (w *walk) share(f field) (float64, bool) {
	n, ok := w.number(f, "a share such as 0.62 or 62 %")
	if !ok {
		return 0, false
	}
	v, _ := n.value.Float64()
	switch {
	case n.unit == "%" && v >= 0 && v <= 100:
		v, _ = n.value.Quo(n.value, percent).Float64()
		return v, true
	case n.unit == "" && v >= 0 && v <= 1:
		return v, true
	case n.unit == "" && v > 1 && v <= 100:
		w.bad(f, "is %s; a share is from 0 to 1, so write %s %% if that is what is meant", clip(f.node.Value), n.digits)
	default:
		w.bad(f, "is %s; write a share from 0 to 1, such as 0.62 or 62 %%", quoted(f.node.Value))
	}
	return 0, false
}
