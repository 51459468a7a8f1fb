package templates

import (
	"strings"

	"settlemark/internal/words"
)

// fieldNames are the fields of registers, as they are stored.
var fieldNames = map[string]words.Text{
	"address":     words.Say("address"),
	"base":        words.Say("base"),
	"bench":       words.Say("bench"),
	"code":        words.Say("code"),
	"due":         words.Say("due"),
	"figures":     words.Say("figures"),
	"ink":         words.Say("ink"),
	"k":           words.Plain("k"),
	"language":    words.Say("language"),
	"line":        words.Say("line"),
	"makeup":      words.Say("make-up"),
	"name":        words.Say("name"),
	"paper":       words.Say("paper"),
	"position":    words.Say("position"),
	"quantities":  words.Say("quantities"),
	"quantity":    words.Say("quantity"),
	"roles":       words.Say("roles"),
	"serial":      words.Say("serial number"),
	"site":        words.Say("site"),
	"tag":         words.Say("tag"),
	"time_zone":   words.Say("time zone"),
	"uncertainty": words.Say("uncertainty"),
	"unit":        words.Say("unit"),
	"units":       words.Say("units"),
}

func fieldName(key string) words.Text {
	if name, known := fieldNames[key]; known {
		return name
	}
	return words.Plain(strings.ReplaceAll(key, "_", " "))
}
