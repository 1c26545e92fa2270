package files

import (
	"slices"
	"strings"
	"testing"

	"trammel/kin"
)

// Builders' other words, as trade books and parts lists have them: common practice, no source.
func TestNear(t *testing.T) {
	measures := []string{}
	for _, m := range kin.Measures() {
		measures = append(measures, m.Name)
	}
	bodies := []string{"frame", "rack", "upright", "lower_arm", "rocker"}
	tests := []struct {
		written string
		allowed []string
		want    string
	}{
		{"scrub radius", measures, "kingpin_offset"},
		{"SAI", measures, "kingpin_inclination"},
		{"motion ratio", measures, "installation_ratio"},
		{"castor", measures, "caster"},
		{"roll_center_height", measures, "roll_centre_height"},
		{"cambre", measures, "camber"},
		{"Toe", measures, "toe"},
		{"shock", kindKeys, "damper"},
		{"A-arm", kindKeys, "arm"},
		{"Bell crank", kindKeys, "rocker"},
		{"track rod", kindKeys, "link"},
		{"knuckle", bodies, "upright"},
		{"spindle", bodies, "upright"},
		{"chassis", bodies, "frame"},
		{"center", wheelKeys.names(), "centre"},
		{"jounce", travelKeys.names(), "bump"},
		{"rebound", travelKeys.names(), "droop"},
		{"hardpoints", geometryKeys.names(), "points"},
		{"Panhard rod", kindKeys, "link"},
		{"track bar", kindKeys, "link"},
		{"semi-trailing arm", kindKeys, "hinge"},
		{"Watt's linkage", kindKeys, "rocker"},
		{"sway bar", kindKeys, "torsion_bar"},
		{"anti-roll bar", kindKeys, "torsion_bar"},
		{"half shaft", kindKeys, "shaft"},
		{"CV", kindKeys, "shaft"},
		{"limit strap", kindKeys, "distance"},
		{"MacPherson strut", kindKeys, "strut"},
		{"H-arm", kindKeys, "h_arm"},
		{"h arm", kindKeys, "h_arm"},
		{"live axle", reserved, "axle"},
		{"beam", reserved, "axle"},
		{"king pin", kindKeys, "kingpin"},
		{"cg height", vehicleKeys.names(), "centre_of_gravity"},
		{"brake bias", vehicleKeys.names(), "brake_share"},
		{"clash", geometryKeys.names(), "clearances"},
		{"gap", geometryKeys.names(), "clearances"},
		{"Interference", geometryKeys.names(), "clearances"},
		{"keep-out", geometryKeys.names(), "solids"},
		{"tire", wheelKeys.names(), "tyre"},
		{"spherical bearing", jointWords, "spherical"},
		{"uniball", jointWords, "spherical"},
		{"Heim joint", jointWords, "rod_end"},
		{"rose joint", jointWords, "rod_end"},
		{"rod ends", geometryKeys.names(), "joints"},
		{"misalignment", jointKeys["rod_end"].names(), "tilt"},
		{"bump stop", damperLengthKeys.names(), "stop"},
		{"bumpstop", springLengthKeys.names(), "stop"},
		{"coil bind", springLengthKeys.names(), "solid"},
		{"extended length", lengthKeys.names(), "max"},
		{"sphere", solidWords, "ball"},
		{"pipe", solidWords, "tube"},
		{"OD", tubeKeys.names(), "diameter"},
		{"cylindr", solidWords, "cylinder"},
		{"clearence", []string{"clearance", "tilt"}, "clearance"},
		{"xyzzy", measures, ""},
		{"", bodies, ""},
	}
	for _, tt := range tests {
		if got := near(tt.written, tt.allowed); got != tt.want {
			t.Errorf("for %q it offers %q, want %q", tt.written, got, tt.want)
		}
	}
}

// Published distances: kitten to sitting is 3, saturday to sunday is 3 (Wagner and Fischer, "The
// string-to-string correction problem", 1974, measure; the examples are textbook ones), and a swap
// of neighbours is 1 (Damerau 1964).
func TestEditDistance(t *testing.T) {
	for _, tt := range []struct {
		a, b string
		want int
	}{{"kitten", "sitting", 3}, {"saturday", "sunday", 3}, {"toe", "teo", 1}, {"", "abc", 3}, {"damper", "damper", 0}} {
		if got := editDistance(tt.a, tt.b); got != tt.want {
			t.Errorf("%s to %s is %d, want %d", tt.a, tt.b, got, tt.want)
		}
	}
}

// The table of other words leads only to words that these files know somewhere.
func TestOtherWordsLeadSomewhere(t *testing.T) {
	known := append([]string{"rod_end", "tie_rod", "best 100", "all", "improving", "none", "mm", "in"}, reserved...)
	for _, list := range [][]string{senseWords[:], kindKeys, planMethods, searchMethods} {
		known = append(known, list...)
	}
	for _, m := range kin.Measures() {
		known = append(known, m.Name)
	}
	tables := []keys{geometryKeys, wheelKeys, vehicleKeys, travelKeys, buildKeys, lengthKeys, studyKeys, motionKeys, varyKeys,
		placeKeys, targetKeys, withinKeys, limitKeys, stageKeys, budgetKeys, recordKeys}
	for _, k := range kindKeys {
		tables = append(tables, memberKeys[k])
	}
	tables = append(tables, rackKeys, steeringAxisKeys, tyreKeys, rimKeys, clearanceKeys, springLengthKeys, plungeKeys, bodyKeys(nil), jointKeys["spherical"], jointKeys["rod_end"])
	for _, k := range solidWords {
		tables = append(tables, solidKeys[k])
	}
	known = append(known, "clearance") // a measure of a pair of solids
	for _, table := range tables {
		known = append(known, table.names()...)
	}
	for written, words := range otherWords {
		if written != plain(written) {
			t.Errorf("%q can never be found; write %q", written, plain(written))
		}
		for _, w := range words {
			if !slices.Contains(known, w) {
				t.Errorf("%q leads to %q, which nothing is called", written, w)
			}
		}
	}
}

// Builders' other words for measures lead to ours, with the difference where they mean not quite the same:
// common practice, no source.
func TestNoMeasure(t *testing.T) {
	for name, want := range map[string]string{
		"scrub_radius":          "scrub_radius is no measure; write kingpin_offset",
		"ride steer":            "ride steer is no measure; write bump_steer",
		"damper.scrub":          "damper.scrub is no measure; write kingpin_offset",
		"damper.motion_ratio":   "damper.motion_ratio is no measure; write damper.installation_ratio, which is damper shortening per wheel travel; if yours is wheel over damper, write its reciprocal",
		"progressivity":         "progressivity is no measure; write MEMBER.progression",
		"wheel_rate":            "wheel_rate is not built yet",
		"right.castor":          "right.castor is no measure; write right.caster",
		"xyzzy":                 "xyzzy is no measure",
		strings.Repeat("x", 99): strings.Repeat("x", 99) + " is no measure",
	} {
		if got := NoMeasure(name); got != want {
			t.Errorf("for %q it says %q, want %q", name, got, want)
		}
	}
}

// Words that mean something else are not taken for ours: the driver sits on the right in many cars, and
// roll steer is no bump steer.
func TestOtherThings(t *testing.T) {
	if got, want := instead("Driver side", []string{"left", "right"}), "write left or right, whichever side that is in this car"; got != want {
		t.Errorf("%q, want %q", got, want)
	}
	if got := near("roll_steer", []string{"bump_steer", "toe"}); got != "" {
		t.Errorf("roll_steer leads to %s", got)
	}
	for w := range differs {
		if otherWords[w] == nil {
			t.Errorf("%s has a difference, but leads nowhere", w)
		}
	}
}
