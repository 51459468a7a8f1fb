package act

import (
	"context"
	"fmt"
	"strings"
	"time"

	"settlemark/db"
	"settlemark/internal/ledger"
	"settlemark/internal/problem"
	"settlemark/internal/words"
)

// Log says how this process keeps the log across runs.
type Log struct {
	Key       string // file of the private key; "" when this process does not seal
	Host      string // begins the log's name
	Witnesses string // policy lines of witnesses, groups and quorum; "" asks for none
	Export    string // folder that checkpoints are copied to; "" for none
	Authority string // address of a time stamp authority (RFC 3161); "" for none
}

// noQuorum ends a policy that asks for no witnesses.
const noQuorum = "quorum none\n"

// LogPolicy gives the policy file of the site: whoever holds it can check
// certificates without asking us.
func (a *Acts) LogPolicy(ctx context.Context) (string, error) {
	keys, err := a.db.LogKeys(ctx)
	if err != nil {
		return "", err
	}
	return policyText(keys, a.Log.Witnesses), nil
}

func policyText(keys []db.LogKey, witnesses string) string {
	var text strings.Builder
	for _, k := range keys {
		fmt.Fprintf(&text, "log %s\n", k.VKey)
	}
	if strings.TrimSpace(witnesses) == "" {
		witnesses = noQuorum
	}
	return text.String() + strings.TrimRight(witnesses, "\n") + "\n"
}

// CheckWitnesses says whether the lines can stand in a policy.
func CheckWitnesses(lines string) error {
	_, err := ledger.ReadPolicy([]byte(policyText(nil, lines)))
	return err
}

// sealingLate is how long a leaf may wait before somebody should look.
const sealingLate = time.Minute

// LogTrouble says in a sentence what is wrong with the sealing of the log, nothing
// when nothing is.
func (a *Acts) LogTrouble(ctx context.Context, now time.Time) (words.Text, error) {
	state, err := a.db.LogState(ctx)
	refused := a.contradiction()
	switch {
	case err != nil:
		return words.Text{}, err
	case refused != nil:
		return words.Say("Nothing is sealed: %s", refused.Error()), nil
	case state.StoppedAt != nil:
		return words.Say("Sealing stopped since %s: %s", state.StoppedAt.Format(time.RFC3339), state.StoppedFor), nil
	case state.Origin == "":
		return words.Say("Nothing is sealed: no log is open. Start one program with a key file for the log."), nil
	case state.Since != nil && now.Sub(*state.Since) > sealingLate:
		return words.Say("Nothing is sealed since %s. See that a program with the log's key file runs.", state.Since.Format(time.RFC3339)), nil
	}
	return words.Text{}, nil
}

// stopError says why no checkpoint may be signed.
type stopError struct{ why string }

func (e *stopError) Error() string { return e.why }

func stop(format string, args ...any) error { return &stopError{fmt.Sprintf(format, args...)} }

// stopped is what the caller of a stopped sealing is told.
func stopped(cause *stopError) error {
	return &problem.Error{Kind: problem.Conflict, Sentence: words.Say("Sealing stopped: %s", cause.why), Cause: cause}
}
