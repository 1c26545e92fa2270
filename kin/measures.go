package kin

import (
	"math"
	"slices"
	"strings"
)

// Unit is the unit of a measure, one of those of the table of measures.
type Unit uint8

// The units of measures.
const (
	None Unit = iota // a ratio or a slope in mm/mm
	Millimetre
	Degree
	DegreePerMillimetre
	PerMillimetre
	Percent
	DegreePerDegree
)

// String returns the unit as a person writes it; "" for a ratio.
func (u Unit) String() string {
	return [...]string{"", "mm", "deg", "deg/mm", "1/mm", "%", "deg/deg"}[u]
}

// Suffix returns what the unit adds to a column's name, with its underscore; "" for a ratio.
func (u Unit) Suffix() string {
	return [...]string{"", "_mm", "_deg", "_deg_per_mm", "_per_mm", "_percent", "_deg_per_deg"}[u]
}

// Of says what a measure is taken of: a corner, or a member of certain kinds.
type Of uint32

// OfCorner marks a measure of the corner or axle as a whole; its name stands alone. Every other Of is
// a set of kinds of member, and the measure is written MEMBER.measure.
const OfCorner Of = 0

func ofKinds(kinds ...Kind) Of {
	var of Of
	for _, k := range kinds {
		of |= 1 << k
	}
	return of
}

// Has tells whether the measure is one of members of kind k.
func (of Of) Has(k Kind) bool { return of&(1<<k) != 0 }

// Measure is one line of the table of measures: everything that validation, columns, help and the
// manual know about a quantity.
type Measure struct {
	Name  string
	Of    Of
	Unit  Unit
	Scale float64 // a change that matters to a builder, in Unit: limits are judged and derivatives probed on it
	Sign  string  // what a positive value means; "" where the unit says it all
	Line  string  // one line
	Long  string  // the definition
	Null  string  // when there is no value; "" if there always is one
	Axle  bool    // of the axle or the whole car: no side stands before its name

	far    float64                               // beyond this, in Unit, there is no value; 0 for no such bound
	refuse func(p *Program, in *instance) string // why a linkage, or the member, has no such measure; "" if it has
	build  func(b *builder) ref
}

func (m *Measure) beyond() float64 {
	if m.far == 0 {
		return math.Inf(1)
	}
	return m.far
}

// Measures returns the table of measures in its order. The slice is the caller's.
func Measures() []Measure { return append([]Measure(nil), table...) }

// LookupMeasure finds a measure by its bare name: "camber", or "length" for MEMBER.length.
func LookupMeasure(name string) (*Measure, bool) {
	for i := range table {
		if table[i].Name == name {
			return &table[i], true
		}
	}
	return nil, false
}

// Column returns the name of the column that holds the measure: lower_snake with the unit as suffix.
// member is "" for a measure of the corner; it must already be a legal part of a column's name.
func (m *Measure) Column(member string) string {
	if member == "" {
		return m.Name + m.Unit.Suffix()
	}
	return member + "_" + m.Name + m.Unit.Suffix()
}

// splitMeasure parts "damper.length" into member and measure.
func splitMeasure(name string) (member, measure string) {
	if i := strings.LastIndexByte(name, '.'); i >= 0 {
		return name[:i], name[i+1:]
	}
	return "", name
}

const degree = math.Pi / 180

var table []Measure

func init() {
	// Filled here and not in its declaration: the functions of the table lead back to the table.
	table = slices.Concat(wheelMeasures, steeringMeasures, axleMeasures, memberMeasures, strokeMeasures, leverMeasures, jointMeasures)
}
