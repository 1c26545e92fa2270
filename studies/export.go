package studies

import (
	"bytes"
	"fmt"
	"io"
	"strings"

	"trammel/studies/files"
)

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
