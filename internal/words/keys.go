package words

import (
	"maps"
	"slices"
)

// Translated lists what the catalogue of a language has: English formats with
// what stands for them, the one of a count in front. Tests hold it to the code.
func Translated(l Language) map[string][]string {
	all := map[string][]string{}
	for id, e := range catalogues[l] {
		all[id] = []string{e.one}
		if e.other != "" {
			all[id] = append(all[id], e.other)
		}
	}
	return all
}

// Others are the languages that have a catalogue.
func Others() []Language { return slices.Sorted(maps.Keys(catalogues)) }
