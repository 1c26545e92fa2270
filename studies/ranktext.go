package studies

import (
	"fmt"
	"strings"
	"text/tabwriter"
)

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
