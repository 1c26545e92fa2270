package main

import (
	"encoding/binary"
	"math"

	"trammel/optimize"
)

// known is an evaluator that remembers: a search that converges on a lattice comes to the same points again and again. It
// counts for nothing in a measurement, since evaluations are counted by whoever asks.
type known struct {
	e    optimize.Evaluator
	at   map[string]verdict
	key  []byte
	most int
}

// verdict is what a plain evaluation is remembered by; searches without derivatives need no more.
type verdict struct {
	status                    optimize.Status
	reached, score, violation float64
}

func remembering(e optimize.Evaluator) *known {
	return &known{e: e, at: map[string]verdict{}, most: 500_000}
}

// Evaluate implements optimize.Evaluator. A remembered outcome has no R and no G.
func (k *known) Evaluate(p *optimize.Point, o *optimize.Outcome) {
	if p.Derivatives {
		k.e.Evaluate(p, o)
		return
	}
	k.key = k.key[:0]
	for _, x := range p.X {
		k.key = binary.LittleEndian.AppendUint64(k.key, math.Float64bits(x))
	}
	for _, c := range p.Choice {
		k.key = binary.LittleEndian.AppendUint64(k.key, uint64(c))
	}
	if v, ok := k.at[string(k.key)]; ok {
		o.Status, o.Reached, o.Score, o.Violation = v.status, v.reached, v.score, v.violation
		return
	}
	k.e.Evaluate(p, o)
	if len(k.at) < k.most {
		k.at[string(k.key)] = verdict{o.Status, o.Reached, o.Score, o.Violation}
	}
}
