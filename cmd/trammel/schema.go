package main

import (
	"github.com/spf13/cobra"

	"trammel/studies"
)

func newSchema(e *env) *cobra.Command {
	return &cobra.Command{
		Use:     "schema geometry|study",
		Short:   "The JSON Schema of the files, for editors",
		Long:    "schema prints the JSON Schema (draft 2020-12) of geometry files or of study files. Editors that know it complete\nkeys and mark mistakes as you write.",
		Example: "  trammel schema geometry > geometry.schema.json\n  trammel schema study > study.schema.json",
		Args:    one("geometry or study"),
		RunE: func(cmd *cobra.Command, args []string) error {
			text, err := studies.FileSchema(args[0])
			if err != nil {
				return err
			}
			_, err = e.stdout.Write(text)
			return err
		},
	}
}
