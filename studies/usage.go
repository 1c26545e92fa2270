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

// Check reads a file of the machine, finds out whether it is a geometry or a study, and says in
// sentences what it is: see CheckGeometry and CheckStudy. All mistakes of a file come at once. Of a study
// folder it checks the record: see CheckFolder.
func Check(path string) (string, error) {
	if isFolder(path) {
		return CheckFolder(path)
	}
	if text, err := os.ReadFile(path); err == nil && files.IsStudy(text) {
		st, err := ReadStudy(path)
		if err != nil {
			return "", err
		}
		return CheckStudy(st)
	}
	g, err := ReadGeometry(path)
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
