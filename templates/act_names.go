package templates

import "settlemark/internal/words"

// actNames are the acts of consequence, as they are stored.
var actNames = map[string]words.Text{
	"run opened":                  words.Say("Run opened"),
	"pen taken":                   words.Say("Pen taken"),
	"run submitted":               words.Say("Run submitted"),
	"run returned":                words.Say("Run returned"),
	"run released":                words.Say("Run released"),
	"run abandoned":               words.Say("Run abandoned"),
	"run clock changed":           words.Say("Clock of a tablet changed"),
	"run record set aside":        words.Say("Run record set aside"),
	"certificate withdrawn":       words.Say("Certificate withdrawn"),
	"unit event recorded":         words.Say("Unit event recorded"),
	"procedure added":             words.Say("Procedure added"),
	"procedure draft started":     words.Say("Procedure draft started"),
	"procedure draft thrown away": words.Say("Procedure draft thrown away"),
	"procedure submitted":         words.Say("Procedure submitted"),
	"procedure approved":          words.Say("Procedure approved"),
	"procedure rejected":          words.Say("Procedure rejected"),
	"procedure retired":           words.Say("Procedure retired"),
	"site saved":                  words.Say("Site saved"),
	"line saved":                  words.Say("Line saved"),
	"bench saved":                 words.Say("Bench saved"),
	"instrument saved":            words.Say("Instrument saved"),
	"fluid saved":                 words.Say("Fluid saved"),
	"unit saved":                  words.Say("Unit saved"),
	"logger saved":                words.Say("Logger saved"),
	"logger token made":           words.Say("Logger token made"),
	"logger token ended":          words.Say("Logger token ended"),
	"hall screen made":            words.Say("Hall screen made"),
	"hall screen ended":           words.Say("Hall screen ended"),
	"change proposed":             words.Say("Change proposed"),
	"person added":                words.Say("Person added"),
	"roles changed":               words.Say("Roles changed"),
	"person disabled":             words.Say("Person disabled"),
	"persons joined":              words.Say("Persons joined"),
	"invite made":                 words.Say("Invite made"),
	"sessions ended":              words.Say("Sessions ended"),
	"first administrator":         words.Say("First administrator"),
	"password set":                words.Say("Password set"),
	"password changed":            words.Say("Password changed"),
	"authenticator app added":     words.Say("Authenticator app added"),
	"authenticator app removed":   words.Say("Authenticator app removed"),
	"passkey added":               words.Say("Passkey added"),
	"passkey removed":             words.Say("Passkey removed"),
	"recovery codes made":         words.Say("Recovery codes made"),
	"recovery code used":          words.Say("Recovery code used"),
	"second factors void":         words.Say("Second factors void"),
	"five wrong proofs":           words.Say("Five wrong proofs"),
	"identity linked":             words.Say("Identity linked"),
	"identity unlinked":           words.Say("Identity unlinked"),
	"key file replaced":           words.Say("Key file replaced"),
	"name erased":                 words.Say("Name erased"),
}

// ActName says an act in words that have every language, where it is known.
func ActName(act string) words.Text {
	if name, known := actNames[act]; known {
		return name
	}
	return words.Plain(act)
}
