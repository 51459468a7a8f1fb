package durable

import "syscall"

// Room says how much of the disk under a folder programs like this one may still fill.
func Room(folder string) (free, total uint64, err error) {
	var disk syscall.Statfs_t
	if err := syscall.Statfs(folder, &disk); err != nil {
		return 0, 0, err
	}
	size := uint64(disk.Bsize) //nolint:gosec // a block has a size
	return disk.Bavail * size, disk.Blocks * size, nil
}

// leastRoom is what a busy day and the database's own work fit into.
const leastRoom = 256 << 20

// Full says that hardly anything more fits under a folder.
func Full(folder string) (bool, error) {
	free, _, err := Room(folder)
	return free < leastRoom, err
}
