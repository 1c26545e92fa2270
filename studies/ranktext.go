package studies

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"text/tabwriter"

	"trammel/optimize"
)

// paragraph begins the screen: how many runs there were, what the best comes to, and what stands in its way.
func (ans *Answer) paragraph(b *strings.Builder) {
	failed := ans.Runs - ans.Status["ok"] - ans.Status["over_limit"]
	if ans.archive.re != nil {
		failed = ans.Recorded - ans.Status["ok"] - ans.Status["over_limit"]
	}
	fmt.Fprintf(b, "%s: %d runs; %d keep every limit, %d break one, %d do not go through every motion.\n", ans.Study, ans.Runs, ans.Status["ok"], ans.Status["over_limit"], failed)
	if len(ans.Answers) == 0 {
		switch {
		case ans.Recorded == 0 && ans.Runs > 0:
			b.WriteString("The study keeps no rows, so there is no answer to show; `record: {rows: all}` keeps them.\n")
		case ans.Runs == 0:
			fmt.Fprintf(b, "Nothing has been run yet. Type: trammel run %s\n", ans.archive.Study.File.Path)
		default:
			ans.stuckText(b)
		}
		return
	}
	best := &ans.Answers[0]
	met, missed := split(best.Targets)
	if ans.Recorded < ans.Runs {
		fmt.Fprintf(b, "%d of the runs are recorded; the answer is the best of these.\n", ans.Recorded)
	}
	if best.Status == optimize.OK.String() {
		fmt.Fprintf(b, "The best geometry is run %d, with a score of %s", best.Run, short(best.Score))
	} else {
		fmt.Fprintf(b, "Nothing keeps every limit. The least violating geometry is run %d; what blocks it: %s. Its score is %s", best.Run, strings.Join(ans.Blocking, ", "), short(best.Score))
	}
	if ans.Design != nil {
		was, _ := split(ans.Design.Targets)
		fmt.Fprintf(b, " where the design has %s. It meets %d of %d targets (the design %d)", short(ans.Design.Score), len(met), len(best.Targets), len(was))
	} else {
		fmt.Fprintf(b, ". The design does not go through every motion. It meets %d of %d targets", len(met), len(best.Targets))
	}
	if len(missed) > 0 {
		fmt.Fprintf(b, "; it misses %s", strings.Join(missed, ", "))
	}
	b.WriteString(".\n")
	best.ends(b)
	for _, says := range ans.Never {
		fmt.Fprintf(b, "%s%s.\n", strings.ToUpper(says[:1]), says[1:])
	}
}

// ends says which numbers stand at an end of their range: those whose room has a price, and the others. Without prices it cannot tell.
func (v *Verdict) ends(b *strings.Builder) {
	var helps, idle []string
	for _, m := range v.Moved {
		if m.Edge == "" {
			continue
		}
		says := fmt.Sprintf("%s (%s)", m.Name, decimals(m.Now))
		end := map[string]string{"low": "from", "high": "to"}[m.Edge]
		if !v.priced || slices.ContainsFunc(v.Prices, func(p Price) bool {
			return p.Kind == priceOfRange && p.Of == m.Name && p.End == end && p.gain() >= leastGain*v.Score
		}) {
			helps = append(helps, says)
		} else {
			idle = append(idle, says)
		}
	}
	may := "helps"
	if !v.priced {
		may = "might help"
	}
	if helps != nil {
		fmt.Fprintf(b, "At the end of their range, where more room %s: %s.\n", may, strings.Join(helps, ", "))
	}
	if idle != nil {
		fmt.Fprintf(b, "At the end of their range, where more room is of no use: %s.\n", strings.Join(idle, ", "))
	}
}

func split(targets []TargetState) (met, missed []string) {
	for _, t := range targets {
		if t.Met {
			met = append(met, t.Name)
		} else {
			missed = append(missed, t.Name)
		}
	}
	return met, missed
}

func (ans *Answer) moved(b *strings.Builder) {
	best := &ans.Answers[0]
	g := ans.archive.Study.File.Geometry
	if len(best.Points) == 0 {
		b.WriteString("\nNothing moved: no run is better than the design.\n")
		return
	}
	fmt.Fprintf(b, "\nWhat moved, in the file's axes and unit (%s):\n", g.Units)
	shifts(b, best.Points, best.Moved)
	if len(best.Lengths) > 0 {
		fmt.Fprintf(b, "\nRods, arms and rockers that change with that, eye to eye as drawn at ride height (%s):\n", g.Units)
		welds(b, best.Lengths)
	}
}

// shifts writes a table of points that moved, and the choices and turns of the numbers behind it.
func shifts(b *strings.Builder, points []MovedPoint, numbers []Moved) {
	w := tabwriter.NewWriter(b, 0, 0, 2, ' ', tabwriter.AlignRight)
	fmt.Fprintln(w, "point\taxis\twas\tnow\tby\t")
	for _, p := range points {
		name := p.Name
		for k, axis := range []string{"x", "y", "z"} {
			if p.By[k] == 0 {
				continue
			}
			fmt.Fprintf(w, "%s\t%s\t%s\t%s\t%s\t\n", name, axis, decimals(p.Was[k]), decimals(p.Now[k]), plus(p.By[k]))
			name = ""
		}
	}
	w.Flush()
	for _, m := range numbers {
		if m.Kind != "" {
			fmt.Fprintf(b, "  %s: %s\n", m.Name, m.Kind)
		} else if m.Unit == "deg" && m.Now != m.Was {
			fmt.Fprintf(b, "  %s: turned by %s deg\n", m.Name, plus(m.Now))
		}
	}
}

func (ans *Answer) lines(b *strings.Builder) {
	broken := ans.Answers[0].Status != optimize.OK.String()
	order := "best first"
	if ans.ties > 1 {
		order += fmt.Sprintf(" (the first %d score alike; of these the one whose points move least from the design comes first)", ans.ties)
	}
	if broken {
		order = "those that break the limits least first, and of equals the best by score (violation is the sum of what broken limits are passed by, each over its scale)"
	}
	if s := ans.Search; s != nil {
		fmt.Fprintf(b, "\n%s\nDistinct answers, %s:\n", s.sentence(), order)
	} else {
		fmt.Fprintf(b, "\nDistinct answers (at least %.0f %% of a range apart in some number), %s:\n", 100*apart, order)
	}
	w := tabwriter.NewWriter(b, 0, 0, 2, ' ', 0)
	for _, v := range ans.Answers {
		met, _ := split(v.Targets)
		fmt.Fprintf(w, "  run %d\t", v.Run)
		if broken {
			fmt.Fprintf(w, "violation %s\t", short(v.Violation))
		}
		fmt.Fprintf(w, "score %s\tmeets %d of %d\t%s\t%s\n", short(v.Score), len(met), len(v.Targets), v.seen(), ans.summary(&v))
	}
	w.Flush()
	best := ans.Answers[0].Run
	fmt.Fprintf(b, "\nIts curves: trammel curves %s --run %d. Its points: trammel export %s --run %d.\n", ans.Folder, best, ans.Folder, best)
	if ans.Fewest != nil && ans.archive.re == nil {
		fmt.Fprintf(b, "Its points with the fewest parts moved: trammel export %s --run %d --fewest.\n", ans.Folder, best)
	}
}

// summary says in few words where an answer lies: the three numbers that moved most of their range.
func (ans *Answer) summary(v *Verdict) string {
	st := ans.archive.Study
	type shift struct {
		name string
		by   float64
		part float64
	}
	var all []shift
	for i := range st.Space.Dims {
		d := &st.Space.Dims[i]
		by := v.Moved[i].Now - v.Moved[i].Was
		all = append(all, shift{d.Name, by, math.Abs(by) * float64(d.PerUnit) / math.Max(float64(d.High-d.Low), 1)})
	}
	slices.SortStableFunc(all, func(a, b shift) int {
		switch {
		case a.part > b.part:
			return -1
		case a.part < b.part:
			return 1
		}
		return 0
	})
	var words []string
	for _, s := range all[:min(3, len(all))] {
		words = append(words, s.name+" "+plus(s.by))
	}
	for _, m := range v.Moved[len(st.Space.Dims):] {
		words = append(words, m.Name+": "+m.Kind)
	}
	return strings.Join(words, ", ")
}

// sentence says what the local searches came to.
func (s *Search) sentence() string {
	searches := "1 local search"
	if s.Searches != 1 {
		searches = fmt.Sprintf("%d local searches", s.Searches)
	}
	text := fmt.Sprintf("%s came to %s; ", searches, count(s.Answers, "distinct answer"))
	if s.Unseen >= 1 {
		text += "too few to say whether a better one is still unseen."
	} else {
		text += fmt.Sprintf("the chance that one more finds an answer not seen yet, better or not, is %s.", percent(s.Unseen))
	}
	if s.Partly {
		text += " There are more combinations of choices than were searched; the most promising were."
	}
	return text
}

// percent says a chance, an upper estimate, as a person would.
func percent(x float64) string {
	if x < 0.01 {
		return "below 1 %"
	}
	return fmt.Sprintf("about %.0f %%", 100*x)
}

// seen says how often an answer was come upon.
func (v *Verdict) seen() string {
	if v.Hits > 0 {
		return count(v.Hits, "hit")
	}
	return count(v.Near, "run") + " near it"
}

// pricesShown is how many prices the text has at most.
const pricesShown = 10

// costs says what the limits and the ends of ranges cost the best answer.
func (ans *Answer) costs(b *strings.Builder) {
	best := &ans.Answers[0]
	var says, nothing []string
	for _, p := range best.Prices {
		switch {
		case p.Gain == nil:
		case *p.Gain < leastGain*best.Score:
			nothing = append(nothing, p.Of+" "+p.End)
		case len(says) < pricesShown:
			says = append(says, p.Says)
		}
	}
	if says != nil || nothing != nil {
		b.WriteString("\nWhat more room would be worth, each alone and all else free to follow (by a local search from the best answer):\n")
	}
	for _, s := range says {
		fmt.Fprintf(b, "  %s\n", s)
	}
	if nothing != nil {
		fmt.Fprintf(b, "  Next to nothing, as something else holds at once: %s.\n", list(nothing))
	}
}

// frontShown is how many points of a front the text has at most.
const frontShown = 20

// compromises writes the front of a trade: its ends, its knee and what lies evenly between.
func (ans *Answer) compromises(b *strings.Builder) {
	f := ans.Front
	if f == nil {
		return
	}
	if len(f.Points) == 0 {
		fmt.Fprintf(b, "\nThe trade between %s found nothing that keeps every limit.\n", list(f.Targets))
		return
	}
	fmt.Fprintf(b, "\nThe best compromises between %s (%s; no other is better in one without being worse in another). The miss of each:\n", list(f.Targets), count(len(f.Points), "point"))
	w := tabwriter.NewWriter(b, 0, 0, 2, ' ', 0)
	fmt.Fprintf(w, "  run\t%s\tscore\t\n", strings.Join(f.Targets, "\t"))
	for _, i := range f.shown() {
		p := &f.Points[i]
		fmt.Fprintf(w, "  %d", p.Run)
		for _, m := range p.Misses {
			fmt.Fprintf(w, "\t%s", short(m))
		}
		knee := ""
		if p.Knee {
			knee = "the knee: from here, a little less of one costs most of another"
		}
		fmt.Fprintf(w, "\t%s\t%s\n", short(p.Score), knee)
	}
	w.Flush()
	if n := len(f.Volume); n > 1 {
		tenth := f.Volume[n-1-max(n/10, 1)]
		fmt.Fprintf(b, "The front covers a hypervolume of %s; over the last tenth of the rounds it grew by %s.\n", short(f.Volume[n-1]), growth(tenth, f.Volume[n-1]))
	}
}

// growth says by which part a volume grew.
func growth(was, is float64) string {
	if was <= 0 {
		return "all of it"
	}
	return fmt.Sprintf("%.2g %%", max(100*(is/was-1), 0))
}

// shown returns which points of a front a short table has.
func (f *Front) shown() (rows []int) {
	n := len(f.Points)
	for i, last := 0, -1; i < frontShown; i++ {
		if at := i * (n - 1) / (frontShown - 1); at != last || i == 0 {
			rows, last = append(rows, at), at
		}
	}
	for i := range f.Points {
		if !f.Points[i].Knee {
			continue
		}
		// In its place, or in that of the point shown nearest to it.
		near := 0
		for k, r := range rows {
			if abs(r-i) < abs(rows[near]-i) {
				near = k
			}
		}
		if n > frontShown {
			near = min(max(near, 1), len(rows)-2)
			rows[near] = i
		}
	}
	return rows
}

func abs(n int) int { return max(n, -n) }

// list joins names: a, b and c.
func list(names []string) string {
	if len(names) < 2 {
		return strings.Join(names, "")
	}
	return strings.Join(names[:len(names)-1], ", ") + " and " + names[len(names)-1]
}

func yes(b bool) string {
	if b {
		return "yes"
	}
	return "no"
}

func short(x float64) string { return fmt.Sprintf("%.3g", x) }

// decimals writes a coordinate without needless zeros.
func decimals(x float64) string {
	s := fmt.Sprintf("%.4f", x)
	s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	if s == "-0" {
		return "0"
	}
	return s
}

func plus(x float64) string {
	if x > 0 {
		return "+" + decimals(x)
	}
	return decimals(x)
}
