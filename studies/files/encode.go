package files

import (
	"bytes"
	"fmt"
	"strconv"
	"strings"
	"unicode/utf8"

	"trammel/kin"
)

// Encode returns the geometry as a commented geometry file; reading it gives the same geometry.
func (g *Geometry) Encode() []byte {
	var b bytes.Buffer
	line := func(format string, args ...any) { fmt.Fprintf(&b, format+"\n", args...) }
	line("format: 1")
	line("name: %s", yamlText(g.Name))
	line("units: %s", g.Units)
	line("axes: {x: %s, y: %s, z: %s}   # what +x, +y and +z point to", g.Axes[0], g.Axes[1], g.Axes[2])
	if g.LeftHanded {
		line("handed: left   # a left-handed set of axes, as meant")
	}
	line("origin: %s   # a point on the car's centre line", g.triple(g.Origin))
	line("side: %s   # the other side is the mirror image", g.Side)
	line("")
	line("points:   # at ride height, in %s", g.Units.plural())
	widest := 0
	for _, p := range g.Points {
		name, _ := cutOpposite(p.Name)
		widest = max(widest, len(name))
	}
	opened := false
	for _, p := range g.Points {
		name, cut := cutOpposite(p.Name)
		if cut && !opened {
			line("")
			line("opposite:   # where the other side is not the mirror image")
			opened = true
		}
		line("  %-*s %s", widest+1, name+":", g.triple(p.N))
	}
	line("")
	line("members:")
	opened = false
	for i := range g.Members {
		m := &g.Members[i]
		if m.Across && !opened {
			line("")
			line("across:   # what exists once or ties the two sides")
			opened = true
		}
		line("  %s: {%s}", m.Name, g.member(m))
	}
	line("")
	line("wheel: {centre: %s, camber: %s, toe: %s, loaded_radius: %s%s}   # angles in deg; the ground lies loaded_radius below",
		g.Wheel.Centre, decimal(g.Wheel.Camber), decimal(g.Wheel.Toe), g.Units.Format(g.Wheel.LoadedRadius), g.tyreAndRim())
	if parts := g.rack(); parts != "" {
		line("rack: {%s}   # + rack travel is to the car's left, whichever way its axis leads", parts)
	}
	if g.Hold != "" {
		line("steering_axis: {hold: %s}", g.Hold)
	}
	if parts := g.vehicle(); parts != "" {
		line("vehicle: {%s}", parts)
	}
	if t := g.Travel; t != (Travel{}) {
		line("travel: {bump: %s, droop: %s, rack: %s}   # default motions", g.Units.Format(t.Bump), g.Units.Format(t.Droop), g.Units.Format(t.Rack))
	}
	if parts := g.build(); parts != "" {
		line("build: {%s}   # what the shop can do", parts)
	}
	g.encodeSolids(line)
	return b.Bytes()
}

// EncodePoints returns the points as the CSV table that `points:` reads: name,x,y,z in the file's units.
func (g *Geometry) EncodePoints() []byte {
	var b bytes.Buffer
	b.WriteString("name,x,y,z\n")
	for _, p := range g.Points {
		fmt.Fprintf(&b, "%s,%s,%s,%s\n", p.Name, g.Units.Format(p.N[0]), g.Units.Format(p.N[1]), g.Units.Format(p.N[2]))
	}
	return b.Bytes()
}

func (g *Geometry) triple(n [3]int64) string {
	return "[" + g.Units.Format(n[0]) + ", " + g.Units.Format(n[1]) + ", " + g.Units.Format(n[2]) + "]"
}

// String writes a direction as the file does.
func (d Direction) String() string {
	return "[" + decimal(d[0]) + ", " + decimal(d[1]) + ", " + decimal(d[2]) + "]"
}

func (g *Geometry) member(m *Member) string {
	names := make([]string, len(m.Points))
	for i := range names {
		names[i] = m.Points[i]
		if m.Sides != nil {
			names[i] = withSide(m.Sides[i], m.Points[i])
		}
	}
	bodies := "[" + strings.Join(m.Bodies, ", ") + "]"
	form := forms[m.Kind]
	s := m.Kind.String() + ": "
	switch {
	case m.Kind == kin.Bar:
		return s + bodies + g.limits(m, names)
	case m.Kind == kin.Centre:
		return s + m.Bodies[0]
	case form.single:
		s += names[0]
	default:
		s += "[" + names[0] + ", " + names[1] + "]"
	}
	switch form.balls {
	case 1:
		s += ", ball: " + names[2]
	case 2:
		s += ", balls: [" + names[2] + ", " + names[3] + "]"
	}
	switch {
	case form.ends == endsOn && m.Bodies[0] != kin.Frame:
		s += ", on: " + m.Bodies[0]
	case form.ends == endsOn || m.Kind == kin.Arm && m.Bodies[0] == kin.Frame && m.Bodies[1] == kin.Upright && !g.hasAxle():
	default:
		s += ", ends: " + bodies
	}
	if m.Soft {
		s += ", soft: true"
	}
	if m.Axis != (Direction{}) {
		s += ", axis: " + m.Axis.String()
	}
	return s + g.limits(m, names)
}

// hasAxle tells whether a member names the body axle.
func (g *Geometry) hasAxle() bool {
	for _, m := range g.Members {
		for _, b := range m.Bodies {
			if b == kin.Axle {
				return true
			}
		}
	}
	return false
}

func (g *Geometry) vehicle() string {
	var parts []string
	v := g.Vehicle
	add := func(given bool, key, value string) {
		if given {
			parts = append(parts, key+": "+value)
		}
	}
	add(v.Wheelbase > 0, "wheelbase", g.Units.Format(v.Wheelbase))
	add(v.CentreOfGravity > 0, "centre_of_gravity", g.Units.Format(v.CentreOfGravity))
	add(v.Rear, "axle", axleWords[1])
	add(v.BrakeShare > 0, "brake_share", decimal(v.BrakeShare))
	add(v.DriveShare > 0, "drive_share", decimal(v.DriveShare))
	add(v.Inboard, "brakes", brakeWords[1])
	add(v.LiveAxle, "differential", differentialWords[1])
	add(!v.LiveAxle && v.DriveShare > 0 && g.hasAxle(), "differential", differentialWords[0]) // said, so that reading it asks nothing
	return strings.Join(parts, ", ")
}

func (g *Geometry) build() string {
	var parts []string
	if g.Build.Error > 0 {
		parts = append(parts, "error: "+g.Units.Format(g.Build.Error))
	}
	if g.Build.Step > 0 {
		parts = append(parts, "step: "+g.Units.Format(g.Build.Step))
	}
	return strings.Join(parts, ", ")
}

// decimal writes a double so that reading gives the same double.
func decimal(v float64) string { return strconv.FormatFloat(v, 'g', -1, 64) }

// yamlText writes a title: as it is where YAML cannot misread it, else in double quotes.
func yamlText(s string) string {
	safe := s != "" && strings.IndexFunc(s, func(r rune) bool {
		return r != ' ' && r != '-' && r != '_' && (r < '0' || r > '9') && (r < 'a' || r > 'z') && (r < 'A' || r > 'Z')
	}) < 0 && (s[0] >= 'a' && s[0] <= 'z' || s[0] >= 'A' && s[0] <= 'Z')
	switch strings.ToLower(s) {
	case "null", "true", "false", "yes", "no", "on", "off", "y", "n":
		safe = false
	}
	if safe {
		return s
	}
	var b strings.Builder
	b.WriteByte('"')
	for _, r := range s {
		switch {
		case r == '"' || r == '\\':
			b.WriteByte('\\')
			b.WriteRune(r)
		case r < ' ' || r == utf8.RuneError || r >= 0x7f && r < 0xa0 || r == 0x2028 || r == 0x2029 || r == 0xfeff:
			fmt.Fprintf(&b, `\u%04x`, r)
		default:
			b.WriteRune(r)
		}
	}
	b.WriteByte('"')
	return b.String()
}
