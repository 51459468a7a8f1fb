package doctor

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"time"

	"settlemark/internal/durable"
)

// Secret looks at a file that nobody else may read. What to do where it is missing is
// "" when that is as it should be; then nothing is said.
func Secret(about, path, missing string) []Finding {
	info, err := os.Stat(path)
	switch {
	case errors.Is(err, fs.ErrNotExist) && missing == "":
		return nil
	case errors.Is(err, fs.ErrNotExist):
		return []Finding{wrong(about, missing, "The file %s is missing.", path)}
	case err != nil:
		return []Finding{wrong(about, "Run this as the user that the program runs as.", "The file %s can't be looked at: %v", path, err)}
	case info.Mode().Perm()&0o077 != 0:
		return []Finding{wrong(about, "chmod 600 "+path+", and consider whether it is still secret.", "Others can read %s.", path)}
	}
	return []Finding{well(about, "only its owner reads %s", path)}
}

// Ends looks at how long a certificate is good.
func Ends(about string, end, now time.Time, warn time.Duration, do string) Finding {
	days := int(end.Sub(now).Hours() / 24)
	switch {
	case now.After(end):
		return wrong(about, do, "It ended on %s.", end.Format(time.DateOnly))
	case end.Sub(now) < warn:
		return wrong(about, do, "It ends in %d days, on %s.", days, end.Format(time.DateOnly))
	}
	return well(about, "good for %d days, until %s", days, end.Format(time.DateOnly))
}

// little is room for some weeks of a busy site.
const little = 2 << 30

// Disk looks at the room under a folder.
func Disk(folder string) Finding {
	free, total, err := durable.Room(folder)
	switch {
	case err != nil:
		return wrong("disk", "See that the folder exists and this user may enter it.", "%s can't be looked at: %v", folder, err)
	case free < little:
		return wrong("disk", "Make room: when it is full nothing is recorded any more.", "Of the disk of %s %d MB of %d MB are free.", folder, free>>20, total>>20)
	}
	return well("disk", "%d GB free under %s", free>>30, folder)
}

// stale is the age above which a daily backup has failed.
const stale = 26 * time.Hour

// Backups looks for the newest file in the folder that they are written to.
func Backups(folder string, now time.Time) Finding {
	const do = "Have settlemark backup run every day, and see why it did not."
	names, err := os.ReadDir(folder)
	if err != nil {
		return wrong("backups", "Name the folder that settlemark backup writes to.", "%s can't be read: %v", folder, err)
	}
	var newest fs.FileInfo
	for _, name := range names {
		info, err := name.Info()
		if err == nil && info.Mode().IsRegular() && (newest == nil || info.ModTime().After(newest.ModTime())) {
			newest = info
		}
	}
	if newest == nil {
		return wrong("backups", do, "There is none in %s.", folder)
	}
	age := now.Sub(newest.ModTime())
	said := fmt.Sprintf("the newest, %s, is %d hours old", filepath.Base(newest.Name()), int(age.Hours()))
	if age > stale {
		return wrong("backups", do, "%s.", said)
	}
	return well("backups", "%s; settlemark restore-drill proves that it can be restored", said)
}
