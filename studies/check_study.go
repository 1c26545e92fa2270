package studies

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"trammel/objectives"
	"trammel/studies/files"
)

// CheckStudy says in sentences what a study will do: what varies, what is asked and how much, how the
// design stands, how many runs it makes and, from a short calibration, how long and how large they are;
// the check of its geometry comes first.
func CheckStudy(f *files.Study) (string, error) {
	c := &check{}
	if err := c.geometry(f.Geometry); err != nil {
		return c.b.String(), err
	}
	st, err := Bind(f)
	if err != nil {
		return c.b.String(), err
	}
	c.line("\n%s (%s)", f.Name, f.Path)
	c.varied(f)
	c.asked(st)
	c.through(st)
	if err := c.expected(st); err != nil {
		return c.b.String(), err
	}
	c.notes(slices.Concat(f.Notes, c.remarks(), c.sideRemarks(st), c.spinRemarks(f), st.unmoved()))
	c.line("\n%s", Caution)
	return c.b.String(), nil
}

// varied lists the numbers of the box, in the file's units.
func (c *check) varied(f *files.Study) {
	c.line("")
	c.line("%s may change:", count(len(f.Vary), "number"))
	wide := 0
	for i := range f.Vary {
		wide = max(wide, len(f.Vary[i].Name))
	}
	for i := range f.Vary {
		v := &f.Vary[i]
		if v.Kind == files.VaryChoose {
			names := make([]string, len(v.Options))
			for k, o := range v.Options {
				names[k] = o.Name
			}
			c.line("  %-*s  one of %s", wide, v.Name, strings.Join(names, ", "))
			continue
		}
		show := func(n int64) string { return exact(float64(n) / float64(v.PerUnit)) }
		step := ""
		if v.Stepped() {
			step = ", in steps of " + show(v.Step)
		}
		c.line("  %-*s  %s to %s %s, now %s%s", wide, v.Name, show(v.FromN), show(v.ToN), v.Unit, show(v.DesignN), step)
	}
}

// asked lists targets and limits with the number of values that each gives, and how the design stands.
func (c *check) asked(st *Study) {
	sizes := func(slots int, entry func(i int) int, n int) []int {
		out := make([]int, n)
		for i := range slots {
			out[entry(i)]++
		}
		return out
	}
	o := st.Objective
	g := sizes(len(o.G), func(i int) int { return o.G[i].Entry }, len(o.Limits))
	var result func(i int) string
	limits := func(int) string { return "" }
	if st.start == nil {
		result = limits
	} else {
		res := o.NewResult()
		o.Evaluate(st.start, st.start, make([]float64, len(o.R)), make([]float64, len(o.G)), res)
		drawn := st.NewEvaluator()
		design := st.Space.Design()
		drawn.place(&design)
		drawn.state.SetDesign(drawn.points)
		result = func(i int) string {
			got, place := st.gotOf(i, &res.Targets[i], st.start)
			got += st.unvalued(res.Targets[i].At, o.Targets[i].Series)
			if res.Targets[i].Met {
				return fmt.Sprintf(", met at design (asked %s; %s%s)", st.askedOf(i), at(got, place), st.asBuilt(&res.Targets[i], i))
			}
			return fmt.Sprintf(", missed at design (asked %s; %s; miss %s%s)", st.askedOf(i), at(got, place), rounded(res.Targets[i].Drawn, 2), st.asBuilt(&res.Targets[i], i))
		}
		limits = func(i int) string {
			got, place := st.nearestOf(i, &res.Limits[i], st.start, drawn)
			got += st.unvalued(res.Limits[i].At, o.Limits[i].Series[0])
			note := st.unopposed(i)
			if note != "" {
				note = "; " + note
			}
			if res.Limits[i].Over > objectives.Broken {
				return fmt.Sprintf(", broken at design by %s of its scale of %s (allowed %s; %s%s)", rounded(res.Limits[i].Over, 2), st.scaleOf(i), st.limitOf(i), at(got, place), note)
			}
			return fmt.Sprintf(", kept at design (allowed %s; %s%s)", st.limitOf(i), at(got, place), note)
		}
	}
	c.line("")
	c.line("%s, %d residuals; miss is the root mean square of departure over within:", count(len(o.Targets), "target"), len(o.R))
	for i := range o.Targets {
		c.line("  %s: %s%s", o.Targets[i].Name, count(len(o.Targets[i].Series.Rows), "value"), result(i))
	}
	c.robust(st)
	if len(o.Limits) > 0 {
		c.line("%s, %d values:", count(len(o.Limits), "limit"), len(o.G))
		for i := range o.Limits {
			c.line("  %s: %s%s", o.Limits[i].Name, count(g[i], "value"), limits(i))
		}
	}
}

// through says of each motion of a study that the design does not go through where it stops.
func (c *check) through(st *Study) {
	for _, s := range st.designStops() {
		c.line("%s.", s)
	}
}

// thousands writes a whole number with commas: 24,097.
func thousands(n int64) string {
	s := strconv.FormatInt(n, 10)
	for i := len(s) - 3; i > 0 && s[i-1] != '-'; i -= 3 {
		s = s[:i] + "," + s[i:]
	}
	return s
}

// roughly says a time as a person would.
func roughly(d time.Duration) string {
	switch {
	case d < 2*time.Second:
		return "a second or two"
	case d < 2*time.Minute:
		return fmt.Sprintf("about %.0f seconds", d.Seconds())
	case d < 2*time.Hour:
		return fmt.Sprintf("about %.0f minutes", d.Minutes())
	}
	return fmt.Sprintf("about %.1f hours", d.Hours())
}

// megabytes says a size as a person would.
func megabytes(b float64) string {
	switch {
	case b < 1e6:
		return "1 MB"
	case b < 1e9:
		return fmt.Sprintf("%.0f MB", b/1e6)
	}
	return fmt.Sprintf("%.1f GB", b/1e9)
}
