package parts

import (
	"context"
	"strings"

	"github.com/a-h/templ"

	"settlemark/internal/urls"
	"settlemark/internal/words"
)

// Proving is what a form that signs must know about its signer; the handler
// fills it in for what the page shows.
type Proving struct {
	Nonce    string   // of the form, so that a second click finds the first
	Shown    string   // base64url: the hash of what the page shows
	Typed    []string // names of the fields that are signed with it; see auth.Typed
	RP       string   // the site of the passkeys
	Passkeys []string // base64url ids of the signer's
	App      bool     // an authenticator app gives codes
	None     bool     // no second factor yet
	Demo     string   // the code now, in the demo
	First    bool     // before the first second factor the password is enough
}

func (p Proving) allowed() string { return strings.Join(p.Passkeys, " ") }

func (p Proving) typed() string { return strings.Join(p.Typed, " ") }

func (p Proving) codeLabel() words.Text {
	if p.App {
		return words.Say("Code from your authenticator app")
	}
	return words.Say("One of your recovery codes")
}

func (p Proving) codeHint() words.Text {
	switch {
	case p.Demo != "":
		return words.Say("Demo: the code now is %s.", p.Demo)
	case p.App:
		return words.Say("The six digits that it shows now, or a recovery code. Each is good once.")
	}
	return words.Say("Each is good once. Use it only when the device with your passkey is not at hand.")
}

// code fills in the code in the demo, and what was typed is never put back.
func (p Proving) code() Form { return Form{Values: map[string][]string{"code": {p.Demo}}} }

func factorsPage() string { return urls.FactorsPattern }

// PasskeyFailed is what the script says, in the line that it says it in, when the
// device gives no answer.
func PasskeyFailed(ctx context.Context) templ.Attributes {
	return templ.Attributes{"data-say-failed": T(ctx, "The device gave no answer. Try again, or go on without a passkey.")}
}
