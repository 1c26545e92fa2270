package studies

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"trammel/kin"
	"trammel/optimize"
	"trammel/studies/record"
)

// Stop is where candidates stop on their way through the motions: all of them for one reason in one motion.
type Stop struct {
	Motion string `json:"motion,omitempty"` // "": at design already
	Reason string `json:"reason"`           // in words
	Place  string `json:"place,omitempty"`  // the commonest
	Runs   int64  `json:"runs"`
}

// stops counts where candidates stop.
type stops struct {
	st  *Study
	all map[stopKind]map[kin.Position]int64
}

type stopKind struct{ motion, reason string }

func (s *stops) add(motion, reason string, at kin.Position) {
	if s.all == nil {
		s.all = map[stopKind]map[kin.Position]int64{}
	}
	k := stopKind{motion, reason}
	if s.all[k] == nil {
		s.all[k] = map[kin.Position]int64{}
	}
	s.all[k][at]++
}

// sorted returns where candidates stop, the commonest first.
func (s *stops) sorted() []Stop {
	var out []Stop
	for k, places := range s.all {
		stop := Stop{Motion: k.motion, Reason: k.reason}
		var most kin.Position
		for at, n := range places {
			stop.Runs += n
			if n > places[most] || n == places[most] && earlier(at, most) {
				most = at
			}
		}
		if k.motion != "" {
			stop.Place = (&mover{g: s.st.File.Geometry}).sayAt(s.st.wayOf(k.motion), most)
		}
		out = append(out, stop)
	}
	slices.SortFunc(out, func(a, b Stop) int {
		return cmp.Or(cmp.Compare(b.Runs, a.Runs), cmp.Compare(a.Motion, b.Motion), cmp.Compare(a.Reason, b.Reason))
	})
	return out
}

// earlier puts places into an order of their own.
func earlier(a, b kin.Position) bool {
	return cmp.Or(cmp.Compare(a.Wheel, b.Wheel), cmp.Compare(a.Rack, b.Rack), cmp.Compare(a.Roll, b.Roll)) < 0
}

// wayOf returns how a motion of the study moves, by its name.
func (st *Study) wayOf(motion string) way {
	for i := range st.File.Motions {
		if st.File.Motions[i].Name == motion {
			return travelsOf(&st.File.Motions[i]).way
		}
	}
	return way{}
}

// where says where candidates stop, in the part of a sentence after how many.
func (s *Stop) where() string {
	switch {
	case s.Motion == "":
		return fmt.Sprintf("at design, where %s", s.Reason)
	case strings.HasSuffix(s.Place, ","):
		return fmt.Sprintf("in %s, where %s, most often at %s", s.Motion, s.Reason, strings.TrimSuffix(s.Place, ","))
	}
	return fmt.Sprintf("in %s, where %s, most often at %s", s.Motion, s.Reason, s.Place)
}

// stopsTold is how many places at which candidates stop a text has at most.
const stopsTold = 3

// stuck reads from the record where the runs stop that do not go through every motion.
func (a *Archive) stuck() ([]Stop, error) {
	s := stops{st: a.Study}
	columns := []string{"status", "reason", "place_motion", "place_wheel_travel_mm", "place_rack_travel_mm", "place_body_roll_deg"}
	failed := map[string]bool{}
	for _, k := range optimize.Statuses() {
		failed[k.String()] = k.Failed()
	}
	err := a.view.Scan(record.TableRuns, columns, func(r *record.Rows) error {
		for row := range r.Len() {
			if word, _ := r.TextAt(0, row); !failed[word] {
				continue
			}
			reason, _ := r.TextAt(1, row)
			motion, _ := r.TextAt(2, row)
			wheel, _ := r.FloatAt(3, row)
			rack, _ := r.FloatAt(4, row)
			roll, _ := r.FloatAt(5, row)
			s.add(motion, reason, position(wheel, rack, roll))
		}
		return nil
	})
	return s.sorted(), err
}

// stuckText says where the runs of a study stop of which none goes through every motion, and how far its design goes.
func (ans *Answer) stuckText(b *strings.Builder) {
	b.WriteString("No run goes through every motion, so there is no answer.\n")
	for i := range ans.Stops {
		if s := &ans.Stops[i]; i < stopsTold {
			fmt.Fprintf(b, "  %s of %s stop %s.\n", thousands(s.Runs), thousands(ans.Recorded), s.where())
		}
	}
	for _, s := range ans.archive.Study.designStops() {
		fmt.Fprintf(b, "%s.\n", s)
	}
	b.WriteString("Shorter motions, or ranges that lead away from there, may help.\n")
}

// designStops says of each motion that the design does not go through where it stops and how far it goes, in sentences without
// their ends; none where it goes through all.
func (st *Study) designStops() []string {
	if st.start != nil {
		return nil
	}
	m, err := newMover(st.File.Geometry)
	if err != nil {
		return []string{strings.TrimSuffix(err.Error(), ".")}
	}
	var out []string
	for i := range st.File.Motions {
		f := &st.File.Motions[i]
		tr, sweep := travelsOf(f), st.sweeps[i]
		if _, failure := m.state.Run(sweep, make([]float64, sweep.Size())); failure.Status != kin.OK {
			where := ""
			if f.Pos.Line > 0 {
				where = fmt.Sprintf(" (%s:%d:%d)", st.File.Path, f.Pos.Line, f.Pos.Column)
			}
			out = append(out, fmt.Sprintf("The design does not go through %s%s: %s", f.Name, where, m.stopped(failure, sweep.Columns, &tr)))
		}
	}
	return out
}
