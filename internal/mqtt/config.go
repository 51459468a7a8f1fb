// Package mqtt takes readings from a broker: it subscribes, makes a row of each
// message as the operator's file says, and records it through the same door as
// the interface for machines. docs/mqtt.md describes the file. The package must
// not know HTTP nor SQL.
package mqtt

import (
	"bytes"
	"crypto/tls"
	"crypto/x509"
	"encoding/json"
	"errors"
	"fmt"
	"net"
	"net/url"
	"os"
	"strings"
)

// Config is what the operator's file says.
type Config struct {
	Broker       string  `json:"broker"`
	Client       string  `json:"client"` // a name that no other client of the broker has
	User         string  `json:"user"`
	PasswordFile string  `json:"password_file"`
	CAFile       string  `json:"ca_file"` // who vouches for the broker; else who the machine trusts
	Topics       []Topic `json:"topics"`

	address  *url.URL
	password []byte
	tls      *tls.Config
}

// Topic is one subscription, and how its messages become readings of a gateway's units.
type Topic struct {
	Topic   string            `json:"topic"`   // plant/{tag}/{quantity}
	Gateway string            `json:"gateway"` // code of the gateway that answers for them
	Tag     string            `json:"tag"`     // of the unit; {tag} when left out
	Row     map[string]string `json:"row"`     // none: the message is a row, or a list of rows, itself
}

// Read reads the file and the files that it names.
func Read(file []byte) (*Config, error) {
	c := &Config{}
	d := json.NewDecoder(bytes.NewReader(file))
	d.DisallowUnknownFields()
	if err := d.Decode(c); err != nil {
		return nil, fmt.Errorf("it can't be read: %w", err)
	}
	if c.Client == "" || len(c.Topics) == 0 {
		return nil, errors.New("it needs a client and topics")
	}
	for i := range c.Topics {
		if err := c.Topics[i].check(); err != nil {
			return nil, fmt.Errorf("topic %q: %w", c.Topics[i].Topic, err)
		}
	}
	if err := c.readAddress(); err != nil {
		return nil, err
	}
	return c, c.readFiles()
}

// readAddress takes encryption off this machine for granted, as for e-mails.
func (c *Config) readAddress() (err error) {
	c.address, err = url.Parse(c.Broker)
	if err != nil || c.address.Hostname() == "" || c.address.User != nil || strings.Trim(c.address.Path, "/") != "" {
		return fmt.Errorf("broker: %q is no address such as mqtts://broker.example:8883", c.Broker)
	}
	ip := net.ParseIP(c.address.Hostname())
	here := c.address.Hostname() == "localhost" || ip != nil && ip.IsLoopback()
	switch {
	case c.address.Scheme == "mqtts", c.address.Scheme == "mqtt" && here:
		return nil
	case c.address.Scheme == "mqtt":
		return errors.New("broker: mqtt:// is for a broker on this machine; use mqtts://")
	}
	return fmt.Errorf("broker: %q begins with neither mqtts:// nor mqtt://", c.Broker)
}

func (c *Config) readFiles() error {
	if c.PasswordFile != "" {
		text, err := os.ReadFile(c.PasswordFile)
		if err != nil {
			return fmt.Errorf("password_file: %w", err)
		}
		c.password = bytes.TrimSpace(text)
	}
	c.tls = &tls.Config{MinVersion: tls.VersionTLS12, ServerName: c.address.Hostname()}
	if c.CAFile != "" {
		text, err := os.ReadFile(c.CAFile)
		if err != nil {
			return fmt.Errorf("ca_file: %w", err)
		}
		c.tls.RootCAs = x509.NewCertPool()
		if !c.tls.RootCAs.AppendCertsFromPEM(text) {
			return fmt.Errorf("ca_file: %s holds no certificate", c.CAFile)
		}
	}
	return nil
}
