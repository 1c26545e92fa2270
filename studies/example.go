package studies

import (
	"embed"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"

	"trammel/studies/files"
	"trammel/studies/record"
)

// examples holds the files of every example, as they stand in the folder of that name.
//
//go:embed examples/*.yaml
var examples embed.FS

// Example is a scenario that comes with trammel: a geometry and a study of an invented car.
type Example struct {
	Name     string // what `--example` asks for
	Line     string // one line for a list
	Study    string // name of its study file
	Geometry string // name of its geometry file
}

// exampleTable lists the examples in the order in which they are shown; the first is the default.
var exampleTable = []Example{
	{
		Name:     "corncrake",
		Line:     "front axle of an invented hill-climb car: wishbones, pushrod and rocker, in millimetres",
		Study:    "corncrake-first-night.yaml",
		Geometry: "corncrake-front.yaml",
	},
	{
		Name:     "corncrake-inch",
		Line:     "the same axle in inches, x to the rear, y to the right, on an origin of its own",
		Study:    "corncrake-first-night-inch.yaml",
		Geometry: "corncrake-front-inch.yaml",
	},
	{
		Name:     "corncrake-rear",
		Line:     "its rear axle: rockers about one line across the car, a torsion bar between them, a heave spring at its middle",
		Study:    "corncrake-rear-second-night.yaml",
		Geometry: "corncrake-rear.yaml",
	},
	{
		Name:     "dunlin",
		Line:     "front axle of an invented rally car: struts, and an anti-roll bar on drop links",
		Study:    "dunlin-first-night.yaml",
		Geometry: "dunlin-front.yaml",
	},
	{
		Name:     "whinchat",
		Line:     "rear axle of an invented track-day coupe: five links and a drive shaft",
		Study:    "whinchat-first-night.yaml",
		Geometry: "whinchat-rear.yaml",
	},
	{
		Name:     "wheatear",
		Line:     "rear axle of an invented kit roadster: an H-arm and one upper link",
		Study:    "wheatear-first-night.yaml",
		Geometry: "wheatear-rear.yaml",
	},
	{
		Name:     "ptarmigan",
		Line:     "rear axle of an invented desert buggy: trailing arm, two lateral links, limit strap, 370 mm of travel",
		Study:    "ptarmigan-first-night.yaml",
		Geometry: "ptarmigan-rear.yaml",
	},
	{
		Name:     "dotterel",
		Line:     "rear axle of an invented farm truck: a driven beam on three links and a Panhard rod",
		Study:    "dotterel-first-night.yaml",
		Geometry: "dotterel-rear.yaml",
	},
	{
		Name:     "pipit",
		Line:     "rear axle of an invented historic racer: a driven beam on four links, one of them soft, and a Watt linkage",
		Study:    "pipit-first-night.yaml",
		Geometry: "pipit-rear.yaml",
	},
	{
		Name:     "twite",
		Line:     "front axle of an invented trail truck: a steered, driven beam on three links and a Panhard rod",
		Study:    "twite-first-night.yaml",
		Geometry: "twite-front.yaml",
	},
}

// Examples returns the examples that come with trammel, the default first. The slice is the caller's.
func Examples() []Example { return append([]Example(nil), exampleTable...) }

// LookupExample finds an example by name; the error is a usage error that lists the names.
func LookupExample(name string) (Example, error) {
	names := make([]string, len(exampleTable))
	for i, e := range exampleTable {
		if e.Name == name {
			return e, nil
		}
		names[i] = e.Name
	}
	return Example{}, usagef("there is no example called %q; the examples are %s", name, and(names))
}

// Files returns the names of the example's files, the study first.
func (e Example) Files() []string { return []string{e.Study, e.Geometry} }

// Text returns a file of the example as it comes with trammel.
func (e Example) Text(name string) ([]byte, error) {
	return examples.ReadFile("examples/" + name)
}

// ReadExample reads the study of an example with its geometry, without any file on disk.
func ReadExample(name string) (*files.Study, error) {
	e, err := LookupExample(name)
	if err != nil {
		return nil, err
	}
	return files.ReadStudy(func(path string) ([]byte, error) { return e.Text(path) }, e.Study)
}

// WriteExample writes the files of an example into dir, which it makes if need be, and returns the path
// of the study. A file that stands there already with the same text is left alone; one with another
// text is kept, and the error, a usage error, says so before anything is written.
func WriteExample(dir, name string) (study string, err error) {
	e, err := LookupExample(name)
	if err != nil {
		return "", err
	}
	missing := map[string][]byte{}
	for _, f := range e.Files() {
		text, err := e.Text(f)
		if err != nil {
			return "", err
		}
		path := filepath.Join(dir, f)
		old, err := os.ReadFile(path)
		switch {
		case errors.Is(err, fs.ErrNotExist):
			missing[path] = text
		case err != nil:
			return "", fmt.Errorf("%s cannot be looked at: %w", path, err)
		case string(old) != string(text):
			return "", usagef("%s is there already and differs from the example's; move it away, or name another folder", path)
		}
	}
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return "", record.Trouble("making", dir, err)
	}
	for path, text := range missing {
		if err := WriteFile(path, func(w io.Writer) error { _, err := w.Write(text); return err }); err != nil {
			return "", err
		}
	}
	return filepath.Join(dir, e.Study), nil
}
