package files

import (
	"slices"
	"strings"

	"trammel/kin"
)

// laterMeasures are measures that are planned; a table of measures that has one of them wins.
var laterMeasures = []string{"wheel_rate", "ride_frequency", "roll_stiffness", "force"}

// needs is what a measure must know of the vehicle.
type needs struct {
	wheelbase, centre, brake, drive bool
	front, rear                     bool   // the axle it is a measure of
	other                           string // what it is called at the other axle
}

// vehicleNeeds are the measures that have no value without something under vehicle.
var vehicleNeeds = map[string]needs{
	"ackermann":       {wheelbase: true},
	"turn_radius":     {wheelbase: true},
	"anti_dive":       {wheelbase: true, centre: true, brake: true, front: true, other: "anti_lift_brake"},
	"anti_lift_drive": {wheelbase: true, centre: true, drive: true, front: true, other: "anti_squat"},
	"anti_lift_brake": {wheelbase: true, centre: true, brake: true, rear: true, other: "anti_dive"},
	"anti_squat":      {wheelbase: true, centre: true, drive: true, rear: true, other: "anti_lift_drive"},
}

// Lacks says what the geometry file lacks for a measure of the corner, given by its bare name: a sentence that
// goes on from the measure's name and has no full stop; "" where nothing is missing.
func (g *Geometry) Lacks(measure string) string {
	n, v := vehicleNeeds[measure], g.Vehicle
	if n.front && v.Rear || n.rear && !v.Rear {
		this, that := pick(n.front, "front", "rear"), pick(n.front, "rear", "front")
		return "which is a measure of a " + this + " axle, and this is a " + that + " one; write " + n.other + ", or vehicle: {axle: " + this + "} in the geometry file"
	}
	var names, show []string
	lack := func(missing bool, name, example string) {
		if missing {
			names, show = append(names, name), append(show, name+": "+example)
		}
	}
	lack(n.wheelbase && v.Wheelbase == 0, "wheelbase", g.Units.Example("~2500"))
	lack(n.centre && v.CentreOfGravity == 0, "centre_of_gravity", g.Units.Example("~420"))
	lack(n.brake && v.BrakeShare == 0, "brake_share", "0.62")
	lack(n.drive && v.DriveShare == 0, "drive_share", "1")
	if names == nil {
		return ""
	}
	return "which needs the " + list(names, "and") + "; write vehicle: {" + strings.Join(show, ", ") + "} with your own " + pick(len(names) == 1, "number", "numbers") + " into the geometry file"
}

// measure finds what a target or limit measures; of is nil where it could not be found.
func (s *studyDraft) measure(f field) (name string, parts Of, of *kin.Measure) {
	name, ok := s.w.scalar(f, "the name of a measure such as camber or damper.length")
	if !ok {
		return "", parts, nil
	}
	words := strings.Fields(name)
	switch sign := slices.IndexFunc(words, isSign); {
	case sign < 0:
		first, m, complaint := s.term(name)
		if complaint != "" {
			if spaced := s.unspaced(name); spaced != "" {
				complaint = "in which the sign needs a blank on both sides; write " + spaced
			}
			s.w.bad(f, "is %s, %s", quoted(name), complaint)
		}
		return name, Of{First: first}, m
	case sign != 1 || len(words) != 3:
		s.w.bad(f, "is %s; write one measure, or one sum or difference of two such as right.toe - left.toe", quoted(name))
		return name, parts, nil
	}
	parts.Sign = 1
	if words[1] == "-" {
		parts.Sign = -1
	}
	var two [2]*kin.Measure
	for i, to := range []*Term{&parts.First, &parts.Second} {
		t, m, complaint := s.term(words[2*i])
		if complaint != "" {
			part := f
			part.label = pick(i == 0, "the first part of ", "the second part of ") + f.label
			s.w.bad(part, "is %s, %s", quoted(words[2*i]), complaint)
		}
		*to, two[i] = t, m
	}
	name = strings.Join(words, " ")
	switch {
	case two[0] == nil || two[1] == nil:
		return name, parts, nil
	case two[0].Unit != two[1].Unit:
		s.w.bad(f, "is %s, but %s is %s and %s is %s; both must have one unit", quoted(name), words[0], unitInWords(two[0].Unit), words[2], unitInWords(two[1].Unit))
		return name, parts, nil
	case parts.First == parts.Second:
		s.w.bad(f, "is %s, the same measure twice; name two different ones, such as right.toe - left.toe", quoted(name))
		return name, parts, nil
	}
	return name, parts, two[0]
}

func isSign(s string) bool { return s == "+" || s == "-" }

func unitInWords(u kin.Unit) string {
	if u == kin.None {
		return "a ratio"
	}
	return "in " + u.String()
}

// unspaced returns a sum or difference that was written without blanks as it should be; "" where it is none.
func (s *studyDraft) unspaced(name string) string {
	for i := 1; i+1 < len(name); i++ {
		if name[i] != '-' && name[i] != '+' {
			continue
		}
		a, b := strings.TrimSpace(name[:i]), strings.TrimSpace(name[i+1:])
		_, first, _ := s.term(a)
		_, second, _ := s.term(b)
		if first != nil && second != nil {
			return a + " " + name[i:i+1] + " " + b
		}
	}
	return ""
}

// PartMeasure parts the name of one measure, such as right.damper.length, into side, member and bare name. It
// does not look whether there is such a measure.
func PartMeasure(name string) Term {
	side, bare := splitSide(name)
	t := Term{Side: side, Name: bare}
	if dot := strings.LastIndexByte(bare, '.'); dot >= 0 {
		t.Member, t.Name = bare[:dot], bare[dot+1:]
	}
	return t
}

// term finds a measure of the corner, or MEMBER.measure, either with a side before it. A complaint goes on from
// `measure is "NAME", `.
func (s *studyDraft) term(name string) (t Term, m *kin.Measure, complaint string) {
	t = PartMeasure(name)
	_, bare := splitSide(name)
	switch {
	case bare == t.Name:
		m, complaint = s.cornerMeasure(bare)
		if m != nil && m.Axle && t.Side != NoSide {
			m, complaint = nil, "but "+bare+" exists once, for both sides; write "+bare
		}
	default:
		m, complaint = s.memberMeasure(t.Member, t.Name)
		if complaint == "" && t.Side != NoSide && s.existsOnce(t.Member) {
			m, complaint = nil, "but "+t.Member+" exists once; write "+bare
		}
	}
	return t, m, complaint
}

func (s *studyDraft) cornerMeasure(name string) (*kin.Measure, string) {
	m, ok := kin.LookupMeasure(name)
	switch {
	case ok && m.Of == kin.OfCorner:
		if s.g.read {
			if lack := s.g.Lacks(name); lack != "" {
				return nil, lack
			}
		}
		return m, ""
	case ok:
		return nil, "which is a measure of " + kindsOf(m) + "; write " + s.memberExample(m) + "." + name
	case slices.Contains(laterMeasures, plain(name)):
		return nil, "which is not built yet; `trammel measures` lists what is"
	case slices.Contains(s.partNames(), name):
		return nil, "which is a " + s.partWord(name) + behindDot(name, s.kindOf(name))
	}
	if m := partMeasureNear(name); m != nil && near(name, s.measureNames()) == "" {
		return nil, s.behindPart(name, m)
	}
	return nil, "but there is no such measure; " + instead(name, s.measureNames())
}

// partMeasureNear returns the measure of a part that was probably meant by a name without one; nil when there is none.
func partMeasureNear(name string) *kin.Measure {
	var names []string
	for _, m := range kin.Measures() {
		if m.Of != kin.OfCorner {
			names = append(names, m.Name)
		}
	}
	m, ok := kin.LookupMeasure(near(name, names))
	if !ok {
		return nil
	}
	return m
}

// behindPart says that a measure is one of a part, and which parts of the geometry have it.
func (s *studyDraft) behindPart(written string, m *kin.Measure) string {
	if s.Geometry == nil || !s.g.read {
		return "which is measured of a part; write MEMBER." + m.Name + difference(written)
	}
	return "which is " + s.Geometry.behindPart(written, NoSide, m)
}

// behindPart says of a measure of parts, in the end of a sentence, which parts have it, with a side before them.
func (g *Geometry) behindPart(written string, side Side, m *kin.Measure) string {
	var of []string
	for _, part := range g.Parts() {
		if m.Of.Has(part.Kind) {
			of = append(of, withSide(side, part.Name+"."+m.Name))
		}
	}
	if len(of) == 0 {
		return m.Name + " here, a measure of " + kindsOf(m) + ", and the geometry has none"
	}
	return "measured of a part; write " + list(of, "or") + difference(written)
}

// NoMeasure is NoMeasure of the package with the parts of this geometry that have the measure that was probably meant.
func (g *Geometry) NoMeasure(name string) string {
	t := PartMeasure(name)
	if _, corner := kin.LookupMeasure(t.Name); t.Member == "" && !corner && near(t.Name, cornerMeasures()) == "" && !slices.Contains(laterMeasures, plain(t.Name)) {
		if m := partMeasureNear(t.Name); m != nil {
			return name + " is " + g.behindPart(t.Name, t.Side, m)
		}
	}
	return NoMeasure(name)
}

// cornerMeasures are the names of all measures that are none of a part.
func cornerMeasures() []string {
	var names []string
	for _, m := range kin.Measures() {
		if m.Of == kin.OfCorner {
			names = append(names, m.Name)
		}
	}
	return names
}

func (s *studyDraft) memberMeasure(member, name string) (*kin.Measure, string) {
	m, ok := kin.LookupMeasure(name)
	_, isPoint := s.g.index[member]
	kind := s.kindOf(member)
	switch {
	case ok && m.Of == kin.OfCorner && near(member, []string{"left", "right"}) != "":
		return nil, "but " + member + " is no side of the car; write " + near(member, []string{"left", "right"}) + "." + name
	case ok && m.Of == kin.OfCorner:
		return nil, "but " + name + " is a measure of the corner; write " + name
	case isPoint && !slices.Contains(s.partNames(), member):
		return nil, "but " + member + " is a point; measures are of the corner or of a member"
	case !ok && slices.Contains(laterMeasures, plain(name)):
		return nil, "which is not built yet; `trammel measures` lists what is"
	case s.g.read && slices.Contains(ownSolids, member) || slices.ContainsFunc(s.g.claimed, func(c claim) bool { return c.name == member && (c.section == "solids" || c.section == "groups") }) && !slices.Contains(s.partNames(), member):
		return nil, "but nothing is measured of a solid or a group by itself; write a clearance into the geometry file, and ask for CLEARANCE.clearance"
	case s.g.read && !slices.Contains(s.partNames(), member):
		return nil, "but the geometry has no member " + quoted(member) + "; " + instead(member, s.partNames())
	case !ok:
		names := s.namesOf(member)
		if len(names) == 0 {
			return nil, "but there is no measure " + quoted(name) + ", and nothing is measured of " + member
		}
		return nil, "but there is no measure " + quoted(name) + "; " + instead(name, names)
	case kind != 0 && !m.Of.Has(kind):
		return nil, "but " + member + " is " + article(kind.String()) + " " + kind.String() + ", and " + name + " is a measure of " + kindsOf(m)
	}
	return m, ""
}

// partNames are the names of all members, clearances and joints, usable or not.
func (s *studyDraft) partNames() []string {
	names := slices.Clone(s.g.members)
	for _, c := range s.g.claimed {
		if c.section == "clearances" || c.section == "joints" {
			names = append(names, c.name)
		}
	}
	return names
}

// partWord is what a sentence calls one of partNames.
func (s *studyDraft) partWord(name string) string {
	for _, c := range s.g.claimed {
		switch {
		case c.name == name && c.section == "clearances":
			return "clearance"
		case c.name == name && c.section == "joints":
			return "joint"
		}
	}
	return "member"
}

// kindOf returns what the solver calls a part of the geometry; 0 where it is not known.
func (s *studyDraft) kindOf(part string) kin.Kind {
	if s.Geometry != nil {
		if p, ok := s.Geometry.Measured(part); ok {
			return p.Kind
		}
	}
	return 0
}

// existsOnce tells whether a part that could be read exists once.
func (s *studyDraft) existsOnce(part string) bool {
	if s.g.isAcross[part] {
		return true
	}
	if s.Geometry == nil {
		return false
	}
	p, ok := s.Geometry.Measured(part)
	return ok && p.Across
}

// kindsOf lists the kinds of member that have a measure.
func kindsOf(m *kin.Measure) string {
	var kinds []string
	for k := kin.Link; k <= kin.Joint; k++ {
		if m.Of.Has(k) {
			kinds = append(kinds, k.String())
		}
	}
	return article(list(kinds, "or")) + " " + list(kinds, "or")
}

// memberExample names a member that has the measure, where there is one.
func (s *studyDraft) memberExample(m *kin.Measure) string {
	if s.Geometry != nil {
		for _, part := range s.Geometry.Parts() {
			if m.Of.Has(part.Kind) {
				return part.Name
			}
		}
	}
	return "MEMBER"
}

func (s *studyDraft) namesOf(member string) []string {
	var names []string
	kind := s.kindOf(member)
	for _, m := range kin.Measures() {
		if m.Of != kin.OfCorner && (kind == 0 || m.Of.Has(kind)) {
			names = append(names, m.Name)
		}
	}
	return names
}

// behindDot goes on from a sentence that a part alone is no measure: with what to write.
func behindDot(part string, k kin.Kind) string {
	var names []string
	for _, m := range kin.Measures() {
		if m.Of != kin.OfCorner && m.Of.Has(k) {
			names = append(names, part+"."+m.Name)
		}
	}
	switch {
	case len(names) == 0:
		return "; write what is measured of it behind a dot"
	case k == kin.Pair || k == kin.Joint:
		return "; write " + names[0]
	}
	return "; write what is measured of it behind a dot, such as " + list(names[:min(3, len(names))], "or")
}

// Unmeasured says in a sentence without its full stop that a name, which may have a side before it, is that of something
// in the geometry and of no measure, and what to write; "" where the geometry has nothing of that name.
func (g *Geometry) Unmeasured(name string) string {
	side, bare := splitSide(name)
	if p, ok := g.Measured(bare); ok {
		return name + " is " + article(p.Kind.String()) + " " + p.Kind.String() + ", and no measure" + behindDot(withSide(side, bare), p.Kind)
	}
	what := ""
	switch {
	case slices.ContainsFunc(g.Parts(), func(p Part) bool { return p.Name == bare }):
		what = "a solid"
	case slices.ContainsFunc(g.Groups, func(o Group) bool { return o.Name == bare }):
		what = "a group"
	case g.Point(bare) >= 0:
		return name + " is a point; measures are of the corner or of a member"
	default:
		return ""
	}
	return name + " is " + what + ", of which nothing is measured by itself; write a clearance into the geometry file, and ask for CLEARANCE.clearance"
}

// measureNames are all measures that a target of this geometry can name.
func (s *studyDraft) measureNames() []string {
	names := cornerMeasures()
	for _, part := range s.partNames() {
		for _, n := range s.namesOf(part) {
			if s.kindOf(part) != 0 {
				names = append(names, part+"."+n)
			}
		}
	}
	return names
}

// isBare tells whether a name, with or without side and member, ends on a measure.
func isBare(name string) bool {
	_, ok := kin.LookupMeasure(PartMeasure(strings.TrimSpace(name)).Name)
	return ok
}

// NoMeasure says in a sentence without its full stop that there is no measure of that name, which may
// carry a member as in "damper.length", and which one was probably meant, where one is near.
func NoMeasure(name string) string {
	t := PartMeasure(name)
	member, bare := "", t.Name
	if t.Member != "" {
		member = t.Member + "."
	}
	if slices.Contains(laterMeasures, plain(bare)) {
		return name + " is not built yet"
	}
	var names []string
	for _, m := range kin.Measures() {
		names = append(names, m.Name)
	}
	for i := 1; i+1 < len(name); i++ {
		a, b := name[:i], name[i+1:]
		if (name[i] == '-' || name[i] == '+') && isBare(a) && isBare(b) {
			return name + " is no measure; the sign of a sum or difference needs a blank on both sides: " + a + " " + name[i:i+1] + " " + b
		}
	}
	word := near(bare, names)
	if word == "" {
		return name + " is no measure"
	}
	if t.Side == NoSide {
		if side := near(t.Member, []string{"left", "right"}); side != "" {
			member = side + "."
			if m, _ := kin.LookupMeasure(word); m.Of == kin.OfCorner {
				return name + " is no measure; write " + side + "." + word + difference(bare)
			}
		}
	}
	switch m, _ := kin.LookupMeasure(word); {
	case m.Of == kin.OfCorner:
		member = ""
	case member == "":
		member = "MEMBER."
	}
	return name + " is no measure; write " + withSide(t.Side, member+word) + difference(bare)
}
