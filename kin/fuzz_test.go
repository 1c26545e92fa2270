package kin_test

import (
	"encoding/binary"
	"math"
	"strings"
	"testing"
	"unicode"

	"trammel/kin"
	"trammel/kin/kintest"

	"gonum.org/v1/gonum/spatial/r3"
)

// dice reads choices from what a fuzzer makes up.
type dice struct{ data []byte }

func (d *dice) byte() byte {
	if len(d.data) == 0 {
		return 0
	}
	b := d.data[0]
	d.data = d.data[1:]
	return b
}

func (d *dice) below(n int) int { return int(d.byte()) % n }

// float is most often a place in a car, now and then anything at all.
func (d *dice) float() float64 {
	k := d.byte()
	if k < 250 {
		return float64(k)*8 - 1000 + float64(d.byte())/32
	}
	var raw [8]byte
	n := copy(raw[:], d.data)
	d.data = d.data[n:]
	return math.Float64frombits(binary.LittleEndian.Uint64(raw[:]))
}

var fuzzBodies = []string{kin.Frame, kin.Rack, kin.Upright, kin.Axle, "m0", "m1", "m2", "m3", "left.m0", "right.m1", "left.upright", "right.upright", "nowhere"}

// pointsOf and bodiesOf are how many of each a kind has, as its documentation says.
var pointsOf = map[kin.Kind]int{kin.Link: 2, kin.Arm: 3, kin.Rocker: 2, kin.Damper: 2, kin.Spring: 2, kin.HArm: 4, kin.Strut: 2, kin.Hinge: 2,
	kin.Ball: 1, kin.Kingpin: 2, kin.Distance: 2, kin.Shaft: 2, kin.Bar: 0, kin.Centre: 0}

var bodiesOf = map[kin.Kind]int{kin.Rocker: 1, kin.Centre: 1, kin.Pair: 0}

// linkage makes up members over points: a known layout with changes, or nothing known.
func (d *dice) linkage() *kin.Linkage {
	layouts := everyLayout()
	l := &kin.Linkage{}
	if k := d.below(len(layouts) + 6); k < len(layouts) {
		l = layouts[k].Link
	} else {
		for i := range 4 + d.below(20) {
			l.Points = append(l.Points, kin.Point{Name: string(rune('a' + i)), At: r3.Vec{X: d.float(), Y: d.float(), Z: d.float()}})
		}
		l.Wheel = kin.Wheel{Centre: d.below(len(l.Points)), Camber: d.float() / 1e4, Toe: d.float() / 1e4, LoadedRadius: d.float()}
	}
	n := len(l.Points)
	for range d.below(4) {
		l.Points[d.below(n)].At = r3.Vec{X: d.float(), Y: d.float(), Z: d.float()}
	}
	if d.below(4) == 0 && l.Opposite == nil {
		for range n {
			l.Opposite = append(l.Opposite, d.below(2*n)-n)
		}
		for i := range l.Opposite {
			l.Opposite[i] = max(l.Opposite[i], -1)
		}
	}
	if len(l.Members) > 0 && d.below(2) == 0 {
		k := d.below(len(l.Members))
		l.Members = append(l.Members[:k:k], l.Members[k+1:]...)
	}
	for i := range d.below(9) {
		l.Members = append(l.Members, d.member(i, n))
	}
	for i := range d.below(4) {
		l.Members = append(l.Members, d.pair(i, len(l.Members)))
	}
	l.Right = d.below(2) == 1
	l.Hold = []string{"", "m0", "damper", "lower_arm"}[d.below(4)]
	if d.below(4) == 0 {
		l.RackAxis = r3.Vec{X: d.float(), Y: d.float(), Z: d.float()}
	}
	if d.below(2) == 0 {
		l.Vehicle = kin.Vehicle{Wheelbase: d.float(), CentreZ: d.float(), Rear: d.below(2) == 0, BrakeShare: 1, DriveShare: 1, Inboard: d.below(2) == 0, LiveAxle: d.below(2) == 0}
	}
	return l
}

func (d *dice) member(i, points int) kin.Member {
	m := kin.Member{Name: "m" + string(rune('0'+i)), Kind: kin.Kind(1 + d.below(int(kin.Solid)))}
	n := pointsOf[m.Kind]
	if m.Kind == kin.Solid {
		n = d.below(4)
		m.Space = d.space()
	}
	for range n {
		m.Points = append(m.Points, d.below(points))
	}
	bodies := 2
	if n, ok := bodiesOf[m.Kind]; ok {
		bodies = n
	}
	if m.Kind == kin.Solid {
		bodies = n
	}
	for range bodies {
		m.Bodies = append(m.Bodies, fuzzBodies[d.below(len(fuzzBodies))])
	}
	m.Across = d.below(3) == 0 || m.Kind == kin.Bar || m.Kind == kin.Centre
	if m.Across && d.below(2) == 0 {
		for range m.Points {
			m.Sides = append(m.Sides, kin.Side(d.below(3)))
		}
	}
	m.Soft = m.Kind == kin.Link && d.below(4) == 0
	return m
}

// space is most often the size of a part.
func (d *dice) space() *kin.Space {
	size := func() float64 { return d.float() / 10 }
	return &kin.Space{Shape: kin.Shape(d.below(int(kin.Ground) + 2)), Radius: size(), Inner: size(), Round: size(), Width: size(), Length: size(), Rod: size()}
}

// pair takes solids, and now and then what is none.
func (d *dice) pair(i, members int) kin.Member {
	m := kin.Member{Name: "pair" + string(rune('0'+i)), Kind: kin.Pair, Leave: d.float(), Across: d.below(3) == 0}
	for k := range m.Between {
		for range d.below(3) {
			m.Between[k] = append(m.Between[k], kin.Taken{Member: d.below(members+2) - 1, Side: kin.Side(d.below(3))})
		}
	}
	return m
}

// FuzzLinkage: whatever members stand on whatever points, compiling, drawing and moving them neither panics nor hangs, and
// every refusal is a phrase that can stand in a sentence.
func FuzzLinkage(f *testing.F) {
	for k := range everyLayout() {
		f.Add([]byte{byte(k), 0, 1, 1, 0, 1})
		f.Add([]byte{byte(k), 1, 3, 99, 88, 77, 66, 55, 44, 33, 22, 11, 1, 0, 4, 5, 1, 2, 3, 4, 5, 6, 7, 8, 9, 0, 1, 2, 3})
	}
	f.Add([]byte("a linkage of nothing in particular, over points that lie anywhere"))
	f.Fuzz(func(t *testing.T, data []byte) {
		d := &dice{data}
		l := d.linkage()
		prog, err := kin.Compile(l)
		if err != nil {
			phrase(t, err.Error())
			return
		}
		s := prog.NewState()
		if f := s.SetDesign(prog.Points()); f.Status != kin.OK {
			phrase(t, prog.Describe(f))
			if says := prog.Explain(prog.Points()); says != "" {
				phrase(t, says)
			}
			return
		}
		columns := (&corner{t: t, link: l, prog: prog, s: s}).bothSides()
		for _, m := range []*kin.Motion{
			kin.NewMotion("heave", kin.BothWheels, false, kintest.Line(3, 40, 12)),
			kin.NewMotion("left", kin.LeftWheel, false, []kin.Position{{Wheel: d.float()}}),
			kin.NewMotion("roll", kin.BothWheels, true, []kin.Position{{Roll: 0.03}, {Wheel: 9, Rack: d.float(), Roll: -0.02}}),
		} {
			sw := prog.NewSweep(m, columns)
			out := make([]float64, sw.Size())
			slopes := kin.Slopes{Directions: make([]kin.Direction, 1), At: make([]float64, sw.Size())}
			prog.Move(&slopes.Directions[0], d.below(len(l.Points)), r3.Vec{X: 1, Y: 0.5, Z: -0.3})
			if _, f := s.RunSlopes(sw, out, &slopes); f.Status != kin.OK {
				phrase(t, prog.Describe(f))
				continue
			}
			for i, v := range out {
				if math.IsInf(v, 0) {
					t.Errorf("value %d of %d columns is infinite", i, len(columns))
				}
			}
		}
	})
}

// phrase fails unless what is said has words and begins and ends as the middle of a sentence does.
func phrase(t *testing.T, says string) {
	t.Helper()
	if len(strings.Fields(says)) < 3 || strings.HasSuffix(says, ".") || strings.Contains(says, "%!") || strings.TrimSpace(says) != says || strings.Contains(says, "  ") {
		t.Errorf("%q is no sentence", says)
	}
	if first := []rune(says)[0]; unicode.IsUpper(first) {
		t.Errorf("%q begins with a capital", says)
	}
}
