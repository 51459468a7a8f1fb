package templates

import (
	"settlemark/internal/commissioning"
	"settlemark/internal/words"
)

// tellOf are the few things that may make a noise.
var tellOf = []struct {
	event commissioning.Event
	words words.Text
}{
	{commissioning.EventStopped, words.Say("The hold stopped, or a fault stands")},
	{commissioning.EventCheck, words.Say("A check that you type is due")},
	{commissioning.EventReady, words.Say("The hold is complete")},
	{commissioning.EventWaiting, words.Say("A run waits for the second signature")},
}

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

// toldWords are what a page says of an event.
func toldWords(e commissioning.Event) words.Text {
	for _, t := range tellOf {
		if t.event == e {
			return t.words
		}
	}
	return words.Text{}
}
