package main

import (
	"fmt"

	"github.com/spf13/cobra"

	"trammel/studies"
)

func newGather(e *env) *cobra.Command {
	var o studies.GatherOptions
	cmd := &cobra.Command{
		Use:   "gather DIR...",
		Short: "Join the folders of shards into one",
		Long: `gather joins the study folders that run --shard made on several machines, or anybody's who ran parts of the same
study with the same build, into the folder of a run in one piece. Runs that several have must be equal, to
the last bit. It may be done again when more folders have come, in any order; small parts become large ones.

Without --out the folder is named after the shards: night-runs for night-runs-shard-1-of-4.`,
		Example: "  trammel gather night-runs-shard-1-of-2 night-runs-shard-2-of-2\n  trammel gather a/night-runs b/night-runs --out night-runs",
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) == 0 {
				return usagef("trammel gather needs the study folders to join; such as: %s", firstExample(cmd))
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			res, err := studies.Gather(cmd.Context(), args, o)
			if err != nil {
				return err
			}
			for _, n := range res.Notes {
				fmt.Fprintln(e.stderr, sentence(n))
			}
			fmt.Fprintln(e.stdout, res.Sentence)
			return nil
		},
	}
	cmd.Flags().StringVar(&o.Dir, "out", "", "`DIR` to join them in")
	return cmd
}
