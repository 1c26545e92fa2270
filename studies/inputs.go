package studies

import (
	"fmt"
	"io/fs"
	"os"
	"path/filepath"

	"trammel/studies/files"
	"trammel/studies/record"
)

// Names of the input files in a study folder.
const (
	frozenStudy    = "study.yaml"
	frozenGeometry = "geometry.yaml"
	frozenPoints   = "points.csv"
	frozenTable    = "stage-%d.csv"
)

// factInputs is the key in the manifest under which inputs stands.
const factInputs = "inputs"

// inputs says which file of a study folder holds what a study was read from: the path as it was asked
// for, and the file's name in the folder.
type inputs struct {
	Study string            `json:"study"` // path of the study file
	Files map[string]string `json:"files"`
}

func (st *Study) inputs() inputs {
	f := st.File
	in := inputs{Study: f.Path, Files: map[string]string{f.Path: frozenStudy, f.GeometryPath: frozenGeometry}}
	if f.Geometry.TablePath != "" {
		in.Files[f.Geometry.TablePath] = frozenPoints
	}
	for i, s := range f.Stages {
		if s.Table != nil {
			in.Files[s.Table.Path] = fmt.Sprintf(frozenTable, i+1)
		}
	}
	return in
}

// frozen returns the input files that a study folder keeps, by name.
func (st *Study) frozen() map[string][]byte {
	f := st.File
	out := map[string][]byte{frozenStudy: f.Text, frozenGeometry: f.Geometry.Text}
	if f.Geometry.TablePath != "" {
		out[frozenPoints] = f.Geometry.Table
	}
	for i, s := range f.Stages {
		if s.Table != nil {
			out[fmt.Sprintf(frozenTable, i+1)] = s.Table.Text
		}
	}
	return out
}

// readInput reads a file of the machine for package files.
func readInput(path string) ([]byte, error) { return os.ReadFile(filepath.FromSlash(path)) }

// ReadStudy reads a study file and what it names from the disk.
func ReadStudy(path string) (*files.Study, error) { return files.ReadStudy(readInput, path) }

// ReadGeometry reads a geometry file and what it names from the disk.
func ReadGeometry(path string) (*files.Geometry, error) { return files.ReadGeometry(readInput, path) }

// readFrozen reads the study that a folder was made for, from the folder alone.
func readFrozen(in inputs, frozen func(name string) ([]byte, error)) (*files.Study, error) {
	var lost error
	f, err := files.ReadStudy(func(path string) ([]byte, error) {
		name, ok := in.Files[path]
		if !ok {
			return nil, fs.ErrNotExist
		}
		text, err := frozen(name)
		if err != nil && lost == nil {
			lost = err
		}
		return text, err
	}, in.Study)
	if lost != nil {
		return nil, lost
	}
	return f, err
}

// keepFrozen sees to it that a folder that is gone on with has the input files that it began with; with repair, what is
// lost is written again, and told.
func (st *Study) keepFrozen(folder *record.Folder, repair bool) (notes []string, err error) {
	texts := st.frozen()
	for _, file := range folder.Header().Files {
		_, err := folder.Frozen(file.Name)
		if err == nil {
			continue
		}
		if !repair {
			return nil, err
		}
		if done, werr := folder.Restore(file.Name, texts[file.Name]); werr != nil {
			return nil, werr
		} else if !done {
			return nil, fmt.Errorf("%s in %s cannot be written again: the text that it is made from now is another than the study began with. Put that back, or run into another folder", file.Name, folder.Dir())
		}
		notes = append(notes, file.Name+" was not as it was when the study began, and was written again.")
	}
	return notes, nil
}
