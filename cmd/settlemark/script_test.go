package main

import (
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"
)

func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){"settlemark": main})
}

// vectors are the published certificates with their flaws.
const vectors = "../../internal/certificate/testdata/vectors"

// TestScripts types the commands of testdata as a person would.
func TestScripts(t *testing.T) {
	published, err := filepath.Abs(vectors)
	if err != nil {
		t.Fatal(err)
	}
	testscript.Run(t, testscript.Params{
		Dir: "testdata", Cmds: map[string]func(*testscript.TestScript, bool, []string){"exits": exits},
		Setup: func(env *testscript.Env) error {
			env.Setenv("VECTORS", published)
			// Where root runs the tests, somebody else runs the database.
			return errors.Join(os.Chmod(env.WorkDir, 0o755), os.Chmod(filepath.Dir(env.WorkDir), 0o755))
		},
	})
}

// exits runs a command that must end with the status given first.
func exits(ts *testscript.TestScript, _ bool, args []string) {
	want, err := strconv.Atoi(args[0])
	ts.Check(err)
	err = ts.Exec(args[1], args[2:]...)
	var ended *exec.ExitError
	got := 0
	if errors.As(err, &ended) {
		got = ended.ExitCode()
	} else {
		ts.Check(err)
	}
	if got != want {
		ts.Fatalf("exit status %d, want %d", got, want)
	}
}
