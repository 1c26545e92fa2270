package record

import "golang.org/x/sys/windows"

// FreeSpace returns how many bytes may still be written to the disk that a folder lies on; false when
// the system does not say.
func FreeSpace(dir string) (int64, bool) {
	path, err := windows.UTF16PtrFromString(dir)
	if err != nil {
		return 0, false
	}
	var free uint64
	if err := windows.GetDiskFreeSpaceEx(path, &free, nil, nil); err != nil {
		return 0, false
	}
	return int64(free), true
}
