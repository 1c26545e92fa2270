//go:build !linux && !darwin && !windows

package record

// FreeSpace returns how many bytes may still be written to the disk that a folder lies on; false when
// the system does not say, as here.
func FreeSpace(dir string) (int64, bool) { return 0, false }
