package words

import "strings"

// ClausesDoc is the clause map as a Markdown file.
func ClausesDoc() string {
	var b strings.Builder
	b.WriteString("# What auditors ask\n\n" + ClausesNote.String() + "\n\nThis file is written by `go test ./web -run TestClauses -update`; the page `/clauses` shows the same.\n")
	for _, rule := range Rules {
		b.WriteString("\n## " + rule.Name + "\n\n| clause | asks | met by | screen | test | the site's own duty |\n| --- | --- | --- | --- | --- | --- |\n")
		for _, c := range rule.Clauses {
			b.WriteString("| " + strings.Join([]string{c.Number, c.Asks.String(), c.Met.String(), code(c.Screen), code(c.Test), c.Duty.String()}, " | ") + " |\n")
		}
	}
	return b.String()
}

func code(text string) string {
	if text == "" {
		return ""
	}
	return "`" + text + "`"
}
