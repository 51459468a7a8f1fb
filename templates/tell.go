package templates

import (
	"strings"

	"github.com/a-h/templ"

	"settlemark/internal/commissioning"
	"settlemark/internal/words"
	"settlemark/templates/parts"
)

// TellView is how a person is told beside this device.
type TellView struct {
	Run    commissioning.Run     // from whose page somebody came, zero for none
	Mail   bool                  // there is a mail server
	Events []commissioning.Event // of which e-mails can tell
	Form   parts.Form            // address and events, as they stand or were typed
	Tried  words.Text            // what came of trying the address
	Good   bool                  // what was tried went well

	Receivers []Receiver // of webhooks, for who may try them
	TriedHook words.Text // what came of trying one
}

// onlyName names the one run of which the device may tell; without one of the
// page's own the script writes the name of the one that was chosen.
func (v TellView) onlyName() templ.Component {
	name := ""
	if v.Run.ID != "" {
		name = v.Run.Unit + ", " + v.Run.Number.String()
	}
	return onlyName(name)
}

// Receiver is one receiver of webhooks, without its secret.
type Receiver struct{ Name, Host string }

// tellWay is one way of being told on a device, with what can be said of it there.
type tellWay struct {
	name       string
	words, try words.Text
	can        words.Text // before it is tried
}

var tellBy = []tellWay{
	{"sound", words.Say("A sound"), words.Say("Try the sound"), words.Say("Works after you have touched a page once. Try it.")},
	{"buzz", words.Say("A buzz"), words.Say("Try the buzz"), words.Say("Works where the device has a motor. Try it.")},
	{"note", words.Say("A notification"), words.Say("Try the notification"), words.Say("The browser asks you first, unless you have allowed it. Try it.")},
	{"awake", words.Say("Keep the screen on"), words.Say("Try to keep it on"), words.Say("Works while the page of a run or the board is in front. Try it.")},
}

// codes are those of people, for a script.
func codes(people []commissioning.PersonID) string {
	var all []string
	for _, p := range people {
		all = append(all, string(p))
	}
	return strings.Join(all, " ")
}
