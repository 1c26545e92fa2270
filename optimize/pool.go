package optimize

import (
	"context"
	"errors"
	"fmt"
	"runtime/debug"
	"sync"
	"sync/atomic"
)

// Pool says how Map works.
type Pool struct {
	Workers int          // goroutines, at least 1
	Window  int          // results that may be pending, at least Workers; twice as many keep every worker busy
	Clock   func() int64 // monotonic nanoseconds, for PoolStats; nil leaves the times at 0. Called from all workers

	// Beat, if there is one, runs beside the workers and calls tick now and then until ctx ends. While Map
	// waits for a block it then calls OnTick, on the caller's goroutine; an error ends Map as one of emit does.
	Beat   func(ctx context.Context, tick func())
	OnTick func() error
}

// PoolStats says what the workers did. Times are in nanoseconds, summed over all workers.
type PoolStats struct {
	Blocks int   // emitted
	Busy   int64 // inside do
	Idle   int64 // waiting for the window to move on, or for the last blocks to end
	Emit   int64 // inside emit, on the caller's goroutine; no part of Busy or Idle
}

// Add adds what another call of Map did.
func (s *PoolStats) Add(t PoolStats) {
	s.Blocks += t.Blocks
	s.Busy += t.Busy
	s.Idle += t.Idle
	s.Emit += t.Emit
}

// IdleShare returns the share of the workers' time in which they had nothing to do, 0 to 1.
func (s *PoolStats) IdleShare() float64 {
	if s.Busy+s.Idle <= 0 {
		return 0
	}
	return float64(s.Idle) / float64(s.Busy+s.Idle)
}

// PanicError is a panic in a block, brought to the caller of Map.
type PanicError struct {
	Block int
	Value any    // what was handed to panic
	Stack []byte // of the goroutine that panicked
}

// Error names the block and what was handed to panic; the stack is left to the caller to print.
func (e *PanicError) Error() string {
	return fmt.Sprintf("block %d could not be finished, which is a fault in the program: %v", e.Block, e.Value)
}

// Unwrap returns the value handed to panic if it is an error.
func (e *PanicError) Unwrap() error {
	err, _ := e.Value.(error)
	return err
}

// Map calls do for every one of blocks on the pool's workers, and emit with the results, in the order
// of blocks, on the caller's goroutine. worker counts from 0 and no two calls with the same worker
// overlap, so it can name memory to work in. Which worker gets which block is left to chance.
//
// It stops at the first block, in order, whose do returns an error or panics (then the error is a
// *PanicError), at the first error of emit, and when ctx ends; the context handed to do ends with it.
// When ctx ends, blocks that had been finished without a gap are still emitted and the error is ctx's
// cause. No goroutine outlives the call.
func Map[T any](ctx context.Context, pool Pool, blocks []int, do func(ctx context.Context, worker, block int) (T, error), emit func(block int, v T) error) (PoolStats, error) {
	if pool.Workers < 1 || pool.Window < pool.Workers {
		panic(fmt.Sprintf("optimize: a pool of %d workers with a window of %d; it needs a worker, and a window no smaller than their number", pool.Workers, pool.Window))
	}
	m := &mapping[T]{blocks: blocks, do: do, clock: pool.Clock, results: make([]chan result[T], pool.Window), free: make(chan struct{}, pool.Window)}
	if m.clock == nil {
		m.clock = func() int64 { return 0 }
	}
	for i := range m.results {
		m.results[i] = make(chan result[T], 1)
		m.free <- struct{}{}
	}
	began := m.clock()
	inner, cancel := context.WithCancel(ctx)
	var group sync.WaitGroup
	workers := min(pool.Workers, max(len(blocks), 1))
	for w := range workers {
		group.Go(func() { m.work(inner, w) })
	}
	if pool.Beat != nil {
		ticks := make(chan struct{}, 1)
		m.ticks, m.onTick = ticks, pool.OnTick
		group.Go(func() {
			pool.Beat(inner, func() {
				select {
				case ticks <- struct{}{}:
				default: // one is waiting
				}
			})
		})
	}
	defer group.Wait() // also when emit panics
	defer cancel()

	stats, err := m.collect(ctx, emit)
	ended := m.clock()
	cancel()
	group.Wait()
	if err == nil && stats.Blocks < len(blocks) {
		err = m.drain(&stats, emit)
		if err == nil && stats.Blocks < len(blocks) {
			err = context.Cause(ctx)
		}
	}
	stats.Busy = m.busy.Load()
	stats.Idle = max(int64(pool.Workers)*(ended-began)-stats.Busy, 0)
	return stats, err
}

type result[T any] struct {
	value T
	err   error
}

// mapping is one call of Map. A worker takes a token from free and then the next position; the token
// comes back when a result has been emitted. So positions in flight stay within one window of the last
// one emitted, and each has the channel results[position % window] to itself.
type mapping[T any] struct {
	blocks  []int
	do      func(ctx context.Context, worker, block int) (T, error)
	clock   func() int64
	results []chan result[T]
	free    chan struct{}
	next    atomic.Int64
	busy    atomic.Int64
	ticks   <-chan struct{} // nil without a Beat
	onTick  func() error
}

func (m *mapping[T]) work(ctx context.Context, worker int) {
	for {
		select {
		case <-m.free:
		case <-ctx.Done():
			return
		}
		if ctx.Err() != nil {
			return
		}
		at := int(m.next.Add(1) - 1)
		if at >= len(m.blocks) {
			return
		}
		began := m.clock()
		v, err := m.call(ctx, worker, m.blocks[at])
		m.busy.Add(m.clock() - began)
		m.results[at%len(m.results)] <- result[T]{v, err}
	}
}

func (m *mapping[T]) call(ctx context.Context, worker, block int) (v T, err error) {
	defer func() {
		if r := recover(); r != nil {
			err = &PanicError{Block: block, Value: r, Stack: debug.Stack()}
		}
	}()
	return m.do(ctx, worker, block)
}

// collect emits results in order until all are out, one is an error, or ctx ends.
func (m *mapping[T]) collect(ctx context.Context, emit func(int, T) error) (stats PoolStats, err error) {
	for at, block := range m.blocks {
		var r result[T]
		for waiting := true; waiting; {
			if ctx.Err() != nil {
				return stats, nil
			}
			select {
			case r = <-m.results[at%len(m.results)]:
				waiting = false
			case <-m.ticks:
				if err := m.onTick(); err != nil {
					return stats, err
				}
			case <-ctx.Done():
				return stats, nil
			}
		}
		if r.err != nil {
			if ctx.Err() != nil && !isPanic(r.err) {
				return stats, context.Cause(ctx)
			}
			return stats, r.err
		}
		if err := m.emit(&stats, block, r.value, emit); err != nil {
			return stats, err
		}
		m.free <- struct{}{}
	}
	return stats, nil
}

func isPanic(err error) bool {
	var p *PanicError
	return errors.As(err, &p)
}

// drain emits what had been finished, in order and without a gap, after ctx has ended and the workers
// have stopped.
func (m *mapping[T]) drain(stats *PoolStats, emit func(int, T) error) error {
	for at := stats.Blocks; at < len(m.blocks); at++ {
		select {
		case r := <-m.results[at%len(m.results)]:
			if isPanic(r.err) {
				return r.err // a fault of the program is told even when the run is being stopped
			}
			if r.err != nil {
				return nil
			}
			if err := m.emit(stats, m.blocks[at], r.value, emit); err != nil {
				return err
			}
		default:
			return nil
		}
	}
	return nil
}

func (m *mapping[T]) emit(stats *PoolStats, block int, v T, emit func(int, T) error) error {
	began := m.clock()
	err := emit(block, v)
	stats.Emit += m.clock() - began
	if err == nil {
		stats.Blocks++
	}
	return err
}
