package files

import (
	"math"
	"math/big"
	"regexp"
	"strings"

	"trammel/kin"
)

// number is what was written, exactly: a decimal or a fraction, and the unit behind it.
type number struct {
	value    *big.Rat
	fraction bool   // written as 1/16 or 1 1/16
	digits   string // as written, without the unit
	unit     string // as written; "" when there is none
}

var (
	decimalForm  = regexp.MustCompile(`^[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d{1,3})?`)
	fractionForm = regexp.MustCompile(`^([+-]?)(?:(\d{1,6}) )?(\d{1,6})/(\d{1,6})`)
	mixedForm    = regexp.MustCompile(`^\d{1,6} \d{1,6}/\d{1,6}`)
	zeroForm     = regexp.MustCompile(`^[+-]?0[0-9]`)
	commaForm    = regexp.MustCompile(`^[+-]?\d+,\d+`)
	scoreForm    = regexp.MustCompile(`^[+-]?[\d.]+_[\d_.]+`)
	infiniteForm = regexp.MustCompile(`(?i)^[+-]?\.?(inf|infinity|nan)$`)
	otherBases   = regexp.MustCompile(`^[+-]?0[xXoObB]`)
)

// parseNumber reads a number with an optional unit behind it. The complaint is empty when it could,
// and else goes on from `NAME is "TEXT": `.
func parseNumber(text string) (n number, complaint string) {
	s := strings.TrimSpace(text)
	if dashed := strings.NewReplacer("\u2212", "-", "\u2013", "-", "\u2014", "-").Replace(s); dashed != s {
		if _, bad := parseNumber(dashed); bad == "" {
			return n, "the dash is no minus sign; write " + clip(dashed)
		}
	}
	switch {
	case len(s) > 64:
		return n, "that is too long for a number"
	case infiniteForm.MatchString(s):
		return n, "a number here must be finite; write a plain one"
	case otherBases.MatchString(s):
		return n, "write a plain decimal number"
	case commaForm.MatchString(s):
		return n, "decimal comma? Write " + clip(strings.Replace(s, ",", ".", 1))
	case scoreForm.MatchString(s):
		return n, "write " + clip(strings.ReplaceAll(s, "_", "")) + " without underscores"
	case zeroForm.MatchString(s):
		sign := strings.TrimRight(s[:1], "0123456789")
		plain := strings.TrimLeft(s[len(sign):], "0")
		if plain == "" || plain[0] < '0' || plain[0] > '9' {
			plain = "0" + plain
		}
		return n, "a leading zero means another number in some programs; write " + clip(sign+plain)
	}
	if m := fractionForm.FindStringSubmatch(s); m != nil {
		if n.value = fraction(m); n.value == nil {
			return n, "a fraction cannot have 0 below the line"
		}
		n.fraction, n.digits, n.unit = true, m[0], strings.TrimSpace(s[len(m[0]):])
		return n, ""
	}
	m := decimalForm.FindString(s)
	if m == "" {
		return n, "that is not a number"
	}
	n.digits, n.unit = m, strings.TrimSpace(s[len(m):])
	n.value, _ = new(big.Rat).SetString(m)
	if n.value == nil {
		return n, "that is not a number"
	}
	if !strings.HasPrefix(n.unit, "1/") && strings.ContainsAny(n.unit, "0123456789.;:,") {
		if dashed := strings.Replace(s, "-", " ", 1); mixedForm.MatchString(dashed) && dashed != s {
			return n, "write " + clip(dashed)
		}
		return n, "that is not one number"
	}
	return n, ""
}

// fraction returns the value of a match of fractionForm, or nil when it divides by nothing.
func fraction(m []string) *big.Rat {
	part, _ := new(big.Rat).SetString(m[3])
	below, _ := new(big.Rat).SetString(m[4])
	if below.Sign() == 0 {
		return nil
	}
	v := part.Quo(part, below)
	if m[2] != "" {
		whole, _ := new(big.Rat).SetString(m[2])
		v.Add(v, whole)
	}
	if m[1] == "-" {
		v.Neg(v)
	}
	return v
}

var (
	inchInMM = big.NewRat(254, 10)
	percent  = big.NewRat(100, 1)
)

// otherLengths are units of length that people write and these files do not take.
var otherLengths = map[string]*big.Rat{
	"cm": big.NewRat(10, 1), "m": big.NewRat(1000, 1), "um": big.NewRat(1, 1000), "\u00b5m": big.NewRat(1, 1000),
	"inch": inchInMM, "inches": inchInMM, `"`: inchInMM, "''": inchInMM, "ft": big.NewRat(3048, 10), "'": big.NewRat(3048, 10),
	"thou": big.NewRat(254, 10000), "mil": big.NewRat(254, 10000),
}

// inUnit returns a written length in the file's unit, exactly.
func (n number) inUnit(u Unit) (v *big.Rat, complaint string) {
	v = new(big.Rat).Set(n.value)
	switch n.unit {
	case "", u.String():
		return v, ""
	case "mm":
		return v.Quo(v, inchInMM), ""
	case "in":
		return v.Mul(v, inchInMM), ""
	}
	if mm := otherLengths[strings.ToLower(n.unit)]; mm != nil {
		v.Mul(v, mm)
		if mm.Cmp(inchInMM) == 0 {
			return nil, "write " + n.digits + "in"
		}
		return nil, "write it in mm or in: " + trimDecimal(v.FloatString(4)) + "mm"
	}
	return nil, "the unit " + quoted(n.unit) + " is not one of length; write mm, in, or nothing for " + u.String()
}

// maxLength bounds every length: 100 m is no suspension any more, and sums stay exact.
const maxLength = 100_000_000 // quanta

// quanta returns a written length as a whole number of the unit's quanta. A decimal in the file's own
// unit must be one; a fraction, or a length in the other unit, is brought to the nearest one and the
// remark says so.
func (n number) quanta(u Unit) (q int64, remark, complaint string) {
	v, complaint := n.inUnit(u)
	if complaint != "" {
		return 0, "", complaint
	}
	q, exact, ok := roundToQuanta(v, u.PerUnit())
	switch {
	case !ok:
		return 0, "", "that is longer than any car; the units are " + u.String()
	case exact:
		return q, "", ""
	case n.fraction || n.unit != "" && n.unit != u.String():
		return q, "is kept as " + u.Format(q) + " " + u.String() + ", the nearest " + formatQuanta(1, u.decimals()), ""
	}
	return 0, "", "lengths go by " + formatQuanta(1, u.decimals()) + " " + u.String() + "; write " + u.Format(q)
}

// roundToQuanta returns v·per rounded to the nearest whole number, halves away from zero.
func roundToQuanta(v *big.Rat, per int64) (q int64, exact, ok bool) {
	scaled := new(big.Rat).Mul(v, big.NewRat(per, 1))
	limit := big.NewRat(maxLength, 1)
	if new(big.Rat).Abs(scaled).Cmp(limit) > 0 {
		return 0, false, false
	}
	if scaled.IsInt() {
		return scaled.Num().Int64(), true, true
	}
	half := big.NewRat(int64(scaled.Sign()), 2)
	sum := new(big.Rat).Add(scaled, half)
	return new(big.Int).Quo(sum.Num(), sum.Denom()).Int64(), false, true
}

// measureUnits lists, for each unit of the table of measures, the spellings a value may carry and what
// each is worth in that unit. A length without one is in the file's unit.
var measureUnits = map[string]map[string]*big.Rat{
	"":        {"mm/mm": one, "in/in": one},
	"mm":      {"mm": one, "in": inchInMM},
	"deg":     {"deg": one},
	"deg/mm":  {"deg/mm": one, "deg/in": new(big.Rat).Inv(inchInMM)},
	"deg/deg": {"deg/deg": one},
	"1/mm":    {"1/mm": one, "/mm": one, "1/in": new(big.Rat).Inv(inchInMM), "/in": new(big.Rat).Inv(inchInMM)},
	"%":       {"%": one},
}

var one = big.NewRat(1, 1)

// measured returns a written value in the unit of a measure, rounded once.
func (n number) measured(of kin.Unit, file Unit) (v float64, complaint string) {
	factor := one
	switch {
	case n.unit != "":
		if factor = measureUnits[of.String()][n.unit]; factor == nil {
			if of == kin.None {
				return 0, "this is a ratio; write the number alone"
			}
			return 0, "the unit " + quoted(n.unit) + " does not fit; write " + unitChoices(of, file)
		}
	case of == kin.Millimetre && file == Inch:
		factor = inchInMM
	}
	v, _ = new(big.Rat).Mul(n.value, factor).Float64()
	if math.Abs(v) > 1e12 {
		return 0, "that is too large a number"
	}
	return v, ""
}

func unitChoices(of kin.Unit, file Unit) string {
	switch of {
	case kin.Millimetre:
		return "mm, in, or nothing for " + file.String()
	case kin.DegreePerMillimetre:
		return "deg/mm, deg/in, or nothing for deg/mm"
	case kin.PerMillimetre:
		return "1/mm, 1/in, or nothing for 1/mm"
	}
	return of.String() + ", or nothing"
}

// trimDecimal drops needless zeros behind a decimal point.
func trimDecimal(s string) string {
	if strings.Contains(s, ".") {
		s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	}
	return s
}
