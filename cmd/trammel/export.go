package main

import (
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"

	"trammel/studies"
)

func newExport(e *env) *cobra.Command {
	var format, output string
	run, fewest := int64(studies.BestRun), false
	cmd := &cobra.Command{
		Use:   "export DIR",
		Short: "The points of a run, as a geometry file or a table",
		Long: `export writes the points of the best run, or of --run N, in the units and axes of the geometry file: as a
geometry file that trammel reads, or as a CSV table (name,x,y,z) for CAD, which a geometry file may name
under points:. Axes of joints that the file leaves to be found stand above, in comments.

With --fewest, what moved for nothing is put back as drawn, and what else moved is searched anew: the score stays
within a thousandth, and every limit is kept. rank says what that saves.
DIR is the study folder or the study file.`,
		Example: "  trammel export corncrake-first-night.yaml -o better-front.yaml\n  trammel export corncrake-first-night.yaml --format csv -o points.csv\n  trammel export corncrake-first-night.yaml --fewest -o fewest.yaml",
		Args:    one("a study folder or a study file"),
		RunE: func(cmd *cobra.Command, args []string) error {
			a, err := studies.OpenArchive(args[0])
			if err != nil {
				return err
			}
			x, err := a.Export(run, fewest)
			if err != nil {
				return err
			}
			what := fmt.Sprintf("The best run of %s", a.Study.File.Name)
			if run >= 0 {
				what = fmt.Sprintf("Run %d of %s", run, a.Study.File.Name)
			}
			what = strings.Join(append([]string{what, x.Standing}, x.Notes...), "\n")
			err = toFile(e, output, func(w io.Writer) error { return studies.ExportGeometry(w, x.Geometry, what, format) })
			if err == nil && !onTerminal(output) {
				fmt.Fprintln(e.stderr, x.Standing)
			}
			return err
		},
	}
	f := cmd.Flags()
	f.Int64Var(&run, "run", studies.BestRun, "`N` of the run")
	f.Lookup("run").DefValue = "the best"
	f.BoolVar(&fewest, "fewest", false, "as drawn whatever need not move for the score of the run")
	f.StringVar(&format, "format", "geometry", "geometry or csv")
	addOutput(cmd, &output)
	return cmd
}
