package optimize

import (
	"context"
	"errors"
	"fmt"
	"runtime"
	"slices"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"pgregory.net/rapid"
)

// upTo returns 0 ... n-1.
func upTo(n int) []int {
	all := make([]int, n)
	for i := range all {
		all[i] = i
	}
	return all
}

// Results come out once each, in the order of the list, whatever the number of workers and however long
// each block takes; never more than a window is pending, and no two calls share a worker.
func TestMapKeepsOrder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		workers := rapid.IntRange(1, 9).Draw(t, "workers")
		window := workers + rapid.IntRange(0, 9).Draw(t, "more")
		blocks := rapid.SliceOfN(rapid.IntRange(0, 1000), 0, 60).Draw(t, "blocks")
		busy := make([]atomic.Int32, workers)
		var begun, emitted atomic.Int64
		var got []int
		stats, err := Map(context.Background(), Pool{Workers: workers, Window: window}, blocks, func(_ context.Context, w, b int) (int, error) {
			if busy[w].Add(1) != 1 {
				return 0, fmt.Errorf("worker %d does two blocks at a time", w)
			}
			if n := begun.Add(1) - emitted.Load(); n > int64(window) {
				return 0, fmt.Errorf("%d blocks pending in a window of %d", n, window)
			}
			for range b % 7 {
				runtime.Gosched()
			}
			busy[w].Add(-1)
			return 3 * b, nil
		}, func(b, v int) error {
			if v != 3*b {
				return fmt.Errorf("block %d has the result %d", b, v)
			}
			got = append(got, b)
			emitted.Add(1)
			return nil
		})
		if err != nil {
			t.Fatal(err)
		}
		if !slices.Equal(got, blocks) || stats.Blocks != len(blocks) {
			t.Fatalf("blocks %v came out as %v, %d counted", blocks, got, stats.Blocks)
		}
	})
}

// While a result is being emitted the workers go on until the window is full, and no further.
func TestMapFillsItsWindowAndNoMore(t *testing.T) {
	const workers, window, n = 3, 5, 40
	var begun atomic.Int64
	emitted := 0
	_, err := Map(context.Background(), Pool{Workers: workers, Window: window}, upTo(n), func(context.Context, int, int) (int, error) {
		begun.Add(1)
		return 0, nil
	}, func(int, int) error {
		full := int64(min(emitted+window, n))
		for begun.Load() < full {
			runtime.Gosched()
		}
		for range 200 {
			runtime.Gosched()
		}
		if b := begun.Load(); b > full {
			return fmt.Errorf("%d blocks begun with %d emitted", b, emitted)
		}
		emitted++
		return nil
	})
	if err != nil || emitted != n {
		t.Errorf("%v after %d blocks", err, emitted)
	}
}

// The first error in order stops the pool, after everything before it has been emitted, for every number
// of workers.
func TestMapStopsAtTheFirstError(t *testing.T) {
	noLeak(t)
	for workers := 1; workers <= 8; workers++ {
		var got []int
		_, err := Map(context.Background(), Pool{Workers: workers, Window: 2 * workers}, upTo(100), func(_ context.Context, _, b int) (int, error) {
			if b == 20 || b == 22 {
				return 0, fmt.Errorf("block %d is bad", b)
			}
			return b, nil
		}, func(b, v int) error { got = append(got, b); return nil })
		if err == nil || err.Error() != "block 20 is bad" || !slices.Equal(got, upTo(20)) {
			t.Errorf("%d workers: %v after %v", workers, err, got)
		}
	}
}

func TestMapStopsAtAnErrorOfEmit(t *testing.T) {
	noLeak(t)
	full := errors.New("the disk is full")
	var done atomic.Int64
	stats, err := Map(context.Background(), Pool{Workers: 3, Window: 6}, upTo(1000), func(_ context.Context, _, b int) (int, error) {
		done.Add(1)
		return b, nil
	}, func(b, _ int) error {
		if b == 10 {
			return full
		}
		return nil
	})
	if err != full || stats.Blocks != 10 || done.Load() > 10+1+6 {
		t.Errorf("%v after %d blocks emitted and %d done", err, stats.Blocks, done.Load())
	}
}

// A panic in a block comes back as an error with the block, the value and the stack of the place.
func TestMapBringsPanicsBack(t *testing.T) {
	noLeak(t)
	cause := errors.New("cause")
	_, err := Map(context.Background(), Pool{Workers: 2, Window: 4}, []int{7, 8, 9}, func(_ context.Context, _, b int) (int, error) {
		if b == 8 {
			panic(cause)
		}
		return b, nil
	}, func(int, int) error { return nil })
	var p *PanicError
	if !errors.As(err, &p) || p.Block != 8 || !errors.Is(err, cause) || !strings.Contains(string(p.Stack), "TestMapBringsPanicsBack") {
		t.Errorf("%v", err)
	}
	defer func() {
		if r := recover(); r != "in emit" {
			t.Errorf("a panic in emit comes out as %v", r)
		}
	}()
	Map(context.Background(), Pool{Workers: 2, Window: 4}, upTo(50), func(_ context.Context, _, b int) (int, error) { return b, nil }, func(int, int) error { panic("in emit") })
}

// When the context ends, blocks under way are told, those finished without a gap are emitted, and the
// cause comes back.
func TestMapEndsWithItsContext(t *testing.T) {
	noLeak(t)
	cause := errors.New("interrupted")
	for workers := 1; workers <= 5; workers++ {
		ctx, cancel := context.WithCancelCause(context.Background())
		var got []int
		stats, err := Map(ctx, Pool{Workers: workers, Window: 2 * workers}, upTo(1000), func(ctx context.Context, _, b int) (int, error) {
			if b == 30 {
				cancel(cause)
			}
			if b >= 30 {
				<-ctx.Done()
				return 0, context.Cause(ctx)
			}
			return b, nil
		}, func(b, _ int) error { got = append(got, b); return nil })
		if err != cause || !slices.Equal(got, upTo(30)) || stats.Blocks != 30 {
			t.Errorf("%d workers: %v after %v", workers, err, got)
		}
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if stats, err := Map(ctx, Pool{Workers: 2, Window: 2}, upTo(5), func(context.Context, int, int) (int, error) { return 0, nil }, func(int, int) error { return nil }); err != context.Canceled || stats.Blocks != 0 {
		t.Errorf("ended before it began: %v, %d blocks", err, stats.Blocks)
	}
	if _, err := Map(ctx, Pool{Workers: 2, Window: 2}, nil, func(context.Context, int, int) (int, error) { return 0, nil }, func(int, int) error { return nil }); err != nil {
		t.Errorf("nothing to do: %v", err)
	}
}

// Busy, idle and emit time are summed on a clock that ticks once per look.
func TestMapCountsTime(t *testing.T) {
	var ticks atomic.Int64
	stats, err := Map(context.Background(), Pool{Workers: 1, Window: 1, Clock: func() int64 { return ticks.Load() }}, upTo(10), func(context.Context, int, int) (int, error) {
		ticks.Add(3)
		return 0, nil
	}, func(int, int) error { ticks.Add(1); return nil })
	// With a window of one, a worker waits while its result is emitted: 10 times 3 busy, 10 times 1 idle.
	if err != nil || stats != (PoolStats{Blocks: 10, Busy: 30, Idle: 10, Emit: 10}) || stats.IdleShare() != 0.25 {
		t.Errorf("%+v, %v", stats, err)
	}
	stats.Add(PoolStats{Blocks: 1, Busy: 10, Idle: 0, Emit: 2})
	if stats != (PoolStats{Blocks: 11, Busy: 40, Idle: 10, Emit: 12}) || stats.IdleShare() != 0.2 {
		t.Errorf("%+v", stats)
	}
	if (&PoolStats{}).IdleShare() != 0 {
		t.Error("no time has an idle share")
	}
}

func TestMapRefusesAnImpossiblePool(t *testing.T) {
	for _, p := range []Pool{{Workers: 0, Window: 1}, {Workers: 3, Window: 2}} {
		func() {
			defer func() {
				if recover() == nil {
					t.Errorf("%+v is taken", p)
				}
			}()
			Map(context.Background(), p, nil, func(context.Context, int, int) (int, error) { return 0, nil }, func(int, int) error { return nil })
		}()
	}
}

// TestMapTicks: while a block is worked on, ticks come to the caller's goroutine; what they return ends Map,
// and whatever beats has ended with it.
func TestMapTicks(t *testing.T) {
	noLeak(t)
	release := make(chan struct{})
	stop := errors.New("enough")
	for _, want := range []error{nil, stop} {
		ticks, ended := 0, false
		pool := Pool{Workers: 2, Window: 2,
			Beat: func(ctx context.Context, tick func()) {
				for ctx.Err() == nil {
					tick()
					runtime.Gosched()
				}
				ended = true
			},
			OnTick: func() error {
				if ticks++; ticks < 3 {
					return nil
				}
				if want == nil && ticks == 3 {
					close(release)
				}
				return want
			},
		}
		do := func(ctx context.Context, _, block int) (int, error) {
			select {
			case <-release:
			case <-ctx.Done():
			}
			return block, ctx.Err()
		}
		stats, err := Map(context.Background(), pool, []int{1, 2, 3}, do, func(int, int) error { return nil })
		if !errors.Is(err, want) || ticks < 3 || !ended || (want == nil) != (stats.Blocks == 3) {
			t.Errorf("%v after %d ticks and %d blocks; want %v (beating ended: %v)", err, ticks, stats.Blocks, want, ended)
		}
		release = make(chan struct{})
	}
}

// noLeak checks at the end of a test that every goroutine it started has ended. Map waits for its own before it returns, but
// a goroutine that has said so is counted until its thread runs once more, which on a busy machine can take a while.
func noLeak(t *testing.T) {
	before := runtime.NumGoroutine()
	t.Cleanup(func() {
		for range 10_000 {
			if runtime.NumGoroutine() <= before {
				return
			}
			time.Sleep(time.Millisecond)
		}
		t.Errorf("%d goroutines before, %d after", before, runtime.NumGoroutine())
	})
}
