package main

import (
	"io"

	"github.com/spf13/cobra"

	"trammel/studies"
)

func newCheck(e *env) *cobra.Command {
	return &cobra.Command{
		Use:   "check FILE",
		Short: "Say what a geometry, study or study folder is, and every mistake in it",
		Long: `check reads a geometry or a study file. If there are mistakes it lists all of them, each with file, line and
column and what would be right, and the exit code is 2. If there are none it says in sentences what the
geometry is: its freedoms, how it stands at design, how far it closes; and for a study what varies, what
is asked, how the design stands, how many runs it makes, at most how long they take and how much disk they need.

Of a study folder it reads every part of the record and says whether all is as it was written.`,
		Example: "  trammel check corncrake-front.yaml\n  trammel check corncrake-first-night.yaml\n  trammel check corncrake-first-night-runs",
		Args:    one("a geometry or study file, or a study folder"),
		RunE: func(cmd *cobra.Command, args []string) error {
			text, err := studies.Check(args[0])
			if _, werr := io.WriteString(e.stdout, text); err == nil {
				err = werr
			}
			return err
		},
	}
}
