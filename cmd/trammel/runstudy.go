package main

import (
	"fmt"
	"io"
	"math"
	"os"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"trammel/studies"
)

func newRun(e *env) *cobra.Command {
	var o studies.RunOptions
	var example, until, shard string
	var quiet bool
	cmd := &cobra.Command{
		Use:   "run STUDY",
		Short: "Solve the runs of a study, or go on with them",
		Long: `run solves the runs of a study and keeps every one of them in the study folder, beside the study file unless
--out names another. Run again, it goes on where it stopped; the same study gives the same rows however
often it is stopped and with however many workers. Ctrl-C ends it cleanly; a second one kills it.

--shard 2/4 makes the second of four parts of the study, into a folder of its own; trammel gather joins them.
It stops where what is left needs the other parts. In a job array, --shard env reads the part from the
environment (SLURM_ARRAY_TASK_ID and its kin, or JOB_COMPLETION_INDEX with env/4).

--from OLDDIR begins a new study with the best runs of an older night, as far as both vary the same things; they
are kept in the new folder, which needs the older one no more.

A study that has a budget and no stages goes on with local searches from new starts until the budget is spent.

It begins by saying how many runs there will be, at most how long they take and how much disk they need, and
refuses what cannot fit the disk.

A study that was changed since its folder was made is refused, with what changed and what to type instead.

` + exitCodes,
		Example: `  trammel run corncrake-first-night.yaml
  trammel run corncrake-first-night.yaml --until 06:30
  trammel run second-night.yaml --from corncrake-first-night-runs
  trammel run --example corncrake`,
		Args: func(cmd *cobra.Command, args []string) error {
			if example == "" {
				return one("a study file")(cmd, args)
			}
			if len(args) > 0 {
				return usagef("trammel run takes a study file or --example, not both")
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			var path string
			if example == "" {
				path = args[0]
			} else {
				dir := example
				if o.Dir != "" {
					dir, o.Dir = o.Dir, ""
				}
				var err error
				if path, err = studies.WriteExample(dir, example); err != nil {
					return err
				}
			}
			if until != "" {
				var err error
				if o.Until, err = studies.ParseUntil(until, time.Now()); err != nil {
					return fmt.Errorf("--until: %w", err)
				}
			}
			if shard != "" {
				var err error
				if o.Shard, err = studies.ParseShard(shard, os.Getenv); err != nil {
					return err
				}
			}
			if o.Workers < 0 {
				return usagef("--workers is %d; write a number of 1 or more, or leave it out for one for each processor", o.Workers)
			}
			st, err := studies.ReadStudy(path)
			if err != nil {
				return err
			}
			show := newMeter(e.stderr)
			if !quiet {
				o.Progress = show.tell
				o.Announce = func(s string) { fmt.Fprintln(e.stderr, s) }
			}
			res, err := studies.Run(cmd.Context(), st, o)
			show.end()
			if err != nil {
				return err
			}
			return ended(e, res, quiet)
		},
	}
	f := cmd.Flags()
	f.StringVar(&o.Dir, "out", "", "`DIR` for the study folder; with --example, for the example's files")
	f.IntVar(&o.Workers, "workers", 0, "how many candidates to solve at once; 0 is one for each processor")
	f.StringVar(&shard, "shard", "", "make part `I/N` of the study alone, or env in a job array")
	f.StringVar(&until, "until", "", "stop at this time of day, `HH:MM`")
	f.StringVar(&o.From, "from", "", "begin with the best runs of an older night, in folder `OLDDIR`; they are kept with the new one")
	f.BoolVar(&quiet, "quiet", false, "show no progress")
	f.BoolVar(&o.Repair, "repair", false, "take out of the folder what is damaged, and make those runs again")
	f.StringVar(&example, "example", "", "write the files of example `NAME` and run it")
	return cmd
}

// ended prints how a run ended and turns it into an exit code.
func ended(e *env, res *studies.RunResult, quiet bool) error {
	if !quiet {
		for _, n := range res.Notes {
			fmt.Fprintln(e.stderr, sentence(n))
		}
	}
	fmt.Fprintln(e.stdout, res.Sentence)
	switch {
	case res.Ended == studies.Interrupted:
		return exit{code: exitInterrupted}
	case res.Ended == studies.BudgetSpent:
		return exit{code: exitBudget}
	case res.Ended == studies.ShardDone:
		return nil // what nothing feasible would mean is known of the whole
	case res.Feasible == 0:
		return exit{code: exitNoFeasible}
	}
	return nil
}

// meter shows progress: one line that changes on a terminal, a line now and then elsewhere.
type meter struct {
	w        io.Writer
	terminal bool
	last     time.Time
	width    int
}

// betweenLines is how often progress is written where it cannot be overwritten.
const betweenLines = 30 * time.Second

func newMeter(w io.Writer) *meter {
	m := &meter{w: w, last: time.Now()}
	if f, ok := w.(*os.File); ok {
		if info, err := f.Stat(); err == nil {
			m.terminal = info.Mode()&os.ModeCharDevice != 0
		}
	}
	return m
}

func (m *meter) tell(p studies.Progress) {
	line := progressLine(p)
	if m.terminal {
		fmt.Fprintf(m.w, "\r%-*s", m.width, line)
		m.width = len(line)
		return
	}
	if now := time.Now(); now.Sub(m.last) >= betweenLines {
		m.last = now
		fmt.Fprintln(m.w, line)
	}
}

func (m *meter) end() {
	if m.terminal && m.width > 0 {
		fmt.Fprintln(m.w)
	}
}

// progressLine is how far a run has come, in one line.
func progressLine(p studies.Progress) string {
	runs := fmt.Sprintf("%d of %d runs", p.Runs, p.Expected)
	switch {
	case p.Expected == 0:
		runs = fmt.Sprintf("%d runs", p.Runs)
	case p.AtMost:
		runs = fmt.Sprintf("%d of at most %d runs", p.Runs, p.Expected)
	}
	parts := []string{runs, fmt.Sprintf("%.0f/s", p.PerSecond), fmt.Sprintf("%.0f%% feasible", 100*p.Feasible)}
	if !math.IsNaN(p.Best) {
		parts = append(parts, fmt.Sprintf("best score %.3g", p.Best))
	}
	if p.Left > 0 {
		parts = append(parts, p.Left.Round(time.Second).String()+" left")
	}
	if p.Stage != "" {
		parts = append(parts, p.Stage)
	}
	switch {
	case p.Answers == 1:
		parts = append(parts, "1 answer found")
	case p.Answers > 1:
		parts = append(parts, fmt.Sprintf("%d distinct answers found", p.Answers))
	}
	return strings.Join(parts, ", ")
}
