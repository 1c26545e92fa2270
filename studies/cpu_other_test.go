//go:build !unix

package studies

import "time"

// processorTime is not measured here; the benchmark then reports wall time alone.
func processorTime() time.Duration { return 0 }
