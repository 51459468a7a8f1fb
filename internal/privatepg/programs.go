package privatepg

import (
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"settlemark/internal/problem"
	"settlemark/internal/words"
)

// Debian keeps the server's programs out of PATH, one folder a version.
var debianPrograms = "/usr/lib/postgresql/*/bin"

var versionLine = regexp.MustCompile(`\(PostgreSQL\) (\d+)`)

// programs is one installed Postgres.
type programs struct {
	dir   string
	major string
}

// findPrograms picks the Postgres that fits the folder's data, or the first in
// PATH, or the newest. Programs that the account can't run don't count.
func findPrograms(f folder, a account) (programs, error) {
	var found []programs
	for _, dir := range programFolders() {
		out, err := command("/", a, filepath.Join(dir, "postgres"), "--version").Output()
		if m := versionLine.FindSubmatch(out); err == nil && m != nil {
			found = append(found, programs{dir: dir, major: string(m[1])})
		}
	}
	if len(found) == 0 {
		return programs{}, problem.New(problem.Invalid,
			"Settlemark needs a Postgres server and found none. Do one of three things: install Postgres (apt install postgresql), "+
				"set DATABASE_URL to a server that you have, or run docker compose up.")
	}
	chosen, err := fitting(found, f)
	if err != nil {
		return programs{}, err
	}
	return chosen, mayEnter(f, a, chosen)
}

// fitting refuses rather than touch data that another version made.
func fitting(found []programs, f folder) (programs, error) {
	stored, err := os.ReadFile(filepath.Join(f.data(), "PG_VERSION"))
	if errors.Is(err, os.ErrNotExist) {
		return found[0], nil
	}
	if err != nil {
		return programs{}, folderRefused(f.dir, err)
	}
	made := strings.TrimSpace(string(stored))
	for _, p := range found {
		if p.major == made {
			return p, nil
		}
	}
	return programs{}, problem.New(problem.Invalid,
		"The database in %s was made by Postgres %s, but this machine has Postgres %s. Nothing was changed. "+
			"Install Postgres %s (apt install postgresql-%s), or restore a backup into a new folder and set SETTLEMARK_DATA to it.",
		f.data(), made, found[0].major, made, made)
}

// programFolders lists the folders that hold a server, PATH first, then the newest.
func programFolders() []string {
	debian, _ := filepath.Glob(debianPrograms) // fails on a bad pattern only
	slices.SortFunc(debian, func(a, b string) int { return majorIn(b) - majorIn(a) })
	var dirs []string
	for _, dir := range append(filepath.SplitList(os.Getenv("PATH")), debian...) {
		if !slices.Contains(dirs, dir) && executable(filepath.Join(dir, "postgres")) && executable(filepath.Join(dir, "initdb")) {
			dirs = append(dirs, dir)
		}
	}
	return dirs
}

func executable(path string) bool {
	_, err := exec.LookPath(path)
	return err == nil && filepath.IsAbs(path)
}

// majorIn reads the version out of /usr/lib/postgresql/15/bin; 0 when there is none.
func majorIn(dir string) int {
	n, err := strconv.Atoi(filepath.Base(filepath.Dir(dir)))
	if err != nil {
		return 0
	}
	return n
}

// mayEnter runs a program as the account inside the folder: the only sure way
// to know that it may.
func mayEnter(f folder, a account, p programs) error {
	err := command(f.dir, a, filepath.Join(p.dir, "postgres"), "--version").Run()
	if !errors.Is(err, os.ErrPermission) {
		return err
	}
	name, nameless := a.name()
	if nameless != nil {
		name = fmt.Sprintf("with the number %d", a.uid)
	}
	return &problem.Error{Kind: problem.Invalid, Cause: err, Sentence: words.Say(
		"The user %s, who runs the database, may not enter %s. "+
			"Set SETTLEMARK_DATA to a folder outside private home folders, such as /var/lib/settlemark.", name, f.dir)}
}

// tool is a program beside the server. The folder may hold links to some of
// them only, so it also looks where they lead.
func (p programs) tool(name string) string {
	beside := filepath.Join(p.dir, name)
	if executable(beside) {
		return beside
	}
	if server, err := filepath.EvalSymlinks(filepath.Join(p.dir, "postgres")); err == nil {
		return filepath.Join(filepath.Dir(server), name)
	}
	return beside
}
