package main

import (
	"fmt"
	"runtime/debug"
	"syscall"
)

// boundedMemory is what a process may have that looks at a stranger's file. The
// collector is told to stay well below it, since the heap takes its room in
// pieces of 64 MiB.
const (
	boundedMemory  = 256 << 20
	boundedHeap    = 160 << 20
	boundedPercent = 40
	boundedSeconds = 5 // of the processor
)

// bindProcess makes the system end this process rather than let it grow or go on.
func bindProcess() error {
	debug.SetMemoryLimit(boundedHeap)
	debug.SetGCPercent(boundedPercent)
	for what, most := range map[int]uint64{syscall.RLIMIT_DATA: boundedMemory, syscall.RLIMIT_CPU: boundedSeconds} {
		if err := syscall.Setrlimit(what, &syscall.Rlimit{Cur: most, Max: most}); err != nil {
			return fmt.Errorf("bounding this process: %w", err)
		}
	}
	return nil
}
