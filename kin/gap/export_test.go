package gap

import "math"

// Search sets t for a box or a ring, and a ring, by the search alone, and quick by the ways before it if one of them answers.
func Search(a, b *Solid, t, quick *Touch) (answers bool) {
	*t, *quick = Touch{}, Touch{}
	var s, o section
	s.set(b)
	if a.Kind == Box {
		var k cuboid
		k.set(a)
		q := crated(&k, &s)
		q.search(t)
		return !s.embraces(k.c) && boxRingOutside(&k, &s, quick) || q.corners(quick)
	}
	o.set(a)
	p := coupled(&o, &s)
	var tried survey
	answers = p.quick(quick) || p.through(&tried, quick)
	seen := survey{best: math.Inf(1)}
	for i := range p {
		seen.sight(&p, i, false)
		seen.sight(&p, i, true)
	}
	p.search(&seen, t)
	return answers
}
