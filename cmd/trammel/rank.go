package main

import (
	"fmt"
	"io"

	"github.com/spf13/cobra"

	"trammel/studies"
)

func newRank(e *env) *cobra.Command {
	out := tableFlags{}
	var targets string
	cmd := &cobra.Command{
		Use:   "rank DIR",
		Short: "The answer in words, and what moved",
		Long: `rank says what a study found: the answer in a paragraph, what moved (point, was, now, by), and one line for
each distinct answer; after local searches how often each was found, and what limits and the ends of ranges cost;
after a trade the front between its targets; or, when nothing is feasible, which limits block it, and then the exit code is 3.
DIR is the study folder, or the study file whose folder it is. It may be asked while the study runs.

--targets NEW.yaml scores the runs by the targets and limits of another study file, and by what the parts of its
geometry allow and the room that they take: from the columns of the record where it has them, as when weights
change or a target is dropped; by solving every recorded run again where it has not. It says which. Members and
the points that they use stay those of the runs.`,
		Example: "  trammel rank corncrake-first-night.yaml\n  trammel rank corncrake-first-night-runs --format json\n  trammel rank corncrake-first-night-runs --targets second-thoughts.yaml",
		Args:    one("a study folder or a study file"),
		RunE: func(cmd *cobra.Command, args []string) error {
			a, err := studies.OpenArchive(args[0])
			if err != nil {
				return err
			}
			if targets != "" {
				how, err := a.Retarget(targets)
				if err != nil {
					return err
				}
				fmt.Fprintln(e.stderr, how)
			}
			ans, err := a.Rank()
			if err != nil {
				return err
			}
			switch out.format {
			case "text":
				err = toFile(e, out.output, func(w io.Writer) error {
					_, err := io.WriteString(w, ans.Text())
					return err
				})
			case "json":
				err = toFile(e, out.output, func(w io.Writer) error {
					text, err := ans.JSON()
					if err != nil {
						return err
					}
					_, err = w.Write(text)
					return err
				})
			default:
				err = out.write(e, ans.Table())
			}
			if err == nil && !ans.AnyFeasible {
				err = exit{code: exitNoFeasible}
			}
			return err
		},
	}
	out.add(cmd)
	cmd.Flags().StringVar(&targets, "targets", "", "score the runs by the targets and limits of study file `FILE`")
	f := cmd.Flags().Lookup("format")
	f.Usage, f.DefValue = "text, json, or a table of the answers as table, csv or parquet", "text"
	out.format = "text"
	return cmd
}
