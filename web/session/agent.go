package session

import "strings"

// agent says what a device is, from what its browser says of itself. It is for
// its owner to know it again, and decides nothing.
func agent(said string) string {
	browser := word(said, [][2]string{{"Edg", "Edge"}, {"Firefox/", "Firefox"}, {"Chrome/", "Chrome"}, {"Safari/", "Safari"}})
	device := word(said, [][2]string{
		{"iPad", "iPad"}, {"iPhone", "iPhone"}, {"Android", "Android"}, {"Windows", "Windows"}, {"Macintosh", "Mac"}, {"Linux", "Linux"},
	})
	switch {
	case browser == "":
		return device
	case device == "":
		return browser
	}
	return browser + " on " + device
}

// word gives what stands for the first sign that the text holds; "" for none.
func word(text string, signs [][2]string) string {
	for _, s := range signs {
		if strings.Contains(text, s[0]) {
			return s[1]
		}
	}
	return ""
}
