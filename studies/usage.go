package studies

import "fmt"

// usagef makes an error for which the exit code is 2: wrong use, or a bad file.
func usagef(format string, args ...any) error {
	return usageError{fmt.Errorf(format, args...)}
}
