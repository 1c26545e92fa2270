package studies

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// house says, of each package below the module's root, what it may import beyond the standard library.
// Entries that end in a slash stand for everything below them. A package that is not listed fails.
var house = map[string][]string{
	"kin":                      {"trammel/kin/gap", "gonum.org/v1/gonum/spatial/r3", "gonum.org/v1/gonum/mat"},
	"kin/kintest":              {"trammel/kin", "gonum.org/v1/gonum/"},
	"kin/gap":                  {"gonum.org/v1/gonum/spatial/r3"},
	"objectives":               {"trammel/kin"},
	"optimize":                 {"trammel/optimize/leastsquares", "gonum.org/v1/gonum/", "golang.org/x/sync/"},
	"optimize/leastsquares":    {"gonum.org/v1/gonum/"},
	"optimize/problems":        {"trammel/optimize", "gonum.org/v1/gonum/"},
	"optimize/searchtest":      {"trammel/optimize", "trammel/optimize/problems", "gonum.org/v1/gonum/"},
	"studies":                  {"trammel/kin", "trammel/objectives", "trammel/optimize", "trammel/studies/", "gonum.org/v1/gonum/"},
	"studies/files":            {"trammel/kin", "gonum.org/v1/gonum/spatial/r3", "go.yaml.in/yaml/v4"},
	"studies/record":           {"github.com/parquet-go/parquet-go", "github.com/parquet-go/parquet-go/", "github.com/gofrs/flock", "github.com/cespare/xxhash/v2", "golang.org/x/text/unicode/norm", "golang.org/x/sys/windows"},
	"studies/report":           {"trammel/studies/record", "trammel/optimize", "trammel/kin"},
	"cmd/trammel":              {"trammel/studies", "trammel/studies/", "github.com/spf13/"},
	"studies/checks/gaps":      {"trammel/kin/gap", "gonum.org/v1/gonum/spatial/r3"},
	"studies/checks/objective": {"trammel/studies", "trammel/optimize", "trammel/optimize/leastsquares"},
}

// arrows says which packages of the module each of the five folders may see, in tests too. Nothing
// below studies knows of files, so a test there cannot read a study either.
var arrows = map[string][]string{
	"kin":        {"kin"},
	"objectives": {"objectives", "kin"},
	"optimize":   {"optimize"},
	"studies":    {"studies", "objectives", "optimize", "kin"},
	"cmd":        {"cmd", "studies", "kin"},
}

// silent folders do no input or output and read no clock.
var silent = []string{"kin", "objectives", "optimize"}

// shunned packages are the ones that a silent folder does not import; a slash stands for all below.
var shunned = []string{"os", "os/", "io/fs", "io/ioutil", "encoding/", "log", "log/", "flag", "time", "net", "net/", "path/filepath", "syscall"}

// goFile is a parsed file of the module.
type goFile struct {
	path string // from the module's root, with slashes
	file *ast.File
	set  *token.FileSet
}

func (s *goFile) folder() string { return strings.SplitN(s.path, "/", 2)[0] }

func (s *goFile) pkg() string { return s.path[:strings.LastIndexByte(s.path, '/')] }

func (s *goFile) isTest() bool { return strings.HasSuffix(s.path, "_test.go") }

func (s *goFile) imports() (paths []string) {
	for _, i := range s.file.Imports {
		p, _ := strconv.Unquote(i.Path.Value)
		paths = append(paths, p)
	}
	return paths
}

// sources parses every Go file of the module.
func sources(t *testing.T) []goFile {
	t.Helper()
	var all []goFile
	err := filepath.WalkDir("..", func(path string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if d.IsDir() && path != ".." && (strings.HasPrefix(d.Name(), ".") || d.Name() == "testdata") {
			return fs.SkipDir
		}
		if d.IsDir() || !strings.HasSuffix(path, ".go") {
			return nil
		}
		rel, err := filepath.Rel("..", path)
		if err != nil {
			return err
		}
		set := token.NewFileSet()
		f, err := parser.ParseFile(set, path, nil, parser.SkipObjectResolution)
		if err != nil {
			return err
		}
		all = append(all, goFile{filepath.ToSlash(rel), f, set})
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	if len(all) < 50 {
		t.Fatalf("%d Go files found; the walk misses the module", len(all))
	}
	return all
}

// listed tells whether a path is in a list whose entries may end in a slash.
func listed(list []string, path string) bool {
	return slices.ContainsFunc(list, func(e string) bool {
		return e == path || strings.HasSuffix(e, "/") && strings.HasPrefix(path, e)
	})
}

// TestTopLevel: the module's root holds the five folders, its four files and what begins with a dot.
func TestTopLevel(t *testing.T) {
	entries, err := os.ReadDir("..")
	if err != nil {
		t.Fatal(err)
	}
	may := []string{"cmd", "optimize", "kin", "objectives", "studies", "go.mod", "go.sum", "README.md", "DEVELOPERS.md"}
	for _, e := range entries {
		name := e.Name()
		if built := name == "trammel" || name == "trammel.exe" || strings.HasSuffix(name, ".test") || strings.HasSuffix(name, ".prof"); built && !e.IsDir() {
			continue // made by the go command; git ignores it
		}
		if !strings.HasPrefix(name, ".") && !slices.Contains(may, name) {
			t.Errorf("%s stands at the top level, which holds only %s", name, strings.Join(may, ", "))
		}
	}
}

// TestArrowsPointOneWay: cmd -> studies -> {objectives -> kin, optimize}.
func TestArrowsPointOneWay(t *testing.T) {
	for _, s := range sources(t) {
		for _, p := range s.imports() {
			if rest, inside := strings.CutPrefix(p, "trammel/"); inside {
				if to := strings.SplitN(rest, "/", 2)[0]; !slices.Contains(arrows[s.folder()], to) {
					t.Errorf("%s imports %s; %s may see only %v", s.path, p, s.folder(), arrows[s.folder()])
				}
			}
			if s.isTest() || !strings.Contains(strings.SplitN(p, "/", 2)[0], ".") && !strings.HasPrefix(p, "trammel/") {
				continue
			}
			if may, ok := house[s.pkg()]; !ok {
				t.Errorf("package %s is not listed in the house", s.pkg())
			} else if !listed(may, p) {
				t.Errorf("%s imports %s; package %s may import the standard library and %v", s.path, p, s.pkg(), may)
			}
		}
	}
}

// TestNoInputOrOutputBelowStudies: kin, objectives and optimize touch no disk, no clock, no encoding and
// no random numbers but those of a source they are given.
func TestNoInputOrOutputBelowStudies(t *testing.T) {
	for _, s := range sources(t) {
		if !slices.Contains(silent, s.folder()) || s.isTest() {
			continue
		}
		for _, p := range s.imports() {
			if listed(shunned, p) {
				t.Errorf("%s imports %s, which nothing below studies does", s.path, p)
			}
		}
		for _, call := range globalRand(&s) {
			t.Errorf("%s: %s draws from the global source; draw from a stream that was given", s.set.Position(call.Pos()), call.Sel.Name)
		}
	}
}

// globalRand returns the uses of functions of math/rand that draw from its global source.
func globalRand(s *goFile) (found []*ast.SelectorExpr) {
	name := ""
	for _, i := range s.file.Imports {
		p, _ := strconv.Unquote(i.Path.Value)
		if p == "math/rand" || p == "math/rand/v2" {
			name = "rand"
			if i.Name != nil {
				name = i.Name.Name
			}
		}
	}
	if name == "" {
		return nil
	}
	types := []string{"Rand", "Source", "Source64", "PCG", "ChaCha8", "Zipf"}
	ast.Inspect(s.file, func(n ast.Node) bool {
		if sel, ok := n.(*ast.SelectorExpr); ok {
			if x, ok := sel.X.(*ast.Ident); ok && x.Name == name && !strings.HasPrefix(sel.Sel.Name, "New") && !slices.Contains(types, sel.Sel.Name) {
				found = append(found, sel)
			}
		}
		return true
	})
	return found
}

// TestOnlyThePoolStartsGoroutines: the pool is the one concurrent file; the command line may start one
// more, to wait for a signal.
func TestOnlyThePoolStartsGoroutines(t *testing.T) {
	const pool = "optimize/pool.go"
	starts := 0
	for _, s := range sources(t) {
		if s.isTest() || s.folder() == "cmd" {
			continue
		}
		ast.Inspect(s.file, func(n ast.Node) bool {
			at := token.NoPos
			switch n := n.(type) {
			case *ast.GoStmt:
				at = n.Pos()
			case *ast.CallExpr:
				if sel, ok := n.Fun.(*ast.SelectorExpr); ok && (sel.Sel.Name == "Go" || sel.Sel.Name == "AfterFunc") {
					at = n.Pos()
				}
			}
			switch {
			case at == token.NoPos:
			case s.path == pool:
				starts++
			default:
				t.Errorf("%s starts a goroutine; only %s does", s.set.Position(at), pool)
			}
			return true
		})
	}
	if starts == 0 {
		t.Errorf("%s starts no goroutine; this test looks in the wrong place", pool)
	}
}

// TestFilesAreShort: a file of code stays below 500 lines.
func TestFilesAreShort(t *testing.T) {
	for _, s := range sources(t) {
		if n := s.set.Position(s.file.FileEnd).Line; n > 500 && !s.isTest() {
			t.Errorf("%s has %d lines; split it before 500", s.path, n)
		}
	}
}
