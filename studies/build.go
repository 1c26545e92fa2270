package studies

import (
	"crypto/sha256"
	"encoding/hex"
	"io"
	"os"
	"runtime"
	"strings"
	"sync"
)

// Build returns the fingerprint of this build: compiler, platform and a hash of the program itself.
// Rows are promised to be equal to the bit between runs of one build only.
var Build = sync.OnceValue(func() string {
	parts := []string{runtime.Version(), runtime.GOOS + "/" + runtime.GOARCH}
	if h := hashSelf(); h != "" {
		parts = append(parts, h)
	}
	return strings.Join(parts, " ")
})

// hashSelf returns 16 hexadecimal digits of the running program's SHA-256; "" where it cannot be read.
func hashSelf() string {
	path, err := os.Executable()
	if err != nil {
		return ""
	}
	f, err := os.Open(path)
	if err != nil {
		return ""
	}
	defer f.Close()
	h := sha256.New()
	if _, err := io.Copy(h, f); err != nil {
		return ""
	}
	return hex.EncodeToString(h.Sum(nil)[:8])
}
