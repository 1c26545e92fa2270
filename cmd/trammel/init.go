package main

import (
	"fmt"
	"path/filepath"

	"github.com/spf13/cobra"

	"trammel/studies"
)

func newInit(e *env) *cobra.Command {
	var example string
	var list bool
	cmd := &cobra.Command{
		Use:   "init [DIR]",
		Short: "Write a starter geometry and study, with comments",
		Long: `init writes a geometry file and a study file that run as they stand, with comments: a place to put your own
points. They describe an invented car. Files that are there already are never overwritten.`,
		Example: "  trammel init mycar\n  trammel init --list\n  trammel init --example corncrake-inch mycar",
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) > 1 {
				return usagef("trammel init takes one folder, and %q is one too many", args[1])
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			if list {
				for _, x := range studies.Examples() {
					fmt.Fprintf(e.stdout, "%-16s %s\n", x.Name, x.Line)
				}
				return nil
			}
			dir := "."
			if len(args) == 1 {
				dir = args[0]
			}
			study, err := studies.WriteExample(dir, example)
			if err != nil {
				return err
			}
			x, err := studies.LookupExample(example)
			if err != nil {
				return err
			}
			geometry := filepath.Join(dir, x.Geometry)
			fmt.Fprintf(e.stdout, "Wrote %s and %s.\nNext:\n  trammel check %s\n  trammel cycle %s\n  trammel run %s\n", geometry, study, geometry, geometry, study)
			return nil
		},
	}
	cmd.Flags().StringVar(&example, "example", studies.Examples()[0].Name, "`NAME` of the example to write")
	cmd.Flags().BoolVar(&list, "list", false, "list the examples and write nothing")
	return cmd
}
