package kin

// Coordinates returns how many coordinates all part points have: three for each.
func (p *Program) Coordinates() int { return 3 * len(p.parts) }

// checkParts refuses room for the derivatives with part points that does not fit, and a sweep that does not look at
// every part.
func (s *State) checkParts(sw *Sweep, d *Slopes) {
	switch {
	case d.Parts == nil:
	case len(d.Parts) != sw.Size()*s.prog.Coordinates():
		panic("kin: RunSlopes: derivatives with part points of another layout")
	case sw.half:
		panic("kin: RunSlopes: derivatives with part points, and the sweep is for design changes alone")
	}
}

// partsOf returns the row of Slopes.Parts that belongs to a value; nil where there is none.
func (s *State) partsOf(d *Slopes, at int) []float64 {
	if d.Parts == nil {
		return nil
	}
	n := s.prog.Coordinates()
	return d.Parts[at*n : (at+1)*n]
}

// takeParts fills into with the derivative of the output that pullOutput has just run backwards: x, y and z of the first
// part point, then those of the next, in the order and the coordinates of PartPoints, so that the value of a linkage
// built with small errors e is
//
//	y(e) = y(0) + into·e
//
// for the errors that SetBuild takes. What no build changes (PartPoint.Owner is "") has 0. One pass backwards holds all of
// it, so that every part of a car costs no more than one direction.
func (s *State) takeParts(into []float64) {
	if into == nil {
		return
	}
	for i, o := range s.bar.own {
		if s.prog.parts[i].owner == "" {
			clear(into[3*i : 3*i+3])
			continue
		}
		into[3*i], into[3*i+1], into[3*i+2] = o.X, o.Y, o.Z
	}
}
