package main

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// A certificate is checked where there is no network at all, no server and no
// database: with the file, the policy and the list.
func TestVerifyWithoutNetwork(t *testing.T) {
	program := builtProgram(t)
	verify := []string{
		program, "verify", filepath.Join(vectors, "genuine.pdf"), "--policy", filepath.Join(vectors, "policy.txt"),
		"--status", filepath.Join(vectors, "list.txt"), "--now", "2026-06-05T12:00:00Z",
	}
	for _, alone := range [][]string{{"unshare", "-n"}, {"unshare", "-r", "-n"}, nil} {
		if len(alone) > 0 && exec.Command(alone[0], append(alone[1:], "true")...).Run() != nil {
			continue
		}
		line := append(append([]string{}, alone...), verify...)
		t.Logf("run by %q, nil where this machine lets nobody make a network namespace", alone)
		command := exec.Command(line[0], line[1:]...)
		command.Env = []string{"HOME=" + t.TempDir(), "PATH=" + os.Getenv("PATH")}
		out, err := command.CombinedOutput()
		if err != nil || !strings.Contains(string(out), "verdict: genuine and valid") {
			t.Errorf("%v\n%s", err, out)
		}
		fmt.Printf("figure: verified with %q in front\n", alone)
		return
	}
}

func builtProgram(t *testing.T) string {
	t.Helper()
	program := filepath.Join(t.TempDir(), "settlemark")
	if out, err := exec.Command("go", "build", "-o", program, ".").CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	return program
}
