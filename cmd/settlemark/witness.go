package main

import (
	"context"
	"crypto/rand"
	"errors"
	"flag"
	"fmt"
	"io"
	"io/fs"
	"log/slog"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"time"

	"settlemark/internal/durable"
	"settlemark/internal/ledger"
	"settlemark/internal/witness"
)

const witnessUsage = "usage: settlemark witness --name NAME --data FOLDER --policy FILE [--listen ADDRESS] (the policy names the logs to watch)"

// serveWitness watches other sites' logs and cosigns their checkpoints until
// the context ends. Its key is made at the first start.
func serveWitness(ctx context.Context, args []string, _ io.Reader, stdout, stderr io.Writer) int {
	flags := flag.NewFlagSet("witness", flag.ContinueOnError)
	flags.SetOutput(io.Discard)
	name := flags.String("name", "", "name of the witness, such as its host")
	data := flags.String("data", "", "folder of its key and of what it saw")
	policy := flags.String("policy", "", "policy file with the logs to watch")
	listen := flags.String("listen", "127.0.0.1:8090", "address to listen on")
	if flags.Parse(args) != nil || flags.NArg() > 0 || *name == "" || *data == "" || *policy == "" {
		say(stderr, witnessUsage)
		return 2
	}
	w := &witness.Witness{Dir: *data, Now: time.Now, Log: slog.New(slog.NewJSONHandler(stderr, nil))}
	if err := runWitness(ctx, w, *name, *policy, *listen, stdout); err != nil {
		say(stderr, "settlemark: %v", err)
		return 1
	}
	return 0
}

func runWitness(ctx context.Context, w *witness.Witness, name, policy, listen string, stdout io.Writer) error {
	text, err := os.ReadFile(policy) //nolint:gosec // the operator names the file
	if err != nil {
		return err
	}
	if w.Policy, err = ledger.ReadPolicy(text); err != nil {
		return fmt.Errorf("%s: %w", policy, err)
	}
	if w.Key, err = witnessKey(w.Dir, name); err != nil {
		return err
	}
	listener, err := (&net.ListenConfig{}).Listen(ctx, "tcp", listen)
	if err != nil {
		return err
	}
	say(stdout, "Witness on http://%s", listener.Addr())
	say(stdout, "  policy  witness %s %s http://%s", name, w.Key.VerifierKey(), listener.Addr())
	server := &http.Server{Handler: w.Handler(), ReadHeaderTimeout: 5 * time.Second, ReadTimeout: 10 * time.Second, WriteTimeout: 10 * time.Second}
	served := make(chan error, 1)
	go func() { served <- server.Serve(listener) }()
	select {
	case err := <-served:
		return err
	case <-ctx.Done():
	}
	ending, stop := context.WithTimeout(context.WithoutCancel(ctx), shutdownLimit)
	defer stop()
	return server.Shutdown(ending)
}

func witnessKey(dir, name string) (ledger.Cosigner, error) {
	path := filepath.Join(dir, "witness.key")
	text, err := os.ReadFile(path) //nolint:gosec // the operator names the folder
	if err == nil {
		return ledger.ReadCosigner(string(text))
	}
	if !errors.Is(err, fs.ErrNotExist) {
		return ledger.Cosigner{}, err
	}
	key, err := ledger.NewCosigner(rand.Reader, name)
	if err != nil {
		return key, err
	}
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return key, err
	}
	return key, durable.Write(path, []byte(key.Text()+"\n"))
}
