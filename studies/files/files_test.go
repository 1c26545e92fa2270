package files

import (
	"os"
	"testing"
)

var testdata = os.DirFS("testdata").(interface {
	ReadFile(string) ([]byte, error)
}).ReadFile

func TestTry(t *testing.T) {
	for _, n := range []string{"front.yaml", "front-inch.yaml", "front-table.yaml"} {
		g, err := ReadGeometry(testdata, "good/"+n)
		if err != nil {
			t.Error(err)
			continue
		}
		t.Logf("\n%s\n%s", g.Encode(), g.Notes.Error())
	}
	for _, n := range []string{"first-night.yaml", "inch-night.yaml", "small.yaml"} {
		g, err := ReadStudy(testdata, "good/"+n)
		if err != nil {
			t.Error(err)
			continue
		}
		t.Logf("\n%+v\n%s", g, g.Notes.Error())
	}
}
