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
func ExportGeometry(w io.Writer, g *files.Geometry, what, format string) error {
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
