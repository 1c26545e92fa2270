package main

import (
	"github.com/spf13/cobra"

	"trammel/studies"
)

func newCurves(e *env) *cobra.Command {
	var runs []int64
	var out tableFlags
	cmd := &cobra.Command{
		Use:   "curves DIR",
		Short: "The curves of any run",
		Long: `curves lists what a run does along every motion of its study, a row for each position, to the same digits as
when it was run. Without --run it takes the best run. DIR is the study folder or the study file.`,
		Example: "  trammel curves corncrake-first-night.yaml\n  trammel curves corncrake-first-night.yaml --run 10000000000042 --format csv -o run42.csv",
		Args:    one("a study folder or a study file"),
		RunE: func(cmd *cobra.Command, args []string) error {
			a, err := studies.OpenArchive(args[0])
			if err != nil {
				return err
			}
			if len(runs) == 0 {
				runs = []int64{studies.BestRun}
			}
			t, err := a.Curves(runs)
			if err != nil {
				return err
			}
			return out.write(e, t)
		},
	}
	cmd.Flags().Int64SliceVar(&runs, "run", nil, "`N` of the run, or several with commas; the best when left out")
	out.add(cmd)
	return cmd
}
