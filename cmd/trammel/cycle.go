package main

import (
	"fmt"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"trammel/studies"
)

// cycleFlags are the options of cycle as typed.
type cycleFlags struct {
	travel, rack, roll, wheels string
	set, move, measures        []string
}

func newCycle(e *env) *cobra.Command {
	var flags cycleFlags
	var out tableFlags
	cmd := &cobra.Command{
		Use:   "cycle GEOMETRY...",
		Short: "Move a geometry and list its measures",
		Long: `cycle moves a geometry and lists its measures, a row for each position. Without --travel, --rack or --roll it
goes through the travel that the file gives. Lengths are in the unit of the file or carry their own (25mm, 1/2in);
columns of measures are in the unit in their name. --set and --move draw every part anew to fit; camber and
toe at design stay as the file declares them.

In roll both wheels stay on the ground, and --travel lifts the ground; --wheels left moves the left wheel alone.
Measures are those of the side that the file draws; right.camber and left.damper.length ask for a side, and
right.toe - left.toe for a difference.

Where the linkage does not close, the message says where, which members give way, and how far it goes.`,
		Example: `  trammel cycle corncrake-front.yaml
  trammel cycle corncrake-front.yaml --travel -60..60:41 --measures camber,toe,damper.length
  trammel cycle corncrake-front.yaml --travel -40..40:9 --rack -30..30:7 --format csv -o grid.csv
  trammel cycle corncrake-front.yaml --roll -3..3:13 --measures camber_to_ground,right.camber_to_ground
  trammel cycle corncrake-front.yaml --set steering_arm.z=190 --move rack_end.z=-5`,
		Args: func(cmd *cobra.Command, args []string) error {
			switch {
			case len(args) == 0:
				return usagef("trammel cycle needs a geometry file; such as: %s", firstExample(cmd))
			case len(args) > 1 && out.output != "":
				return usagef("-o names one file, and there are %d geometries; cycle them one by one", len(args))
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			for i, path := range args {
				t, err := cycle(path, &flags)
				if err != nil {
					return err
				}
				if len(args) > 1 {
					if out.format != string(studies.FormatTable) {
						return usagef("several geometries are listed as tables only; cycle them one by one for --format %s", out.format)
					}
					if i > 0 {
						fmt.Fprintln(e.stdout)
					}
					fmt.Fprintf(e.stdout, "%s\n", filepath.ToSlash(path))
				}
				if err := out.write(e, t); err != nil {
					return err
				}
				for _, note := range t.Notes {
					fmt.Fprintf(e.stderr, "trammel: %s.\n", note)
				}
			}
			return nil
		},
	}
	f := cmd.Flags()
	f.StringVar(&flags.travel, "travel", "", "wheel travel from `A..B:N`, N positions, or one value; + bump")
	f.StringVar(&flags.rack, "rack", "", "rack travel from `A..B:N`, or one value; + to the left; with --travel a grid")
	f.StringVar(&flags.roll, "roll", "", "body roll from `A..B:N` in deg, or one value; + leans right; with the others a grid")
	f.StringVar(&flags.wheels, "wheels", "", "`WHICH` wheels travel: both, left or right; both when left out")
	f.StringArrayVar(&flags.set, "set", nil, "set a coordinate, `POINT.AXIS=VALUE`; may be given again")
	f.StringArrayVar(&flags.move, "move", nil, "move a coordinate by an amount, `POINT.AXIS=BY`; may be given again")
	f.StringSliceVar(&flags.measures, "measures", nil, "`A,B,...` to list, or all; trammel measures names them")
	out.add(cmd)
	return cmd
}

// cycle reads the options in the units of the file and moves it.
func cycle(path string, f *cycleFlags) (*studies.Table, error) {
	g, err := studies.ReadGeometry(path)
	if err != nil {
		return nil, err
	}
	o := studies.CycleOptions{Wheels: f.wheels}
	if f.travel != "" {
		if o.Wheel, err = studies.ParseTravel(f.travel, g.Units); err != nil {
			return nil, fmt.Errorf("--travel: %w", err)
		}
	}
	if f.rack != "" {
		if o.Rack, err = studies.ParseTravel(f.rack, g.Units); err != nil {
			return nil, fmt.Errorf("--rack: %w", err)
		}
	}
	if f.roll != "" {
		if o.Roll, err = studies.ParseRoll(f.roll); err != nil {
			return nil, fmt.Errorf("--roll: %w", err)
		}
	}
	for i, text := range append(append([]string(nil), f.set...), f.move...) {
		c, err := studies.ParseChange(g, text, i >= len(f.set))
		if err != nil {
			return nil, err
		}
		o.Changes = append(o.Changes, c)
	}
	for _, m := range f.measures {
		o.Measures = append(o.Measures, strings.TrimSpace(m))
	}
	return studies.Cycle(g, o)
}
