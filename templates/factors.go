package templates

import (
	"encoding/base64"
	"fmt"
	"strings"
	"time"

	"settlemark/templates/parts"
)

// accountSheet is for the pages on which second factors are set up alone.
const accountSheet = "css/account.css"

// FactorsView is what a person can prove their identity with.
type FactorsView struct {
	App      bool
	Recovery int // codes that are left
	Passkeys []PasskeyLine
	Then     string // where the person was going
}

// None says that there is no second factor yet.
func (v FactorsView) None() bool { return !v.App && len(v.Passkeys) == 0 }

// PasskeyLine is one passkey.
type PasskeyLine struct {
	ID      []byte
	Name    string
	RP      string
	AddedAt time.Time
	UsedAt  *time.Time
}

// Key is the passkey in an address.
func (l PasskeyLine) Key() string { return base64.RawURLEncoding.EncodeToString(l.ID) }

// AppView is an authenticator app on its way.
type AppView struct {
	URL, Seed string // what the picture says, and the seed to type
	Replaces  bool
	Then      string
	Proving   parts.Proving
	Form      parts.Form
}

// seedGroups is the seed in groups that the eye can hold.
func (v AppView) seedGroups() string {
	var groups []string
	for s := v.Seed; s != ""; {
		n := min(4, len(s))
		groups, s = append(groups, s[:n]), s[n:]
	}
	return strings.Join(groups, " ")
}

// PasskeyView is the form that makes a passkey.
type PasskeyView struct {
	RP         string // "" where the address can have none
	User       string // the person's code
	Login      string
	Name       string
	IDs        string // of the passkeys that there are
	Algorithms string
	Then       string
	Proving    parts.Proving
	Form       parts.Form
}

func pictureBox(side int) string { return fmt.Sprintf("0 0 %d %d", side, side) }
