package files

import (
	"slices"
	"strings"

	"trammel/kin"
)

// laterMeasures are measures that are planned; a table of measures that has one of them wins.
var laterMeasures = []string{
	"camber_to_ground", "roll_steer", "roll_camber", "anti_dive", "anti_lift_drive", "anti_lift_brake", "anti_squat",
	"wheel_rate", "ride_frequency", "roll_stiffness", "ackermann", "turn_radius", "body_roll",
	"twist", "plunge", "joint_angle_inner", "joint_angle_outer", "tilt", "clearance", "force", "bind",
}

// NeedsWheelbase tells whether a measure has no value without a wheelbase.
func NeedsWheelbase(measure string) bool { return slices.Contains(needsWheelbase, measure) }

// needsWheelbase are the measures that have no value without one.
var needsWheelbase = []string{"ackermann", "turn_radius"}

var allKinds = []kin.Kind{kin.Arm, kin.Link, kin.Rocker, kin.Damper, kin.Spring}

// findMeasure finds a measure of the corner, or MEMBER.measure. A complaint goes on from
// `measure is "NAME", `.
func (s *studyDraft) findMeasure(name string) (*kin.Measure, string) {
	if strings.Contains(name, " + ") || strings.Contains(name, " - ") {
		return nil, "and sums and differences of measures are not built yet; write a target for each"
	}
	dot := strings.LastIndexByte(name, '.')
	if dot < 0 {
		return s.cornerMeasure(name)
	}
	return s.memberMeasure(name[:dot], name[dot+1:])
}

func (s *studyDraft) cornerMeasure(name string) (*kin.Measure, string) {
	m, ok := kin.LookupMeasure(name)
	switch {
	case ok && m.Of == kin.OfCorner:
		if slices.Contains(needsWheelbase, name) && s.g.read && s.g.Vehicle.Wheelbase == 0 {
			return nil, "which needs the wheelbase; write vehicle: {wheelbase: 2500} with your own number into the geometry file"
		}
		return m, ""
	case ok:
		return nil, "which is a measure of " + kindsOf(m) + "; write " + s.memberExample(m) + "." + name
	case slices.Contains(laterMeasures, name):
		return nil, "which is not built yet; `trammel measures` lists what is"
	case slices.Contains(s.g.members, name):
		return nil, "which is a member; write what is measured of it behind a dot" + s.measuresOf(name)
	}
	return nil, "but there is no such measure; " + instead(name, s.measureNames())
}

func (s *studyDraft) memberMeasure(member, name string) (*kin.Measure, string) {
	m, ok := kin.LookupMeasure(name)
	_, isPoint := s.g.index[member]
	i := -1
	if s.Geometry != nil {
		i = s.Geometry.Member(member)
	}
	switch {
	case ok && m.Of == kin.OfCorner:
		return nil, "but " + name + " is a measure of the corner; write " + name
	case isPoint && !slices.Contains(s.g.members, member):
		return nil, "but " + member + " is a point; measures are of the corner or of a member"
	case !ok && slices.Contains(laterMeasures, name):
		return nil, "which is not built yet; `trammel measures` lists what is"
	case s.g.read && !slices.Contains(s.g.members, member):
		return nil, "but the geometry has no member " + quoted(member) + "; " + instead(member, s.g.members)
	case !ok:
		return nil, "but there is no measure " + quoted(name) + "; " + instead(name, s.namesOf(member))
	case i >= 0 && !m.Of.Has(s.Geometry.Members[i].Kind):
		return nil, "but " + member + " is a " + s.Geometry.Members[i].Kind.String() + ", and " + name + " is a measure of " + kindsOf(m)
	}
	return m, ""
}

// kindsOf lists the kinds of member that have a measure.
func kindsOf(m *kin.Measure) string {
	var kinds []string
	for _, k := range allKinds {
		if m.Of.Has(k) {
			kinds = append(kinds, k.String())
		}
	}
	return "a " + list(kinds, "or")
}

// memberExample names a member that has the measure, where there is one.
func (s *studyDraft) memberExample(m *kin.Measure) string {
	if s.Geometry != nil {
		for _, member := range s.Geometry.Members {
			if m.Of.Has(member.Kind) {
				return member.Name
			}
		}
	}
	return "MEMBER"
}

func (s *studyDraft) namesOf(member string) []string {
	var names []string
	i := -1
	if s.Geometry != nil {
		i = s.Geometry.Member(member)
	}
	for _, m := range kin.Measures() {
		if m.Of != kin.OfCorner && (i < 0 || m.Of.Has(s.Geometry.Members[i].Kind)) {
			names = append(names, m.Name)
		}
	}
	return names
}

func (s *studyDraft) measuresOf(member string) string {
	if names := s.namesOf(member); len(names) > 0 {
		return ", such as " + member + "." + names[0]
	}
	return ""
}

// measureNames are all measures that a target of this geometry can name.
func (s *studyDraft) measureNames() []string {
	var names []string
	for _, m := range kin.Measures() {
		if m.Of == kin.OfCorner {
			names = append(names, m.Name)
		}
	}
	for _, member := range s.g.members {
		for _, n := range s.namesOf(member) {
			if s.Geometry != nil && s.Geometry.Member(member) >= 0 {
				names = append(names, member+"."+n)
			}
		}
	}
	return names
}

// NoMeasure says in a sentence without its full stop that there is no measure of that name, which may
// carry a member as in "damper.length", and which one was probably meant, where one is near.
func NoMeasure(name string) string {
	member, bare := "", name
	if dot := strings.LastIndexByte(name, '.'); dot >= 0 {
		member, bare = name[:dot+1], name[dot+1:]
	}
	if slices.Contains(laterMeasures, plain(bare)) {
		return name + " is not built yet"
	}
	var names []string
	for _, m := range kin.Measures() {
		names = append(names, m.Name)
	}
	word := near(bare, names)
	if word == "" {
		return name + " is no measure"
	}
	switch m, _ := kin.LookupMeasure(word); {
	case m.Of == kin.OfCorner:
		member = ""
	case member == "":
		member = "MEMBER."
	}
	return name + " is no measure; write " + member + word + difference(bare)
}
