package commissioning

import "settlemark/internal/words"

// signerTexts are roles, meanings and methods of signatures, as they are stored.
var signerTexts = map[string]words.Text{
	string(Engineer):   words.Say("engineer"),
	string(Supervisor): words.Say("supervisor"),

	MeaningSubmit:      words.Say(MeaningSubmit),
	MeaningCountersign: words.Say(MeaningCountersign),

	"password and code":          words.Say("password and code"),
	"password and recovery code": words.Say("password and recovery code"),
	"passkey":                    words.Say("passkey"),
}

// SignerText is what a signature stores of its signer, in words that can be
// translated where they are known.
func SignerText(stored string) words.Text {
	if text, known := signerTexts[stored]; known {
		return text
	}
	return words.Plain(stored)
}
