package words

import (
	"golang.org/x/text/language"
)

// Language is one that the whole app is written in.
type Language string

// The languages. English is the language of the source; each other one has a
// folder of catalogue files in this package.
const (
	English Language = "en"
	German  Language = "de"
)

// Languages in the order in which they are offered.
var Languages = []Language{English, German}

var tags = map[Language]language.Tag{English: language.BritishEnglish, German: language.German}

var matcher = language.NewMatcher([]language.Tag{tags[English], tags[German]})

// Known gives the language of that code, and whether there is one.
func Known(code string) (Language, bool) {
	_, known := tags[Language(code)]
	return Language(code), known
}

// Preferred gives the language that a browser would rather have, by its
// Accept-Language header; English when it asks for none of ours.
func Preferred(header string) Language {
	asked, _, err := language.ParseAcceptLanguage(header)
	if err != nil {
		return English
	}
	_, i, _ := matcher.Match(asked...)
	return Languages[i]
}

// Tag is the language as documents name it: "en-GB", "de".
func (l Language) Tag() string {
	tag, known := tags[l]
	if !known {
		tag = tags[English]
	}
	return tag.String()
}

// Name is the language in its own words, so that whoever reads it finds it.
func (l Language) Name() string {
	if l == German {
		return "Deutsch"
	}
	return "English"
}
