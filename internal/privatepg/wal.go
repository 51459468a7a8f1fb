package privatepg

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"

	"settlemark/internal/problem"
)

var (
	segmentName = regexp.MustCompile(`^([0-9A-F]{8})([0-9A-F]{8})([0-9A-F]{8})$`)
	historyName = regexp.MustCompile(`^[0-9A-F]{8}\.history$`)
	labelStart  = regexp.MustCompile(`START WAL LOCATION: ([0-9A-F]+)/([0-9A-F]+) \(file ([0-9A-F]{24})\)`)
)

// segment is one file of the server's log.
type segment struct {
	timeline, log, seg uint64
	name               string
}

func readSegment(name string) (segment, bool) {
	m := segmentName.FindStringSubmatch(name)
	if m == nil {
		return segment{}, false
	}
	return segment{timeline: hex(m[1]), log: hex(m[2]), seg: hex(m[3]), name: name}, true
}

func hex(text string) uint64 {
	n, _ := strconv.ParseUint(text, 16, 64) // matched
	return n
}

// number counts the segments of a log whose files have this size.
func (s segment) number(size uint64) uint64 { return s.log*(1<<32/size) + s.seg }

func (s *Server) walDir() string { return filepath.Join(s.folder.dir, "wal") }

// gatherWAL brings together the log that the backup carries and the archived
// one, from the start of the backup, and reads every record of it. The copy then
// takes all of it from there.
func (s *Server) gatherWAL(ctx context.Context) error {
	label, err := os.ReadFile(filepath.Join(s.folder.data(), "backup_label"))
	if err != nil {
		return fmt.Errorf("the base backup: %w", err)
	}
	start := labelStart.FindStringSubmatch(string(label))
	if start == nil {
		return errors.New("the base backup: its backup_label does not say where the log starts")
	}
	first, _ := readSegment(start[3])
	if err := makeOwn(s.walDir(), s.account); err != nil {
		return err
	}
	own := filepath.Join(s.folder.data(), "pg_wal")
	all, size := map[string]segment{}, int64(0)
	for _, dir := range []string{s.source.WAL, own} {
		if err := s.takeWAL(ctx, dir, first, all, &size); err != nil {
			return fmt.Errorf("the archive of the log: %w", err)
		}
	}
	if err := errors.Join(makeOwn(own, s.account), makeOwn(filepath.Join(own, "archive_status"), s.account)); err != nil {
		return err
	}
	return s.readWAL(ctx, slices.Collect(maps.Values(all)), first, hex(start[1])<<32|hex(start[2]), uint64(size))
}

// takeWAL copies what is not older than the backup.
func (s *Server) takeWAL(ctx context.Context, dir string, first segment, all map[string]segment, size *int64) error {
	entries, err := os.ReadDir(dir)
	if err != nil {
		return err
	}
	for _, entry := range entries {
		name := entry.Name()
		found, isSegment := readSegment(name)
		older := cmp.Or(cmp.Compare(found.log, first.log), cmp.Compare(found.seg, first.seg)) < 0
		if _, taken := all[name]; taken || ctx.Err() != nil || !historyName.MatchString(name) && (!isSegment || older) {
			continue
		}
		if err := copyFile(filepath.Join(dir, name), filepath.Join(s.walDir(), name), s.account); errors.Is(err, os.ErrExist) {
			continue // a history that both hold
		} else if err != nil {
			return err
		}
		if isSegment {
			about, err := entry.Info()
			if err != nil {
				return err
			}
			if *size == 0 {
				*size = about.Size()
			}
			if about.Size() != *size {
				return fmt.Errorf("%s has %d bytes, the others have %d", name, about.Size(), *size)
			}
			all[name] = found
		}
	}
	return ctx.Err()
}

// readWAL finds gaps, and damaged records before the end.
func (s *Server) readWAL(ctx context.Context, all []segment, first segment, start, size uint64) error {
	if size == 0 || size&(size-1) != 0 {
		return problem.New(problem.Invalid, "The archive of the log holds no segment from the start of the backup (%s) on.", first.name)
	}
	slices.SortFunc(all, func(a, b segment) int {
		return cmp.Or(cmp.Compare(a.number(size), b.number(size)), cmp.Compare(a.timeline, b.timeline))
	})
	next := first.number(size)
	ends := map[uint64][2]uint64{} // by timeline: its first and last segment
	for _, g := range all {
		n := g.number(size)
		if n > next {
			return fmt.Errorf("the archive of the log has a gap: %08X%08X%08X is missing, %s is there", first.timeline, next/(1<<32/size), next%(1<<32/size), g.name)
		}
		next = n + 1
		if span, known := ends[g.timeline]; known {
			ends[g.timeline] = [2]uint64{span[0], n}
		} else {
			ends[g.timeline] = [2]uint64{n, n}
		}
	}
	for _, timeline := range slices.Sorted(maps.Keys(ends)) {
		from, to := max(start, ends[timeline][0]*size), (ends[timeline][1]+1)*size
		err := boundTo(ctx, command(s.folder.dir, s.account, s.programs.tool("pg_waldump"), "--quiet",
			"--path="+s.walDir(), fmt.Sprintf("--timeline=%d", timeline), "--start="+position(from), "--end="+position(to)), "pg_waldump")
		if err != nil {
			return fmt.Errorf("the archive of the log is damaged: %w", err)
		}
	}
	return nil
}

func position(lsn uint64) string { return fmt.Sprintf("%X/%X", lsn>>32, lsn&0xffffffff) }
