package words

import "strings"

// Number is a decimal number as it is stored, with a point and nothing between
// its digits. A reader sees it with the mark of their language.
type Number string

// In writes the number for readers of the language.
func (n Number) In(l Language) string {
	if l == German {
		return strings.Replace(string(n), ".", ",", 1)
	}
	return string(n)
}

// Mark is the decimal mark of the language.
func (l Language) Mark() string {
	if l == German {
		return ","
	}
	return "."
}
