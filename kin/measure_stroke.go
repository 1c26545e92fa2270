package kin

// strokeMeasures are how much is left of what a part can do before it comes to an end of its own.
var strokeMeasures = []Measure{
	{Name: "closing_left", Of: ofKinds(Damper, Spring, Strut, Distance), Unit: Millimetre, Scale: 1, Sign: "- shorter than it can be",
		Line:   "how much shorter it can still become",
		Long:   "Length between its ends less the least that the part allows, length: {min: ...}: of a damper, the stroke left until it is closed.",
		refuse: needs(func(s *Stroke) float64 { return s.Closed }, "is given no least length, so nothing says how far it closes: length: {min: ...}"),
		build:  func(b *builder) ref { return b.diff(b.length(), b.g.constant(b.stroke().Closed)) }},
	{Name: "opening_left", Of: ofKinds(Damper, Spring, Strut, Distance), Unit: Millimetre, Scale: 1, Sign: "- longer than it can be",
		Line:   "how much longer it can still become",
		Long:   "The greatest length that the part allows, length: {max: ...}, less the length between its ends: of a damper, the stroke left until it is open; of a limit strap, its slack.",
		refuse: needs(func(s *Stroke) float64 { return s.Open }, "is given no greatest length, so nothing says how far it opens: length: {max: ...}"),
		build:  func(b *builder) ref { return b.diff(b.g.constant(b.stroke().Open), b.length()) }},
	{Name: "stop_crush", Of: ofKinds(Damper, Spring, Strut), Unit: Millimetre, Scale: 1, Sign: "+ on the bump stop, - clear of it",
		Line:   "how far the bump stop is crushed",
		Long:   "The length at which the bump stop is met, length: {stop: ...}, less the length between the ends; negative, it is the gap that is left to the stop.",
		refuse: needs(func(s *Stroke) float64 { return s.Stop }, "is given no length at which its bump stop is met: length: {stop: ...}"),
		build:  func(b *builder) ref { return b.diff(b.g.constant(b.stroke().Stop), b.length()) }},
	{Name: "solid_left", Of: ofKinds(Spring), Unit: Millimetre, Scale: 1, Sign: "- coil bound",
		Line:   "how much shorter it can still become before its coils touch",
		Long:   "Length between its ends less the length at which the coils of the spring touch, length: {solid: ...}.",
		refuse: needs(func(s *Stroke) float64 { return s.Solid }, "is given no length at which its coils touch: length: {solid: ...}"),
		build:  func(b *builder) ref { return b.diff(b.length(), b.g.constant(b.stroke().Solid)) }},
}

// needs refuses a measure of a member whose part was not given a length.
func needs(length func(*Stroke) float64, why string) func(*Program, *instance) string {
	return func(p *Program, in *instance) string {
		if length(&p.linkage.Members[in.member].Stroke) == 0 {
			return why
		}
		return ""
	}
}

func (b *builder) stroke() *Stroke { return &b.p.linkage.Members[b.in.member].Stroke }
