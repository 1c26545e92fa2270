package studies

import (
	"cmp"
	"math"
	"slices"

	"trammel/optimize"
)

// What makes two answers distinct, and how many are looked at and shown.
const (
	apart       = 0.1 // of a number's range
	groupsKept  = 200
	answersKept = 8
)

// answers returns the distinct answers of the study, the first the one to show, and says in ans what became of the local
// searches.
func (a *Archive) answers(ans *Answer) ([]cluster, error) {
	groups, err := a.distinct()
	if err != nil {
		return nil, err
	}
	best := a.Study.withAnswers(groups, a.refined(ans))
	ans.ties = a.tied(best)
	return best, nil
}

// tie is the share of the best score within which answers that keep every limit are as good as each other: far below what any
// workshop can tell apart. Of these the one that moves least from the design is the first, since it asks for the least work, and of
// equals the one with the most hits.
const tie = 1e-4

// tied puts the first answers that are as good as each other in order, and returns how many they are.
func (a *Archive) tied(best []cluster) (n int) {
	for n < len(best) && (n == 0 || best[0].Status == optimize.OK && best[n].Status == optimize.OK && best[n].Score-best[0].Score <= tie*best[0].Score) {
		n++
	}
	slices.SortStableFunc(best[:n], func(x, y cluster) int {
		return cmp.Or(cmp.Compare(a.farFromDesign(&x.leader), a.farFromDesign(&y.leader)), cmp.Compare(y.hits(), x.hits()))
	})
	return n
}

// farFromDesign returns how far the points of a candidate stand from where the file draws them: the root of the sum of squares, in
// the file's quanta.
func (a *Archive) farFromDesign(l *leader) float64 {
	sum := 0.0
	for i, p := range a.Study.geometry(&optimize.Point{X: l.X, Choice: l.Choice}, a.e).Points {
		for k, n := range p.N {
			by := float64(n - a.Study.base[i][k])
			sum += by * by
		}
	}
	return math.Sqrt(sum)
}

// hits returns how many local searches ended at an answer.
func (c *cluster) hits() int {
	if c.answer == nil {
		return 0
	}
	return c.answer.Hits
}

// cluster is the best run of a neighbourhood and how many recorded runs lie near it.
type cluster struct {
	leader
	near   int
	answer *optimize.Answer // of a local search; nil if none ended here
}

// distinct groups the recorded runs that keep every limit, or where none does those that break one: a
// run belongs to the first group whose best it is near in every number and choice. The best groups come
// first.
func (a *Archive) distinct() ([]cluster, error) {
	var kept, broken []cluster
	err := a.scan(func(run int64, p *optimize.Point, o *optimize.Outcome) {
		switch {
		case o.Status == optimize.OK:
			kept = a.Study.join(kept, run, p, o)
		case o.Status == optimize.OverLimit && kept == nil:
			broken = a.Study.join(broken, run, p, o)
		}
	})
	if kept == nil {
		kept = broken
	}
	return a.Study.merged(kept), err
}

// join puts a run into its group, or makes one of it. Groups stay in order of their best.
func (st *Study) join(all []cluster, run int64, p *optimize.Point, o *optimize.Outcome) []cluster {
	l := leader{Run: run, X: p.X, Choice: p.Choice, Status: o.Status, Score: o.Score, Over: o.Violation}
	at := slices.IndexFunc(all, func(c cluster) bool { return st.near(&c.leader, &l) })
	c := cluster{near: 1}
	if at >= 0 {
		was := all[at].outcome()
		if !optimize.Better(o, &was) {
			all[at].near++
			return all
		}
		c.near += all[at].near
		c.X, c.Choice = all[at].X[:0], all[at].Choice[:0]
		all = slices.Delete(all, at, at+1)
	} else if len(all) == groupsKept {
		was := all[len(all)-1].outcome()
		if !optimize.Better(o, &was) {
			return all
		}
		all = all[:len(all)-1]
	}
	l.X, l.Choice = append(c.X, p.X...), append(c.Choice, p.Choice...)
	c.leader = l
	to := len(all)
	for to > 0 {
		was := all[to-1].outcome()
		if !optimize.Better(o, &was) {
			break
		}
		to--
	}
	return slices.Insert(all, to, c)
}

// merged joins groups whose bests have come near each other, and keeps the first of what is left.
func (st *Study) merged(all []cluster) []cluster {
	var out []cluster
	for _, c := range all {
		if at := slices.IndexFunc(out, func(k cluster) bool { return st.near(&k.leader, &c.leader) }); at >= 0 {
			out[at].near += c.near
		} else {
			out = append(out, c)
		}
	}
	return out[:min(len(out), answersKept)]
}

func (st *Study) near(a, b *leader) bool {
	for i := range a.X {
		d := &st.Space.Dims[i]
		if math.Abs(a.X[i]-b.X[i])*float64(d.PerUnit) > apart*float64(d.High-d.Low) {
			return false
		}
	}
	return slices.Equal(a.Choice, b.Choice)
}

// withAnswers puts the answers of the local searches, where there are any, in the place of groups of runs: what
// ended elsewhere is no answer, unless it is better than all of them, found by another stage. A group whose best is
// near an answer belongs to it, and is its best where that is better.
func (st *Study) withAnswers(groups []cluster, answers []optimize.Answer) []cluster {
	var out []cluster
	for i := range answers {
		x := &answers[i]
		if len(groups) > 0 && groups[0].Status == optimize.OK && x.Outcome.Status != optimize.OK {
			continue // some runs keep every limit; this one does not
		}
		c := cluster{leader: leader{Run: x.Run, X: x.X, Choice: x.Choice, Status: x.Outcome.Status, Score: x.Outcome.Score, Over: x.Outcome.Violation, Far: 1}, answer: x}
		out = append(out, c)
	}
	for _, g := range groups {
		at := slices.IndexFunc(out, func(c cluster) bool { return st.near(&c.leader, &g.leader) })
		if at < 0 {
			is := g.outcome()
			if len(answers) == 0 || optimize.Better(&is, &answers[0].Outcome) {
				out = append(out, g)
			}
			continue
		}
		out[at].near += g.near
		was, is := out[at].outcome(), g.outcome()
		if optimize.Better(&is, &was) {
			out[at].leader = g.leader // found by another stage, or on the way
		}
	}
	slices.SortStableFunc(out, func(a, b cluster) int {
		x, y := a.outcome(), b.outcome()
		switch {
		case optimize.Better(&x, &y):
			return -1
		case optimize.Better(&y, &x):
			return 1
		}
		return 0
	})
	return out[:min(len(out), answersKept)]
}
