package studies

import (
	"context"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"trammel/studies/files"
	"trammel/studies/record"
)

// A forecast says the same of speed whether something ends the study or not, and at most how long what has an end takes.
func TestForecastSentence(t *testing.T) {
	st := mustBind(t, night(t))
	now := time.Date(2026, 11, 29, 20, 50, 0, 0, time.UTC)
	base := forecast{workers: 2, rate: 400, steepRate: 50, runBytes: 1000, keeps: 1, keepsSure: true}
	for _, c := range []struct {
		name   string
		change func(f *forecast, b *files.Budget)
		want   string
	}{
		{"a plan", func(f *forecast, b *files.Budget) { f.runs = 8000 },
			"8,000 runs of 63 positions; a core of this machine made 400 a second in a short trial, so that is about 10 seconds with 2 workers and about 8 MB of disk"},
		{"local searches", func(f *forecast, b *files.Budget) { f.runs, f.steep, f.atMost = 20_000, 12_000, true },
			"At most 20,000 runs of 63 positions, and as a rule far fewer, for local searches end when they have arrived; a core of this machine made 400 a second in a short trial, and 50 with the derivatives that local searches ask for, so that is at most about 2 minutes with 2 workers; they take at most 20 MB of disk"},
		{"a budget of runs", func(f *forecast, b *files.Budget) { f.runs, f.steep, f.limited = 12_000, 12_000, true },
			"12,000 runs of 63 positions, by the budget; a core of this machine made 400 a second in a short trial, and 50 with the derivatives that local searches ask for, so that is at most about 2 minutes with 2 workers and about 12 MB of disk"},
		{"a budget of time", func(f *forecast, b *files.Budget) { b.Time = time.Hour; f.ending(b.Time, deadline{}) },
			"It goes on until its budget is spent: about 100 runs a second on 2 workers with the derivatives that local searches ask for (a core made 50 a second in a short trial, and 400 without derivatives), about 360 MB of disk an hour"},
		{"a budget of disk", func(f *forecast, b *files.Budget) { b.Disk = 6e6 },
			"It goes on until its budget is spent: about 100 runs a second on 2 workers with the derivatives that local searches ask for (a core made 50 a second in a short trial, and 400 without derivatives), about 360 MB of disk an hour, so that 6 MB are full after about 60 seconds"},
		{"a time of day", func(f *forecast, b *files.Budget) { f.ending(0, deadline{0, now, now.Add(10 * time.Hour)}) },
			"It goes on until 06:50 tomorrow: about 100 runs a second on 2 workers with the derivatives that local searches ask for (a core made 50 a second in a short trial, and 400 without derivatives), about 360 MB of disk an hour"},
		{"a plan and a time of day", func(f *forecast, b *files.Budget) {
			f.runs = 8000
			f.ending(0, deadline{0, now, now.Add(time.Hour)})
		}, "8,000 runs of 63 positions; a core of this machine made 400 a second in a short trial, so that is about 10 seconds with 2 workers and about 8 MB of disk; it stops at 21:50 at the latest"},
	} {
		f := base
		st.poses = 63
		st.File.Budget = files.Budget{}
		c.change(&f, &st.File.Budget)
		if got := f.sentence(st, 0); got != c.want {
			t.Errorf("%s:\n%s\nwant\n%s", c.name, got, c.want)
		}
	}
}

// A time of day that is past today is tomorrow's, and its day is said.
func TestClock(t *testing.T) {
	now := time.Date(2026, 12, 31, 20, 50, 30, 0, time.UTC)
	for text, want := range map[string]string{"20:47": "20:47 tomorrow", "20:50": "20:50 tomorrow", "20:51": "20:51", "23:59": "23:59", "00:00": "00:00 tomorrow", "06:30": "06:30 tomorrow"} {
		at, err := ParseUntil(text, now)
		if err != nil {
			t.Fatal(err)
		}
		if got := clock(now, at); got != want {
			t.Errorf("%s at 20:50:30 is %q, want %q", text, got, want)
		}
	}
	if got := clock(now, now.Add(72*time.Hour)); got != "20:50 on 2027-01-03" {
		t.Errorf("in three days is %q", got)
	}
}

// A study with a budget of time, or a time of day to stop at, on a disk that holds a small part of what it would write is
// refused before a folder is made; the budget of disk that the sentence offers is taken.
func TestDiskTooSmallForTheNight(t *testing.T) {
	for name, c := range map[string]struct {
		budget time.Duration
		until  time.Duration
		room   int64
		offers bool
	}{
		"less than must stay free": {budget: 8000 * time.Hour, room: 3e6},
		"room for some of it":      {budget: 8000 * time.Hour, room: 40e6, offers: true},
		"a time of day":            {until: 8000 * time.Hour, room: 40e6, offers: true},
	} {
		f, dir := night(t), filepath.Join(t.TempDir(), "night")
		f.Stages = []files.Stage{{Kind: files.Refine, Locals: 64, Onward: true}}
		f.Budget.Time = c.budget
		o := RunOptions{Dir: dir, Record: diskOf(c.room), Announce: func(string) {}}
		if c.until > 0 {
			o.Until = time.Now().Add(c.until)
		}
		for _, quiet := range []bool{false, true} {
			if quiet {
				o.Announce = nil
			}
			_, err := Run(context.Background(), f, o)
			wantUsage(t, name, err, "its runs need about", "of disk for about 8000.0 hours of work", "must stay", "--out")
			if record.Exists(dir) {
				t.Fatalf("%s: a folder was made", name)
			}
			match := regexp.MustCompile("`budget: {disk: ([0-9]+)MB}` stops it there, after about").FindStringSubmatch(err.Error())
			if (match != nil) != c.offers {
				t.Errorf("%s: offers of a budget of disk: %v", name, err)
			}
			if several := strings.Contains(err.Error(), "One of these fits"); several != c.offers {
				t.Errorf("%s: ways out: %v", name, err)
			}
			if match == nil {
				continue
			}
			with := *f
			mega, _ := strconv.ParseInt(match[1], 10, 64)
			with.Budget.Disk = mega * 1e6
			st := mustBind(t, &with)
			st.onward = true
			fc, err := st.forecast(1, deadline{0, time.Now(), o.Until})
			if err != nil {
				t.Fatal(err)
			}
			if err := st.fits(fc, dir, record.Counts{}, 0, o.Record.Free); err != nil {
				t.Errorf("%s: a budget of %d MB: %v", name, mega, err)
			}
		}
	}
}

// A changed study is refused before anything is foretold of it.
func TestChangedIsRefusedFirst(t *testing.T) {
	f, dir := night(t), filepath.Join(t.TempDir(), "night")
	run(t, f, RunOptions{Dir: dir})
	changed := night(t)
	changed.Seed++
	var said []string
	_, err := Run(context.Background(), changed, RunOptions{Dir: dir, Announce: func(s string) { said = append(said, s) }})
	wantUsage(t, "another seed", err, "its seed has changed")
	if said != nil {
		t.Errorf("before the refusal it is announced: %q", said)
	}
}
