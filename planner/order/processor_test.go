//go:build unix

package order_test

import (
	"syscall"
	"testing"
)

// processor is the time this process has computed, in seconds: on a shared machine the
// wall clock tells more of the neighbours than of us.
func processor(t testing.TB) float64 {
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		t.Fatal(err)
	}
	return float64(u.Utime.Sec) + float64(u.Utime.Usec)/1e6
}
