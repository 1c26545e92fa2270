package kintest

import (
	"strings"

	"trammel/kin"
)

// Solid adds room that something takes, on both sides of the car. bodies has one for each point, or one for all.
func (b *Builder) Solid(name string, space kin.Space, points []string, bodies ...string) *Builder {
	for len(bodies) == 1 && len(bodies) < len(points) {
		bodies = append(bodies, bodies[0])
		for len(bodies) < len(points) {
			bodies = append(bodies, bodies[0])
		}
	}
	b.Member(name, kin.Solid, points, bodies[:len(points)])
	b.L.Members[len(b.L.Members)-1].Space = &space
	return b
}

// Once makes the last member one that exists a single time.
func (b *Builder) Once() *Builder {
	b.L.Members[len(b.L.Members)-1].Across = true
	return b
}

// Clear adds a pair: solids of the first list, each with a side before it where the pair names one, must not touch those
// of the second. Tubes that share a point begin so far from it.
func (b *Builder) Clear(name string, leave float64, one, two []string) *Builder {
	m := kin.Member{Name: name, Kind: kin.Pair, Leave: leave}
	for k, list := range [][]string{one, two} {
		for _, s := range list {
			t := kin.Taken{}
			for _, side := range []kin.Side{kin.Left, kin.Right} {
				if rest, ok := strings.CutPrefix(s, side.String()+"."); ok {
					t.Side, s, m.Across = side, rest, true
				}
			}
			t.Member = b.solid(s)
			m.Between[k] = append(m.Between[k], t)
		}
	}
	b.L.Members = append(b.L.Members, m)
	return b
}

func (b *Builder) solid(name string) int {
	for i, m := range b.L.Members {
		if m.Kind == kin.Solid && m.Name == name {
			return i
		}
	}
	panic("kintest: no solid " + name)
}

func round(radius float64) kin.Space { return kin.Space{Shape: kin.Tube, Radius: radius} }

// wheelRoom gives the wheel a tyre, a rim's barrel and the ground below it.
func (b *Builder) wheelRoom() *Builder {
	r := b.L.Wheel.LoadedRadius
	b.Solid("tyre", kin.Space{Shape: kin.Hoop, Radius: r + 8, Inner: 165, Width: 190, Round: 30}, nil)
	b.Solid("rim", kin.Space{Shape: kin.Hoop, Radius: 165, Inner: 154, Width: 180}, nil)
	return b.Solid("ground", kin.Space{Shape: kin.Ground}, nil).Once()
}

// Roomy is Pushrod with the room that its parts take, and what must not touch: every shape of solid and every kind of body
// is among them.
func Roomy() *kin.Linkage {
	b := &Builder{L: *Pushrod(), index: map[string]int{}}
	for i, p := range b.L.Points {
		b.index[p.Name] = i
	}
	b.Point("footwell_low", 420, 0, 120).Point("footwell_high", 120, 225, 470).
		Point("bar_in", -92, 60, 190).Point("rack_left", -92, 200, 190).Point("rack_right", -92, -200, 190).
		Point("caliper_low", -130, 630, 230).Point("caliper_high", -85, 680, 330).
		Point("hub_in", 0, 610, 252).Point("hub_out", 0, 690, 252).
		Point("brace_low", 40, 262, 300).Point("brace_bend", 52, 245, 400).Point("brace_high", 30, 200, 560)
	b.Solid("lower_arm", round(14), []string{"lower_front", "lower_ball", "lower_rear"}, "lower_arm")
	b.Solid("upper_arm", round(12), []string{"upper_front", "upper_ball", "upper_rear"}, "upper_arm")
	b.Solid("tie_rod", round(9), []string{"rack_end", "steering_arm"}, kin.Rack, kin.Upright)
	b.Solid("pushrod", round(10), []string{"pushrod_foot", "pushrod_head"}, "lower_arm", "rocker")
	b.Solid("damper", kin.Space{Shape: kin.Slider, Radius: 27, Length: 150, Rod: 6}, []string{"damper_frame", "damper_rocker"}, kin.Frame, "rocker")
	b.Solid("plate", kin.Space{Shape: kin.Drum, Radius: 26, Round: 3}, []string{"rocker_front", "rocker_rear"}, "rocker")
	b.Solid("footwell", kin.Space{Shape: kin.Block}, []string{"footwell_low", "footwell_high"}, kin.Frame).Once()
	b.Solid("rack_housing", round(24), []string{"rack_left", "rack_right"}, kin.Frame).Once()
	b.Solid("caliper", kin.Space{Shape: kin.Block}, []string{"caliper_low", "caliper_high"}, kin.Upright)
	b.Solid("disc", kin.Space{Shape: kin.Drum, Radius: 120, Inner: 60}, []string{"hub_in", "hub_out"}, kin.Upright)
	b.Solid("brace", round(16), []string{"brace_low", "brace_bend", "brace_high"}, kin.Frame)
	b.Solid("nut", round(17), []string{"lower_ball"}, kin.Upright)
	b.Solid("levers", round(8), []string{"pushrod_head", "rocker_front", "damper_rocker"}, "rocker")
	b.Solid("rack_bar", round(11), []string{"bar_in", "rack_end"}, kin.Rack)
	b.wheelRoom()
	b.Clear("at_the_rocker", 38, []string{"damper", "pushrod"}, []string{"levers"})
	b.Clear("at_the_rack", 25, []string{"rack_bar"}, []string{"tie_rod"})
	b.Clear("rods_to_tub", 0, []string{"tie_rod", "pushrod", "lower_arm", "upper_arm"}, []string{"footwell", "rack_housing"})
	b.Clear("damper_to_brace", 0, []string{"damper"}, []string{"brace", "rack_housing"})
	b.Clear("rod_to_arm", 45, []string{"pushrod"}, []string{"lower_arm", "upper_arm"})
	b.Clear("arms", 60, []string{"lower_arm"}, []string{"tie_rod"})
	b.Clear("rod_and_damper", 30, []string{"pushrod"}, []string{"damper"})
	b.Clear("in_the_rim", 0, []string{"lower_arm", "upper_arm", "nut"}, []string{"rim"})
	b.Clear("caliper_to_arm", 0, []string{"caliper"}, []string{"upper_arm", "tie_rod"})
	b.Clear("disc_to_arm", 0, []string{"disc"}, []string{"lower_arm"})
	b.Clear("tyre_to_tub", 0, []string{"tyre"}, []string{"footwell", "brace"})
	b.Clear("tyre_to_disc", 0, []string{"tyre"}, []string{"plate"})
	b.Clear("belly", 0, []string{"lower_arm", "nut"}, []string{"ground"})
	b.Clear("dampers", 0, []string{"left.damper"}, []string{"right.damper"})
	b.Clear("right_rod", 0, []string{"right.pushrod"}, []string{"right.brace", "left.tie_rod"})
	return &b.L
}

// RoomyAxle is SteeredAxle with the room of its wheels, its axle and its rods.
func RoomyAxle() *kin.Linkage {
	b := &Builder{L: *SteeredAxle(), index: map[string]int{}}
	for i, p := range b.L.Points {
		b.index[p.Name] = i
	}
	b.Point("rail_front", 500, 380, 640).Point("rail_rear", -400, 380, 640).
		Point("tube_right", 0, -560, 380).Point("tube_left", 14, 560, 369).
		Point("sump_low", 120, -150, 520).Point("sump_high", -200, 150, 700)
	b.Solid("rail", round(40), []string{"rail_front", "rail_rear"}, kin.Frame)
	b.Solid("tube", round(45), []string{"tube_right", "tube_left"}, kin.Axle).Once()
	b.Solid("sump", kin.Space{Shape: kin.Block}, []string{"sump_low", "sump_high"}, kin.Frame).Once()
	b.wheelRoom()
	b.Clear("tyre_to_rail", 0, []string{"tyre"}, []string{"rail", "sump"})
	b.Clear("tube_to_sump", 0, []string{"tube"}, []string{"sump"}).Once()
	b.Clear("under_the_axle", 0, []string{"tube"}, []string{"ground"}).Once()
	return &b.L
}
