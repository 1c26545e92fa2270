package main

import (
	"bytes"
	"context"
	"encoding/json"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"trammel/kin"
	"trammel/studies"
)

// readme returns README.md.
func readme(t *testing.T) string {
	t.Helper()
	text, err := os.ReadFile(filepath.Join("..", "..", "README.md"))
	if err != nil {
		t.Fatal(err)
	}
	return strings.ReplaceAll(string(text), "\r\n", "\n")
}

var (
	namedBlock   = regexp.MustCompile("(?ms)^```yaml (\\S+)\n(.*?)^```")
	consoleBlock = regexp.MustCompile("(?ms)^```console\n(.*?)^```")
	shellBlock   = regexp.MustCompile("(?ms)^```sh\n(.*?)^```")
)

// perform carries out a command line as a person would type it; no argument here holds a space.
func perform(t *testing.T, line string) (stdout, stderr string, code int) {
	t.Helper()
	var out, bad bytes.Buffer
	code = run(context.Background(), strings.Fields(line)[1:], strings.NewReader(""), &out, &bad)
	return out.String(), bad.String(), code
}

// README's path from CAD points to a result: its files, its commands, in an empty folder.
func TestReadmePath(t *testing.T) {
	text := readme(t)
	t.Chdir(t.TempDir())
	for _, block := range namedBlock.FindAllStringSubmatch(text, -1) {
		if err := os.WriteFile(block[1], []byte(block[2]), 0o666); err != nil {
			t.Fatal(err)
		}
	}
	commands := 0
	for _, block := range consoleBlock.FindAllStringSubmatch(text, -1) {
		for line := range strings.Lines(block[1]) {
			line, ok := strings.CutPrefix(strings.TrimSpace(line), "$ trammel ")
			if !ok {
				t.Fatalf("README shows %q, which is no command of trammel", line)
			}
			commands++
			if _, stderr, code := perform(t, "trammel "+line); code != 0 {
				t.Fatalf("trammel %s: exit code %d\n%s", line, code, stderr)
			}
		}
	}
	if commands < 8 {
		t.Errorf("README shows %d commands", commands)
	}
	for _, name := range []string{"points.csv", "front-better.yaml", "curves.csv"} {
		if info, err := os.Stat(name); err != nil || info.Size() == 0 {
			t.Errorf("%s is not there, or empty: %v", name, err)
		}
	}
	stdout, stderr, code := perform(t, "trammel rank night.yaml --format json")
	if code != 0 {
		t.Fatalf("rank: exit code %d\n%s", code, stderr)
	}
	var ans studies.Answer
	if err := json.Unmarshal([]byte(stdout), &ans); err != nil {
		t.Fatal(err)
	}
	for i, target := range ans.Answers[0].Targets {
		if ans.Design.Targets[i].Met || !target.Met {
			t.Errorf("%s: met at design %v, by the answer %v; README's axle should be mended", target.Name, ans.Design.Targets[i].Met, target.Met)
		}
	}
	if _, stderr, code := perform(t, "trammel check front-better.yaml"); code != 0 {
		t.Errorf("the exported geometry: exit code %d\n%s", code, stderr)
	}
}

// README's two commands: the number of runs that it promises, and an example that there is.
func TestReadmeTwoCommands(t *testing.T) {
	text := readme(t)
	blocks := shellBlock.FindAllStringSubmatch(text, -1)
	if len(blocks) != 2 || blocks[1][1] != "go test ./...\n" {
		t.Fatalf("README shows %d blocks of shell commands, where the example and the tests are expected", len(blocks))
	}
	line, ok := strings.CutPrefix(strings.TrimSpace(blocks[0][1]), "go run ./cmd/trammel run ")
	if !ok {
		t.Fatalf("README's first command is %q", blocks[0][1])
	}
	dir := t.TempDir()
	line = strings.Replace(line, "--out ../corncrake", "--out "+filepath.ToSlash(dir), 1)
	if strings.Contains(dir, " ") || !strings.Contains(line, filepath.ToSlash(dir)) {
		t.Fatalf("README's first command is %q; it should write to ../corncrake", blocks[0][1])
	}
	if _, stderr, code := perform(t, "trammel run --quiet "+line); code != 0 {
		t.Fatalf("exit code %d\n%s", code, stderr)
	}
	stdout, stderr, code := perform(t, "trammel rank "+filepath.ToSlash(dir)+"/corncrake-first-night.yaml --format json")
	if code != 0 {
		t.Fatalf("rank: exit code %d\n%s", code, stderr)
	}
	var ans studies.Answer
	if err := json.Unmarshal([]byte(stdout), &ans); err != nil {
		t.Fatal(err)
	}
	// Local searches end when they have arrived, which another kind of machine may see a run earlier or later.
	promised := regexp.MustCompile(`\(some ([0-9,]+) runs`).FindStringSubmatch(text)
	if promised == nil {
		t.Fatal("README does not say how many runs the example makes")
	}
	if n, err := strconv.ParseInt(strings.ReplaceAll(promised[1], ",", ""), 10, 64); err != nil || max(n-ans.Runs, ans.Runs-n) > ans.Runs/20 || ans.Runs < 20_000 {
		t.Errorf("the example makes %d runs; README says some %s", ans.Runs, promised[1])
	}
	for _, c := range ans.Columns {
		if !columnTold(text, c.Name) {
			t.Errorf("README does not tell of column %s", c.Name)
		}
	}
}

// columnTold tells whether README names a column, or the family that it belongs to.
func columnTold(text, name string) bool {
	for _, family := range []string{"vary_", "got_design_", "got_", "miss_", "met_", "over_"} {
		if strings.HasPrefix(name, family) {
			return strings.Contains(text, "`"+family+"NAME") || strings.Contains(text, "`"+family+"MEASURE")
		}
	}
	return strings.Contains(text, "`"+name+"`")
}

// Every key that the two files know stands in README's reference.
func TestReadmeKeys(t *testing.T) {
	text := readme(t)
	for _, file := range []string{"geometry", "study"} {
		stdout, stderr, code := perform(t, "trammel schema "+file)
		if code != 0 {
			t.Fatalf("schema %s: exit code %d\n%s", file, code, stderr)
		}
		var schema any
		if err := json.Unmarshal([]byte(stdout), &schema); err != nil {
			t.Fatal(err)
		}
		names := map[string]bool{}
		propertyNames(schema, names)
		if len(names) < 15 {
			t.Errorf("the schema of a %s file has %d keys", file, len(names))
		}
		for name := range names {
			if !regexp.MustCompile("`[^`\n]*\\b"+regexp.QuoteMeta(name)+"\\b[^`\n]*`").MatchString(text) && !strings.Contains(text, "**"+name+"**") {
				t.Errorf("README does not tell of %s in a %s file", name, file)
			}
		}
	}
}

// propertyNames gathers the keys of every object that a schema describes.
func propertyNames(v any, names map[string]bool) {
	switch v := v.(type) {
	case map[string]any:
		if p, ok := v["properties"].(map[string]any); ok {
			for name := range p {
				names[name] = true
			}
		}
		for _, sub := range v {
			propertyNames(sub, names)
		}
	case []any:
		for _, sub := range v {
			propertyNames(sub, names)
		}
	}
}

// Every line of README's table of words agrees with the table of measures: name, unit.
func TestReadmeWords(t *testing.T) {
	row := regexp.MustCompile("(?m)^\\| ((?:`(?:NAME\\.)?[a-z_]+`(?:, )?)+) \\| ([^|]*) \\|")
	_, text, _ := strings.Cut(readme(t), "## Words and signs")
	text, _, _ = strings.Cut(text, "\n## ")
	rows := row.FindAllStringSubmatch(text, -1)
	if len(rows) < 15 {
		t.Errorf("README's table of words has %d lines that could be read", len(rows))
	}
	for _, r := range rows {
		for _, name := range strings.Split(r[1], ", ") {
			name = strings.Trim(name, "`")
			bare := strings.TrimPrefix(name, "NAME.")
			m, ok := kin.LookupMeasure(bare)
			if !ok || (m.Of == kin.OfCorner) != (bare == name) {
				t.Errorf("README's word %s is no measure", name)
				continue
			}
			if unit := strings.TrimSpace(r[2]); unit != m.Unit.String() {
				t.Errorf("%s: README's unit is %q, the table of measures has %q", name, unit, m.Unit)
			}
		}
	}
}

// README's exit codes are those of help.
func TestReadmeExitCodes(t *testing.T) {
	text := readme(t)
	for line := range strings.Lines(exitCodes) {
		code, meaning, ok := strings.Cut(strings.TrimSpace(line), " ")
		if !ok || code == "Exit" {
			continue
		}
		if want := "| " + code + " | " + strings.TrimSpace(meaning) + " |"; !strings.Contains(text, want) {
			t.Errorf("README lacks the line %s", want)
		}
	}
}

// What README says is not built yet, no command answers and no file accepts.
func TestReadmeNotBuilt(t *testing.T) {
	_, text, _ := strings.Cut(readme(t), "## Not built yet")
	text, _, _ = strings.Cut(text, "\n## ")
	_, commands, ok := strings.Cut(text, "the commands ")
	if !ok {
		t.Fatal("README names no command that is not built")
	}
	for _, name := range regexp.MustCompile("`([a-z]+)`").FindAllStringSubmatch(commands, -1) {
		if _, _, code := perform(t, "trammel "+name[1]+" x"); code != exitUsage {
			t.Errorf("trammel %s ends with %d; README says that it is not built yet", name[1], code)
		}
	}
	for _, name := range regexp.MustCompile("`([a-z_]+)`").FindAllStringSubmatch(text, -1) {
		if _, built := kin.LookupMeasure(name[1]); built {
			t.Errorf("README says that %s is not built yet, but it is a measure", name[1])
		}
	}
}
