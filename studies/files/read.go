package files

import (
	"errors"
	"io/fs"
	"math"
	"path"
	"path/filepath"
	"strings"
)

// ReadGeometry reads the geometry file at path and the table of points it may name. An error is
// always Problems: every mistake, in the order of their places.
func ReadGeometry(read ReadFile, path string) (*Geometry, error) {
	var problems Problems
	g := readGeometry(read, path, &problems)
	if problems != nil {
		return nil, problems.sorted(path)
	}
	g.Notes = g.Notes.sorted(path)
	return g.Geometry, nil
}

// ReadStudy reads the study file at path, its geometry and its tables. An error is always Problems:
// every mistake in all of them, those of the study first.
func ReadStudy(read ReadFile, path string) (*Study, error) {
	var problems Problems
	s := readStudy(read, path, &problems)
	if problems != nil {
		return nil, problems.sorted(path)
	}
	s.Notes = s.Notes.sorted(path)
	return s, nil
}

// IsStudy tells whether the text looks like a study file and not like a geometry file.
func IsStudy(text []byte) bool {
	root, bad := parseTree("", text)
	if bad != nil {
		return false
	}
	f := rootField(root)
	for _, k := range []string{"study", "geometry", "vary", "targets", "motions"} {
		if f.keyIn(k) != nil {
			return true
		}
	}
	return false
}

// fetch reads a file for the sentence it would fail with; what the system says is turned into words.
func fetch(read ReadFile, name string) (text []byte, complaint string) {
	text, err := read(name)
	switch {
	case err == nil:
		return text, ""
	case errors.Is(err, fs.ErrNotExist):
		return nil, "there is no such file; look at how the name is spelt and in which folder it is"
	case errors.Is(err, fs.ErrPermission):
		return nil, "the file may not be read; look at its permissions"
	}
	return nil, "the file cannot be read; it may be a folder, or on a disk that is gone"
}

// beside returns the path of a file that the file at base names.
func beside(base, name string) string {
	if filepath.IsAbs(name) {
		return name
	}
	base, name = filepath.ToSlash(base), filepath.ToSlash(name)
	joined := path.Join(path.Dir(base), name)
	if strings.HasPrefix(base, "//") && !strings.HasPrefix(joined, "//") {
		joined = "/" + joined // a network folder
	}
	return joined
}

func radians(deg float64) float64 { return deg * math.Pi / 180 }
