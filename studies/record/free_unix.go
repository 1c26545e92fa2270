//go:build linux || darwin

package record

import "syscall"

// FreeSpace returns how many bytes may still be written to the disk that a folder lies on; false when
// the system does not say.
func FreeSpace(dir string) (int64, bool) {
	var s syscall.Statfs_t
	if err := syscall.Statfs(dir, &s); err != nil {
		return 0, false
	}
	return int64(s.Bavail) * int64(s.Bsize), true
}
