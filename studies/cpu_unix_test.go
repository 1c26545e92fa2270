//go:build unix

package studies

import (
	"syscall"
	"time"
)

// processorTime returns the time this process has used on all processors.
func processorTime() time.Duration {
	var u syscall.Rusage
	if syscall.Getrusage(syscall.RUSAGE_SELF, &u) != nil {
		return 0
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}
