package main

import (
	"fmt"
	"net/netip"
	"net/url"
	"os"
	"path/filepath"
	"strings"

	"settlemark/internal/act"
	"settlemark/internal/mail"
	"settlemark/internal/mqtt"
	"settlemark/internal/provider"
	"settlemark/internal/webhook"
)

const defaultListen = "127.0.0.1:8080"

// config is what the environment says.
type config struct {
	listen     string           // SETTLEMARK_LISTEN; port 0 takes a free one
	metrics    string           // SETTLEMARK_METRICS_LISTEN; "" for none
	data       string           // SETTLEMARK_DATA: the folder of the private Postgres
	appURL     string           // DATABASE_URL: another server, with a login that serves
	ownerURL   string           // DATABASE_OWNER_URL: the login that migrates
	replicaURL string           // DATABASE_REPLICA_URL: a standby to read from; "" for none
	weak       bool             // SETTLEMARK_WEAK_DURABILITY=1 serves although acknowledged writes may be lost in a crash
	demo       bool             // SETTLEMARK_DEMO, on unless 0
	proxies    []netip.Prefix   // SETTLEMARK_PROXIES: whose forwarding headers are believed
	publicURL  string           // SETTLEMARK_URL: printed on certificates; "" names no verify page
	siteKey    string           // SETTLEMARK_SITE_KEY: the key that signs certificates; "" for the one in the data folder
	noWorker   bool             // SETTLEMARK_OFFLINE=0 takes the service worker off every tablet
	https      https            // SETTLEMARK_TLS and its kin
	privateSrv bool             // no DATABASE_URL
	webhooks   []webhook.Target // SETTLEMARK_WEBHOOKS: the file that names the receivers
	mqtt       *mqtt.Config     // SETTLEMARK_MQTT: the file that names the broker; nil for none
	mail       *mail.Server     // SETTLEMARK_SMTP_URL and its kin; nil for none
	log        act.Log          // SETTLEMARK_LOG_KEY, SETTLEMARK_EXPORT, SETTLEMARK_WITNESSES, SETTLEMARK_TSA_URL

	provider provider.Config // SETTLEMARK_OIDC_ISSUER and its kin; no issuer for none
}

func readConfig(env func(string) string) (config, error) {
	c := config{
		listen: env("SETTLEMARK_LISTEN"), metrics: env("SETTLEMARK_METRICS_LISTEN"), data: env("SETTLEMARK_DATA"),
		appURL: env("DATABASE_URL"), ownerURL: env("DATABASE_OWNER_URL"), demo: env("SETTLEMARK_DEMO") != "0",
		replicaURL: env("DATABASE_REPLICA_URL"), weak: env("SETTLEMARK_WEAK_DURABILITY") == "1",
		siteKey: env("SETTLEMARK_SITE_KEY"), noWorker: env("SETTLEMARK_OFFLINE") == "0",
	}
	if c.listen == "" {
		c.listen = defaultListen
	}
	c.privateSrv = c.appURL == ""
	if public := env("SETTLEMARK_URL"); public != "" {
		u, err := url.Parse(public)
		if err != nil || u.Host == "" || (u.Scheme != "https" && u.Scheme != "http") {
			return c, fmt.Errorf("SETTLEMARK_URL: %q is not an address such as https://settlemark.example", public)
		}
		c.publicURL = strings.TrimRight(public, "/")
	}
	var err error
	if c.https, err = readHTTPS(env, c.publicURL); err != nil {
		return c, err
	}
	if c.provider, err = readProvider(env, c.publicURL); err != nil {
		return c, err
	}
	if err := c.checkDatabase(); err != nil {
		return c, err
	}
	if c.data == "" {
		folder, err := dataFolder(env)
		if err != nil {
			return c, err
		}
		c.data = folder
	}
	if c.log, err = readLog(env, c); err != nil {
		return c, err
	}
	if file := env("SETTLEMARK_WEBHOOKS"); file != "" {
		text, err := os.ReadFile(file) //nolint:gosec // the operator names the file
		if err == nil {
			c.webhooks, err = webhook.Read(text)
		}
		if err != nil {
			return c, fmt.Errorf("SETTLEMARK_WEBHOOKS: %w", err)
		}
	}
	if c.mqtt, err = readBroker(env); err != nil {
		return c, err
	}
	if c.mail, err = readMail(env); err != nil {
		return c, err
	}
	for _, text := range strings.FieldsFunc(env("SETTLEMARK_PROXIES"), func(r rune) bool { return r == ',' || r == ' ' }) {
		prefix, err := netip.ParsePrefix(text)
		if err != nil {
			return c, fmt.Errorf("SETTLEMARK_PROXIES: %q is not an address range such as 10.0.0.5/32", text)
		}
		c.proxies = append(c.proxies, prefix)
	}
	return c, nil
}

// checkDatabase refuses what makes no sense beside a Postgres of our own.
func (c *config) checkDatabase() error {
	switch {
	case c.privateSrv && c.ownerURL != "":
		return fmt.Errorf("DATABASE_OWNER_URL is set, DATABASE_URL is not: set both, or neither for a Postgres of our own")
	case c.privateSrv && c.replicaURL != "":
		return fmt.Errorf("DATABASE_REPLICA_URL is set, DATABASE_URL is not: a Postgres of our own has no replica")
	}
	return nil
}

// readBroker names the broker that readings come from.
func readBroker(env func(string) string) (c *mqtt.Config, err error) {
	file := env("SETTLEMARK_MQTT")
	if file == "" {
		return nil, nil
	}
	text, err := os.ReadFile(file) //nolint:gosec // the operator names the file
	if err == nil {
		c, err = mqtt.Read(text)
	}
	if err != nil {
		return nil, fmt.Errorf("SETTLEMARK_MQTT: %w", err)
	}
	return c, nil
}

// readMail names the mail server; its password stands in a file of its own.
func readMail(env func(string) string) (*mail.Server, error) {
	address := env("SETTLEMARK_SMTP_URL")
	if address == "" {
		return nil, nil
	}
	password := ""
	if file := env("SETTLEMARK_SMTP_PASSWORD_FILE"); file != "" {
		text, err := os.ReadFile(file) //nolint:gosec // the operator names the file
		if err != nil {
			return nil, fmt.Errorf("SETTLEMARK_SMTP_PASSWORD_FILE: %w", err)
		}
		password = strings.TrimSpace(string(text))
	}
	s, err := mail.Read(address, env("SETTLEMARK_SMTP_FROM"), password)
	if err != nil {
		return nil, fmt.Errorf("SETTLEMARK_SMTP_URL, SETTLEMARK_SMTP_FROM: %w", err)
	}
	return &s, nil
}

// readLog says how the log is kept: its key, its copy, its witnesses and who
// stamps it.
func readLog(env func(string) string, c config) (act.Log, error) {
	log := act.Log{Key: env("SETTLEMARK_LOG_KEY"), Host: logHost(c.publicURL), Export: env("SETTLEMARK_EXPORT")}
	if log.Key == "" {
		log.Key = filepath.Join(c.data, "keys", "log.key")
	}
	if log.Authority = env("SETTLEMARK_TSA_URL"); log.Authority != "" {
		u, err := url.Parse(log.Authority)
		if err != nil || u.Host == "" || (u.Scheme != "https" && u.Scheme != "http") {
			return log, fmt.Errorf("SETTLEMARK_TSA_URL: %q is not an address such as https://stamps.example/tsa", log.Authority)
		}
	}
	if file := env("SETTLEMARK_WITNESSES"); file != "" {
		text, err := os.ReadFile(file) //nolint:gosec // the operator names the file
		if err == nil {
			err = act.CheckWitnesses(string(text))
		}
		if err != nil {
			return log, fmt.Errorf("SETTLEMARK_WITNESSES: %w", err)
		}
		log.Witnesses = string(text)
	}
	return log, nil
}

// logHost begins the name of the log: an address of the site, or one that leads
// nowhere.
func logHost(publicURL string) string {
	if u, err := url.Parse(publicURL); err == nil && u.Host != "" {
		return u.Host
	}
	return "settlemark.localhost"
}

// dataFolder is where programs of this user keep their data.
func dataFolder(env func(string) string) (string, error) {
	if os.Geteuid() == 0 {
		return "/var/lib/settlemark", nil
	}
	if folder := env("XDG_DATA_HOME"); filepath.IsAbs(folder) {
		return filepath.Join(folder, "settlemark"), nil
	}
	home, err := os.UserHomeDir()
	if err != nil {
		return "", fmt.Errorf("no home folder for the data: set SETTLEMARK_DATA (%w)", err)
	}
	return filepath.Join(home, ".local", "share", "settlemark"), nil
}
