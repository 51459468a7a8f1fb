package commissioning

import (
	"slices"
	"strings"

	"settlemark/internal/words"
)

// Caution is what a section shows before its first line.
type Caution struct {
	Key   string
	Title words.Text
	Own   words.Text // its own sentence, empty when it has none
}

// Text is the whole of it.
func (c Caution) Text() words.Text { return words.Sentences(c.Own, Deferral) }

// Deferral ends every caution: the product permits nothing.
var Deferral = words.Say("Follow the fluid's safety data sheet, the site's rules and local codes;" +
	" a licensed person decides where the law asks for one.")

// cautions in the order in which they are shown.
var cautions = []Caution{
	{"flammable", words.Say("Flammable vapour"), words.Say("Ink and make-up give off vapour that can catch fire below room temperature." +
		" Keep flames, sparks and hot surfaces away and the extraction on.")},
	{"static", words.Say("Static"), words.Say("Flowing solvent charges itself. Bond and earth the waste container before the first drop" +
		" and take the bond off last; use no loose plastic vessel.")},
	{"skin_eyes", words.Say("Skin and eyes"), words.Say("Fluid and vapour hurt eyes, skin and lungs. Wear the gloves and eye protection" +
		" that the data sheet names; know the way to the eye wash.")},
	{"high_voltage", words.Say("High voltage"), words.Say("The print head carries high voltage while the jet runs and for a while after." +
		" Isolate before you reach in, and let every part dry before power goes on.")},
	{"pressure", words.Say("Fluid under pressure"), words.Say("Lines stay under pressure after the pump has stopped." +
		" Let it down to zero before you open one, and point no open end at anybody.")},
	{"hazardous_waste", words.Say("Hazardous waste"), words.Say("Drained fluid, filters and wipes are hazardous waste." +
		" Never pour them back or down a drain; keep the container shut, labelled and below its fill limit.")},
}

// CautionKeys are the keys of the cautions that have a sentence of their own.
func CautionKeys() []string {
	keys := make([]string, len(cautions))
	for i, c := range cautions {
		keys[i] = c.Key
	}
	return keys
}

// Cautions gives the cautions of a section's keys, in their own order. A key
// that has no sentence of its own stands last with its words and the deferral:
// no caution of a procedure is left out.
func Cautions(keys []string) []Caution {
	var found []Caution
	for _, c := range cautions {
		if slices.Contains(keys, c.Key) {
			found = append(found, c)
		}
	}
	for _, key := range keys {
		if !slices.ContainsFunc(cautions, func(c Caution) bool { return c.Key == key }) {
			found = append(found, Caution{Key: key, Title: words.Plain(strings.ReplaceAll(key, "_", " "))})
		}
	}
	return found
}
