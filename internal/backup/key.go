package backup

import (
	"bufio"
	"bytes"
	"fmt"
	"io"
	"os"
	"strings"

	"filippo.io/age"

	"settlemark/internal/problem"
	"settlemark/internal/words"
)

// Key encrypts backups or opens them; the zero value does neither.
type Key struct {
	recipients []age.Recipient
	identities []age.Identity
}

// shortestPassphrase is common practice for a phrase that can be tried without end.
const shortestPassphrase = 16

// ReadKey reads a key file: public keys (age1…) that encrypt only, a private key
// (AGE-SECRET-KEY-…) that does both, or one line that is a passphrase.
func ReadKey(path string) (Key, error) {
	var k Key
	text, err := os.ReadFile(path) //nolint:gosec // the operator names the file
	if err != nil {
		return k, err
	}
	var phrase []string
	for line := range strings.Lines(string(text)) {
		line = strings.TrimSpace(line)
		switch upper := strings.ToUpper(line); {
		case line == "" || strings.HasPrefix(line, "#"):
		case strings.HasPrefix(upper, "AGE1"):
			found, err := age.ParseRecipients(strings.NewReader(line))
			if err != nil {
				return k, badKey(path, err)
			}
			k.recipients = append(k.recipients, found...)
		case strings.HasPrefix(upper, "AGE-SECRET-KEY-"):
			found, err := age.ParseIdentities(strings.NewReader(line))
			if err != nil {
				return k, badKey(path, err)
			}
			k.identities = append(k.identities, found...)
			for _, i := range found {
				switch i := i.(type) {
				case *age.X25519Identity:
					k.recipients = append(k.recipients, i.Recipient())
				case *age.HybridIdentity:
					k.recipients = append(k.recipients, i.Recipient())
				}
			}
		default:
			phrase = append(phrase, line)
		}
	}
	if len(phrase) == 0 && k.recipients != nil {
		return k, nil
	}
	return passphrase(path, phrase, k.recipients != nil)
}

func passphrase(path string, lines []string, mixed bool) (k Key, err error) {
	if len(lines) != 1 || mixed || len(lines[0]) < shortestPassphrase {
		return k, badKey(path, fmt.Errorf("a passphrase is one line of %d characters or more, with nothing beside it", shortestPassphrase))
	}
	recipient, err := age.NewScryptRecipient(lines[0])
	if err != nil {
		return k, badKey(path, err)
	}
	identity, err := age.NewScryptIdentity(lines[0])
	if err != nil {
		return k, badKey(path, err)
	}
	return Key{recipients: []age.Recipient{recipient}, identities: []age.Identity{identity}}, nil
}

func badKey(path string, cause error) error {
	return &problem.Error{Kind: problem.Invalid, Cause: cause, Sentence: words.Say(
		"%s is no key for backups: %v. Give a file of public keys (age1…), of a private key (AGE-SECRET-KEY-…), or of one passphrase.", path, cause)}
}

// encrypt wraps where a backup is written to; Close ends it.
func (k Key) encrypt(to io.Writer) (io.WriteCloser, error) {
	if k.recipients == nil {
		return nopCloser{to}, nil
	}
	return age.Encrypt(to, k.recipients...)
}

type nopCloser struct{ io.Writer }

func (nopCloser) Close() error { return nil }

const ageBegins = "age-encryption.org/"

// decrypt gives the plain file, whether or not it is encrypted.
func (k Key) decrypt(from io.Reader) (io.Reader, error) {
	buffered := bufio.NewReaderSize(from, 1<<16)
	begins, _ := buffered.Peek(len(ageBegins)) // a shorter file is no backup
	if !bytes.Equal(begins, []byte(ageBegins)) {
		return buffered, nil
	}
	if k.identities == nil {
		return nil, problem.New(problem.Invalid, "The backup is encrypted. Give its private key or passphrase with --key FILE.")
	}
	plain, err := age.Decrypt(buffered, k.identities...)
	if err != nil {
		return nil, &problem.Error{Kind: problem.Invalid, Cause: err, Sentence: words.Say("The key does not open this backup, or its beginning is damaged. Give the key that it was made for.")}
	}
	return plain, nil
}
