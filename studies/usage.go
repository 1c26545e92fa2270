package studies

import (
	"fmt"
	"os"

	"trammel/studies/files"
)

// usagef makes an error for which the exit code is 2: wrong use, or a bad file.
func usagef(format string, args ...any) error {
	return usageError{fmt.Errorf(format, args...)}
}

// OpenStudy reads a study file of the machine with its geometry and its tables. An error is
// files.Problems: every mistake at once.
func OpenStudy(path string) (*files.Study, error) { return files.ReadStudy(readInput, path) }

// OpenGeometry reads a geometry file of the machine. An error is files.Problems.
func OpenGeometry(path string) (*files.Geometry, error) { return files.ReadGeometry(readInput, path) }

// Check reads a file of the machine, finds out whether it is a geometry or a study, and says in
// sentences what it is: see CheckGeometry and CheckStudy. All mistakes of a file come at once.
func Check(path string) (string, error) {
	if text, err := os.ReadFile(path); err == nil && files.IsStudy(text) {
		st, err := OpenStudy(path)
		if err != nil {
			return "", err
		}
		return CheckStudy(st)
	}
	g, err := OpenGeometry(path)
	if err != nil {
		return "", err
	}
	return CheckGeometry(g)
}

// BestRun stands for the best run where the number of one is asked.
const BestRun = -1

// FileSchema returns the JSON Schema of geometry files ("geometry") or study files ("study").
func FileSchema(of string) ([]byte, error) {
	switch of {
	case "geometry":
		return files.GeometrySchema(), nil
	case "study":
		return files.StudySchema(), nil
	}
	return nil, usagef("%q has no schema; write geometry or study", of)
}
