package studies

import (
	"bytes"
	"fmt"
	"io"
	"strings"

	"trammel/optimize"
	"trammel/studies/files"
)

// Export is a geometry to build from, and what there is to say of it.
type Export struct {
	Geometry *files.Geometry
	Standing string   // whether it keeps every limit, in a sentence
	Notes    []string // sentences about how it is to be built
}

// Export returns the geometry of a run, or with fewest set the one that does what the run does with the fewest numbers moved. A negative
// run is the best one. The error is a usage error where the fewest are asked of a run that breaks a limit.
func (a *Archive) Export(run int64, fewest bool) (*Export, error) {
	n, p, err := a.point(run)
	if err != nil {
		return nil, err
	}
	x := &Export{Standing: a.standing(n, p)}
	title := fmt.Sprintf(", run %d", n)
	if fewest {
		v, ok := a.verdict(n, p)
		if !ok || v.Status != optimize.OK.String() {
			return nil, usagef("%s So it is not sought what need not move in it; leave --fewest out, or name a run that keeps every limit by --run", x.Standing)
		}
		x.Standing = fmt.Sprintf("Run %d keeps every limit; all that moved in it is needed for its score of %s, and these are its points.", n, short(v.Score))
		if f := a.Study.fewest(n, p); f != nil {
			p, title = f.at, title+", fewest moved"
			x.Standing = fmt.Sprintf("Run %d with as little moved as does for its score: %s as drawn, and the others searched anew. The score is %s (of the run %s), and every limit is kept.", n, and(f.AsDrawn), short(f.Score), short(v.Score))
		}
	}
	x.Geometry = a.Study.geometry(p, a.e)
	x.Geometry.Name += title
	x.Notes = append(a.bored(n, p), eyesNotes(changedEyes(a.Study.File.Geometry, x.Geometry), x.Geometry.Units)...)
	return x, nil
}

// ExportGeometry writes a geometry for building and for CAD: as a geometry file ("geometry") or as a
// table of points ("csv"), in the file's own units and axes. Both begin with what the points are and with
// the caution, in comments that every reader of ours skips.
// A name that has grown too long for a file, by the number of the run at its end, is cut short before that.
func ExportGeometry(w io.Writer, g *files.Geometry, what, format string) error {
	named := *g
	if at := strings.LastIndex(g.Name, ", run "); at >= 0 {
		named.Name = files.FitTitle(g.Name[:at], g.Name[at:])
	}
	g = &named
	var b bytes.Buffer
	for _, s := range []string{what, Caution} {
		for _, line := range strings.Split(s, "\n") {
			fmt.Fprintf(&b, "# %s\n", line)
		}
	}
	switch format {
	case "geometry":
		b.Write(g.Encode())
	case "csv":
		b.Write(g.EncodePoints())
	default:
		return usagef("%q is no form of a geometry; write geometry or csv", format)
	}
	_, err := w.Write(b.Bytes())
	return err
}
