package files

import "go.yaml.in/yaml/v4"

// What could not be read says nothing of the other parts, and a sentence about what follows from its absence would be a false
// one: whoever obeys it spoils a good line. So a part with a mistake is remembered, with the points that it names.

// part reads a member, a solid or the wheel that has so many points; read tells whether it can be used.
func (g *draft) part(f field, points int, read func() bool) {
	before := len(*g.w.problems)
	if read() && len(*g.w.problems) == before {
		return
	}
	g.doubtful = true
	if f.key != nil {
		g.faulty[f.key.Value] = true
	}
	if g.markPoints(f.node) < points {
		g.anyPoint = true
	}
}

// markPoints notes every point that is named anywhere in a value, and counts them.
func (g *draft) markPoints(n *yaml.Node) int {
	count := 0
	name, _ := cutOpposite(bareName(n.Value))
	if _, there := g.index[name]; there && n.Kind == yaml.ScalarNode {
		g.meant[name] = true
		count++
	}
	for i, c := range n.Content {
		if n.Kind != yaml.MappingNode || i%2 == 1 {
			count += g.markPoints(c)
		}
	}
	return count
}

// inDoubt tells whether a part with a mistake may use a point.
func (g *draft) inDoubt(point string) bool { return g.anyPoint || g.meant[point] }

// pointsOf returns how many points an entry of members or across has, by the kind that it says it is; one that does not say it
// has as many as a wishbone.
func pointsOf(f field) int {
	word := kindWord(f)
	if word == "" {
		return forms[kindOf["arm"]].points + forms[kindOf["arm"]].balls
	}
	form := forms[kindOf[word]]
	return form.points + form.balls
}
