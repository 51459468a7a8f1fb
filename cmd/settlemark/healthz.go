package main

import (
	"context"
	"crypto/tls"
	"fmt"
	"io"
	"net"
	"net/http"
	"os"
	"time"

	"settlemark/internal/urls"
)

// healthz asks the app on this machine whether it serves: for container health
// checks.
func healthz(ctx context.Context, _ []string, _ io.Reader, stdout, stderr io.Writer) int {
	c, err := readConfig(os.Getenv)
	if err != nil {
		say(stderr, "settlemark: %v", err)
		return 2
	}
	if err := askHealth(ctx, c); err != nil {
		say(stderr, "settlemark: %v", err)
		return 1
	}
	say(stdout, "ok")
	return 0
}

func askHealth(ctx context.Context, c config) error {
	host, port, err := net.SplitHostPort(c.listen)
	if err != nil {
		return err
	}
	if ip := net.ParseIP(host); host == "" || ip != nil && ip.IsUnspecified() {
		host = "127.0.0.1"
	}
	ctx, cancel := context.WithTimeout(ctx, 4*time.Second)
	defer cancel()
	client, scheme := http.DefaultClient, "http://"
	if c.https.way != "" {
		// It asks its own machine whether it serves, not who it is: no secret goes there.
		own := &tls.Config{ServerName: c.https.host, InsecureSkipVerify: true} //nolint:gosec // as said above
		client, scheme = &http.Client{Transport: &http.Transport{TLSClientConfig: own}}, "https://"
	}
	request, err := http.NewRequestWithContext(ctx, http.MethodGet, scheme+net.JoinHostPort(host, port)+urls.HealthPattern, nil)
	if err != nil {
		return err
	}
	answer, err := client.Do(request)
	if err != nil {
		return err
	}
	defer func() { _ = answer.Body.Close() }()
	if answer.StatusCode != http.StatusOK {
		return fmt.Errorf("it answers %s", answer.Status)
	}
	return nil
}
