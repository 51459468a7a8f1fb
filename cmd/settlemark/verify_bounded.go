package main

import (
	"fmt"
	"runtime/debug"
	"syscall"
)

// boundedMemory is what a process may have that looks at a stranger's file. The
// collector is told to stay below it.
const (
	boundedMemory = 256 << 20
	boundedHeap   = 200 << 20
)

// boundMemory makes the system end this process rather than let it grow.
func boundMemory() error {
	debug.SetMemoryLimit(boundedHeap)
	limit := syscall.Rlimit{Cur: boundedMemory, Max: boundedMemory}
	if err := syscall.Setrlimit(syscall.RLIMIT_DATA, &limit); err != nil {
		return fmt.Errorf("bounding memory: %w", err)
	}
	return nil
}
