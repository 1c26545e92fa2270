package files

import (
	"testing"

	"trammel/kin"
)

// 1 in = 25.4 mm exactly; fractions and lengths in the other unit go to the nearest quantum, and say so.
func TestQuanta(t *testing.T) {
	tests := []struct {
		text      string
		unit      Unit
		want      int64
		remark    bool
		complaint string
	}{
		{text: "12.345", want: 12345},
		{text: "-0", want: 0},
		{text: ".5", want: 500},
		{text: "5.", want: 5000},
		{text: "+1e2", want: 100_000},
		{text: "25mm", want: 25_000},
		{text: "1in", want: 25_400},
		{text: "1/16in", want: 1588, remark: true}, // 1.5875
		{text: "1/8in", want: 3175},
		{text: "1/2", want: 500},
		{text: "1/16in", unit: Inch, want: 625},
		{text: "-2 3/8 in", unit: Inch, want: -23750},
		{text: "1/64", unit: Inch, want: 156, remark: true}, // 0.015625
		{text: "254mm", unit: Inch, want: 100_000},
		{text: "25mm", unit: Inch, want: 9843, remark: true}, // 0.98425
		{text: "0.0001", unit: Inch, want: 1},
		{text: "0.00005", unit: Inch, complaint: "lengths go by 0.0001 in; write 0.0001"},
		{text: "-0.0015", complaint: "lengths go by 0.001 mm; write -0.002"},
		{text: "200000", complaint: "that is longer than any car; the units are mm"},
		{text: "1e999", complaint: "that is longer than any car; the units are mm"},
		{text: "1cm", complaint: "write it in mm or in: 10mm"},
		{text: "1 furlong", complaint: `the unit "furlong" is not one of length; write mm, in, or nothing for mm`},
	}
	for _, tt := range tests {
		n, complaint := parseNumber(tt.text)
		if complaint != "" {
			t.Errorf("%s: %s", tt.text, complaint)
			continue
		}
		got, remark, complaint := n.quanta(tt.unit)
		if got != tt.want || (remark != "") != tt.remark || complaint != tt.complaint {
			t.Errorf("%s in %s is %d, %q, %q", tt.text, tt.unit, got, remark, complaint)
		}
	}
}

// Values of measures: the slopes of one inch are those of 25.4 mm.
func TestMeasured(t *testing.T) {
	tests := []struct {
		text      string
		of        kin.Unit
		file      Unit
		want      float64
		complaint string
	}{
		{text: "22", of: kin.Millimetre, want: 22},
		{text: "22", of: kin.Millimetre, file: Inch, want: 558.8},
		{text: "22 mm", of: kin.Millimetre, file: Inch, want: 22},
		{text: "0.508 deg/in", of: kin.DegreePerMillimetre, want: 0.02},
		{text: "0.02", of: kin.DegreePerMillimetre, file: Inch, want: 0.02},
		{text: "0.0254 1/in", of: kin.PerMillimetre, want: 0.001},
		{text: "0.001/mm", of: kin.PerMillimetre, want: 0.001},
		{text: "60 %", of: kin.Percent, want: 60},
		{text: "0.6", of: kin.None, want: 0.6},
		{text: "0.6 mm", of: kin.None, complaint: "this is a ratio; write the number alone"},
		{text: "1 rad", of: kin.Degree, complaint: `the unit "rad" does not fit; write deg, or nothing`},
		{text: "1e13", of: kin.Degree, complaint: "that is too large a number"},
	}
	for _, tt := range tests {
		n, complaint := parseNumber(tt.text)
		if complaint != "" {
			t.Errorf("%s: %s", tt.text, complaint)
			continue
		}
		if got, complaint := n.measured(tt.of, tt.file); got != tt.want || complaint != tt.complaint {
			t.Errorf("%s is %v, %q; want %v, %q", tt.text, got, complaint, tt.want, tt.complaint)
		}
	}
}

// Every unit of kin's table of measures can be written in a study.
func TestMeasureUnits(t *testing.T) {
	for _, m := range kin.Measures() {
		units := measureUnits[m.Unit.String()]
		if units == nil || m.Unit != kin.None && units[m.Unit.String()] == nil {
			t.Errorf("%s is in %q, which no value can carry", m.Name, m.Unit)
		}
	}
}

// Example lengths of a sentence stand in the unit of the file; what is no length stays. 25.4 mm are an inch.
func TestExample(t *testing.T) {
	for _, tt := range []struct{ text, mm, in string }{
		{"{bump: ~60, rack: ~-30}", "{bump: 60, rack: -30}", "{bump: 2.4, rack: -1.2}"},
		{"loaded_radius: ~292, tilt: 13, axis: [0, 1, 0.05]", "loaded_radius: 292, tilt: 13, axis: [0, 1, 0.05]", "loaded_radius: 11, tilt: 13, axis: [0, 1, 0.05]"},
		{"[~12.5, ~0.5, ~0, ~2500, ~254]", "[12.5, 0.5, 0, 2500, 254]", "[0.49, 0.02, 0, 98, 10]"},
	} {
		if mm, in := Millimetre.Example(tt.text), Inch.Example(tt.text); mm != tt.mm || in != tt.in {
			t.Errorf("%s is %s and %s", tt.text, mm, in)
		}
	}
}
