package auth

import (
	_ "embed"
	"slices"
	"strings"
	"unicode/utf8"

	"settlemark/internal/problem"
)

//go:embed common.txt
var common string

// Acceptable refuses a password that is too short, too long, common, or made of
// what everybody knows of the person (login, name). There are no rules about
// kinds of characters.
func Acceptable(password string, known ...string) error {
	switch n := utf8.RuneCountInString(password); {
	case n < 12:
		return problem.On("password", "A password has at least 12 characters. Three or four words make a good one.")
	case n > 128:
		return problem.On("password", "A password has at most 128 characters. Shorten it.")
	}
	plain := strings.ToLower(strings.TrimSpace(password))
	if slices.Contains(strings.Split(common, "\n"), plain) || oneSign(plain) {
		return problem.On("password", "This password is among the first that anybody would try. Choose another.")
	}
	for _, word := range known {
		word = strings.ToLower(strings.TrimSpace(word))
		if len(word) >= 4 && strings.Contains(plain, word) && utf8.RuneCountInString(plain)-utf8.RuneCountInString(word) < 8 {
			return problem.On("password", "This password is little more than a name that everybody knows. Choose another.")
		}
	}
	return nil
}

// oneSign says whether the password repeats one or two characters.
func oneSign(password string) bool {
	seen := map[rune]bool{}
	for _, r := range password {
		seen[r] = true
	}
	return len(seen) <= 2
}
