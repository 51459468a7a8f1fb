package words

import (
	"bufio"
	"bytes"
	"embed"
	"fmt"
	"io/fs"
	"strconv"
	"strings"

	"golang.org/x/text/feature/plural"
)

// The catalogues are files in gettext's PO format, which translators' tools
// read: one folder a language, one file a room of the app.
//
//go:embed de/*.po
var files embed.FS

// entry is what stands for one English format: two where a count chooses.
type entry struct{ one, other string }

func (e entry) choose(form plural.Form) string {
	if form == plural.One {
		return e.one
	}
	return e.other
}

// form is the plural form that a count takes in the language.
func (l Language) form(count int) plural.Form {
	return plural.Cardinal.MatchPlural(tags[l], count, 0, 0, 0, 0)
}

// catalogues by language and English format; English needs none.
var catalogues = map[Language]map[string]entry{German: mustRead(German)}

func mustRead(l Language) map[string]entry {
	all := map[string]entry{}
	names, err := fs.Glob(files, string(l)+"/*.po")
	if err != nil {
		panic(err)
	}
	for _, name := range names {
		text, err := files.ReadFile(name)
		if err == nil {
			err = readPO(text, all)
		}
		if err != nil {
			panic(fmt.Sprintf("%s: %v", name, err)) // of a file built in, which the tests read
		}
	}
	return all
}

// readPO adds the entries of a PO file: comments, msgid, msgid_plural, msgstr,
// and strings that go on in the next lines. An English format stands once.
func readPO(text []byte, into map[string]entry) error {
	fields, last, number := map[string]string{}, "", 0
	finish := func() error {
		defer clear(fields)
		id := fields["msgid"]
		if id == "" {
			return nil // the header
		}
		if _, twice := into[id]; twice {
			return fmt.Errorf("line %d: %q stands twice", number, id)
		}
		e := entry{fields["msgstr"], ""}
		if fields["msgid_plural"] != "" {
			e = entry{fields["msgstr[0]"], fields["msgstr[1]"]}
		}
		if e.one == "" || fields["msgid_plural"] != "" && e.other == "" {
			return fmt.Errorf("line %d: %q has no translation", number, id)
		}
		into[id] = e
		return nil
	}
	lines := bufio.NewScanner(bytes.NewReader(text))
	for lines.Scan() {
		number++
		line := strings.TrimSpace(lines.Text())
		if line == "" || line[0] == '#' {
			continue
		}
		name, quoted := last, line
		if line[0] != '"' {
			name, quoted, _ = strings.Cut(line, " ")
		}
		if name == "msgid" && name != last || name == "msgid" && line[0] != '"' {
			if err := finish(); err != nil {
				return err
			}
		}
		part, err := strconv.Unquote(quoted)
		if err != nil {
			return fmt.Errorf("line %d: %w", number, err)
		}
		fields[name] += part
		last = name
	}
	number++
	return finish()
}
