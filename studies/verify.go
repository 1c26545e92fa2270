package studies

import (
	"errors"
	"fmt"
	"os"
	"strings"
	"time"

	"trammel/studies/record"
)

// CheckFolder reads every part of a study folder, compares it with what was handed over when it was
// written, and says in sentences what the folder holds. A part that is not as it was is an error that
// names it.
func CheckFolder(dir string) (string, error) {
	v, err := record.Read(dir)
	if errors.Is(err, record.ErrNone) && record.Orphans(dir) == 0 {
		return "", usagef("%s is no study folder; name the folder that trammel run made, or the study file", dir)
	}
	if err != nil {
		return "", err
	}
	if err := v.Verify(); err != nil {
		return "", err
	}
	h, t := v.Header(), v.Totals()
	files := make([]string, len(h.Files))
	for i, f := range h.Files {
		if _, err := v.Frozen(f.Name); err != nil {
			return "", err
		}
		files[i] = f.Name
	}
	var b strings.Builder
	fmt.Fprintf(&b, "%s: the record of %s, begun %s and worked on for %s in %s.\n", dir, h.Study, h.Created.Local().Format("2006-01-02 15:04"), v.Elapsed().Round(time.Second), count(len(v.Sessions()), "session"))
	fmt.Fprintf(&b, "%s runs, %s of them recorded; %s rows of curves; %s in %s.\n", thousands(t.Evaluated), thousands(t.Kept), thousands(v.NumRows(record.TableCurves)),
		megabytes(float64(v.Bytes())), count(len(v.Parts(record.TableRuns))+len(v.Parts(record.TableCurves)), "part"))
	fmt.Fprintf(&b, "Every part is as it was written: all values were read and compared. So are %s.\n", and(files))
	if torn := v.Torn(); torn != "" {
		fmt.Fprintln(&b, torn)
	}
	return b.String(), nil
}

// isFolder tells whether a path is a folder.
func isFolder(path string) bool {
	info, err := os.Stat(path)
	return err == nil && info.IsDir()
}
