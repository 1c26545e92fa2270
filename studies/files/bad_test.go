package files

import (
	"flag"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

var update = flag.Bool("update", false, "write the messages of the bad files anew; read them all before you commit")

// badFiles lists the bad files; those that begin with s- are studies.
func badFiles(t testing.TB) []string {
	t.Helper()
	names, err := filepath.Glob("testdata/bad/*.yaml")
	if err != nil || len(names) < 60 {
		t.Fatalf("%d bad files, and at least 60 are wanted (%v)", len(names), err)
	}
	for i, n := range names {
		names[i] = "bad/" + filepath.Base(n)
	}
	return names
}

func readEither(name string) error {
	if strings.HasPrefix(filepath.Base(name), "s-") {
		_, err := ReadStudy(testdata, name)
		return err
	}
	_, err := ReadGeometry(testdata, name)
	return err
}

// Every bad file is refused with exactly the messages beside it, all of them, in their order. The
// messages are the product here, so they are compared as text.
func TestBadFiles(t *testing.T) {
	for _, name := range badFiles(t) {
		t.Run(filepath.Base(name), func(t *testing.T) {
			err := readEither(name)
			if err == nil {
				t.Fatal("accepted")
			}
			if _, ok := err.(Problems); !ok {
				t.Fatalf("the error is %T, not Problems", err)
			}
			got := err.Error() + "\n"
			beside := "testdata/" + strings.TrimSuffix(name, ".yaml") + ".want"
			if *update {
				if err := os.WriteFile(beside, []byte(got), 0o644); err != nil {
					t.Fatal(err)
				}
			}
			want, err := os.ReadFile(beside)
			if err != nil {
				t.Fatal(err)
			}
			if want := strings.ReplaceAll(string(want), "\r\n", "\n"); got != want {
				t.Errorf("got:\n%swant:\n%s", got, want)
			}
		})
	}
}
