package studies

import (
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"fmt"
	"io/fs"
	"path"
	"runtime"
	"runtime/debug"
	"strings"
	"sync"

	"trammel/kin"
	"trammel/objectives"
	"trammel/optimize"
)

//go:embed *.go
var ownSource embed.FS

// Build returns the fingerprint of this build: compiler, platform and a hash of everything that rows
// depend on, which is the source of the packages that make them and the versions of what they use. Rows
// are promised to be equal to the bit between builds with the same fingerprint only.
var Build = sync.OnceValue(func() string {
	h := sha256.New()
	for _, from := range []embed.FS{kin.Source, objectives.Source, optimize.Source, optimize.LocalSource, ownSource} {
		names, err := fs.Glob(from, "*.go")
		if err != nil {
			panic("studies: the pattern of sources: " + err.Error())
		}
		for _, name := range names {
			if strings.HasSuffix(name, "_test.go") {
				continue
			}
			text, err := from.ReadFile(name)
			if err != nil {
				panic("studies: an embedded file: " + err.Error())
			}
			fmt.Fprintf(h, "%s %d\n%s", path.Base(name), len(text), text)
		}
	}
	if info, ok := debug.ReadBuildInfo(); ok {
		for _, d := range info.Deps {
			fmt.Fprintln(h, d.Path, d.Version)
		}
	}
	return fmt.Sprintf("%s %s/%s %s", runtime.Version(), runtime.GOOS, runtime.GOARCH, hex.EncodeToString(h.Sum(nil)[:8]))
})
