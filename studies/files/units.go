package files

import (
	"math"
	"regexp"
	"strconv"
	"strings"
)

// Unit is the unit of length of a geometry file, and of every length a builder reads about it.
// Lengths are kept as whole numbers of the unit's quantum, so that the number in the file, in the
// record, in CAD and in the solver is one number.
type Unit uint8

// The units of length.
const (
	Millimetre Unit = iota // quantum 0.001 mm
	Inch                   // quantum 0.0001 in
)

// String returns "mm" or "in".
func (u Unit) String() string {
	if u == Inch {
		return "in"
	}
	return "mm"
}

// plural is the unit in a sentence.
func (u Unit) plural() string {
	if u == Inch {
		return "inches"
	}
	return "millimetres"
}

// PerUnit returns how many quanta make one unit: 1000 for mm, 10000 for in.
func (u Unit) PerUnit() int64 {
	if u == Inch {
		return 10000
	}
	return 1000
}

// decimals is the number of digits after the point that a quantum needs.
func (u Unit) decimals() int {
	if u == Inch {
		return 4
	}
	return 3
}

// ToMM returns n quanta in mm, rounded once: n/1000, or n·254/100000 for inches (1 in = 25.4 mm exactly).
func (u Unit) ToMM(n int64) float64 {
	if u == Inch {
		return float64(n*254) / 100000
	}
	return float64(n) / 1000
}

// Value returns n quanta in the unit itself, the double nearest to the decimal number.
func (u Unit) Value(n int64) float64 {
	return float64(n) / float64(u.PerUnit())
}

// FromMM returns the number of quanta nearest to a length in mm.
func (u Unit) FromMM(mm float64) int64 {
	if u == Inch {
		return int64(math.Round(mm / 25.4 * 10000))
	}
	return int64(math.Round(mm * 1000))
}

// Format returns n quanta as the shortest exact decimal in the unit, without the unit: 16.45.
func (u Unit) Format(n int64) string {
	return formatQuanta(n, u.decimals())
}

// formatQuanta writes n·10^-decimals exactly, without needless zeros.
func formatQuanta(n int64, decimals int) string {
	sign := ""
	if n < 0 {
		sign, n = "-", -n
	}
	s := strconv.FormatInt(n, 10)
	if len(s) <= decimals {
		s = strings.Repeat("0", decimals+1-len(s)) + s
	}
	whole, rest := s[:len(s)-decimals], strings.TrimRight(s[len(s)-decimals:], "0")
	if rest != "" {
		rest = "." + rest
	}
	return sign + whole + rest
}

// exampleForm is an example length, in mm, as Example looks for it.
var exampleForm = regexp.MustCompile(`~(-?[0-9]+(?:\.[0-9]+)?)`)

// Example returns a text in which example lengths stand in mm behind a tilde, as in {min: ~190, max: ~265}, with lengths of the
// unit in their places: as they are, or about as long in inches.
func (u Unit) Example(text string) string {
	return exampleForm.ReplaceAllStringFunc(text, func(s string) string {
		if u == Millimetre {
			return s[1:]
		}
		mm, _ := strconv.ParseFloat(s[1:], 64)
		in := mm / 25.4
		digits := 0 // after the point: two that count
		for x := math.Abs(in); x > 0 && x < 10 && digits < 2; x *= 10 {
			digits++
		}
		short := strconv.FormatFloat(in, 'f', digits, 64)
		if digits > 0 {
			short = strings.TrimRight(strings.TrimRight(short, "0"), ".")
		}
		return short
	})
}

// Sense is what an axis of a file points to.
type Sense uint8

// The six senses, in pairs: ISO 8855 axes point forward, left and up.
const (
	Forward Sense = iota
	Rearward
	Leftward
	Rightward
	Upward
	Downward
)

var senseWords = [...]string{"forward", "rearward", "left", "right", "up", "down"}

// String returns the word a geometry file uses.
func (s Sense) String() string { return senseWords[s] }

// iso returns the ISO axis (0 x, 1 y, 2 z) along which the sense lies and its sign.
func (s Sense) iso() (axis int, sign int64) {
	return int(s) / 2, 1 - 2*int64(s%2)
}

// Axes says what the +x, +y and +z of a file point to.
type Axes [3]Sense

// rightHanded tells whether x, y, z in that order make a right-handed set.
func (a Axes) rightHanded() bool {
	x, sx := a[0].iso()
	y, sy := a[1].iso()
	_, sz := a[2].iso()
	even := int64(-1) // the permutation: 0 1 2 and its turns are even
	if (x+1)%3 == y {
		even = 1
	}
	return even*sx*sy*sz == 1
}
