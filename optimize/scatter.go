package optimize

// scatterStage is the stage of keys of a Scatter; no stage of a study has this number (see checkKey).
const scatterStage = 1000

// Scatter is an endless sequence of points of a unit cube, the same for whoever asks with the same seed: common random
// numbers, by which two candidates are compared under the same errors. The first 256 coordinates are a scrambled Sobol
// sequence (see sobol), whose first 2ᵏ points are evenly spread; those beyond, for which the sequence is not known, are
// plain random numbers. A Scatter belongs to one worker.
type Scatter struct {
	even   *sobol
	stream Stream
	n      int
	work   []uint32
}

// NewScatter returns the sequence in n coordinates.
func NewScatter(n int, seed uint64) *Scatter {
	k := Key{Seed: seed, Stage: scatterStage}
	even, err := newSobol(min(n, sobolDims), true, k)
	if err != nil {
		panic("optimize: NewScatter: " + err.Error())
	}
	return &Scatter{even: even, stream: NewStream(k), n: n, work: make([]uint32, min(n, sobolDims))}
}

// At stores point i in u, which has n elements; each is at least 0 and below 1. It allocates nothing.
func (s *Scatter) At(u []float64, i uint32) {
	if len(u) != s.n {
		panic("optimize: Scatter: a point of another size")
	}
	k := len(s.work)
	s.even.fill(u[:k], i, s.work)
	s.stream.Seek(uint64(i))
	for d := k; d < s.n; d++ {
		u[d] = s.stream.Float64()
	}
}
