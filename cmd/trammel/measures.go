package main

import (
	"io"

	"github.com/spf13/cobra"

	"trammel/studies"
)

func newMeasures(e *env) *cobra.Command {
	out := tableFlags{}
	cmd := &cobra.Command{
		Use:     "measures [NAME]",
		Short:   "Every measure with its unit, sign and meaning",
		Long:    "measures lists what a study may ask for and cycle lists: every measure with its unit, sign and meaning.\nWith a name it says how that one is defined.",
		Example: "  trammel measures\n  trammel measures caster_trail\n  trammel measures --format json",
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) > 1 {
				return usagef("trammel measures takes one name, and %q is one too many", args[1])
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			if out.format != "text" {
				if len(args) > 0 {
					return usagef("--format lists every measure; take the name out, or the format")
				}
				return out.write(e, studies.MeasuresTable())
			}
			text := studies.MeasuresText()
			if len(args) == 1 {
				var err error
				if text, err = studies.MeasureText(args[0]); err != nil {
					return err
				}
			}
			return toFile(e, out.output, func(w io.Writer) error {
				_, err := io.WriteString(w, text)
				return err
			})
		},
	}
	out.add(cmd)
	f := cmd.Flags().Lookup("format")
	f.Usage, f.DefValue = "text, table, csv, json or parquet", "text"
	out.format = "text"
	return cmd
}
