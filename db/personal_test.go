package db_test

import (
	"os"
	"regexp"
	"slices"
	"strings"
	"testing"

	"settlemark/db/dbtest"
)

// What stands in no column of its own: a person's code inside a text, a login as
// the key of a count, who is signed in.
var inText = []string{"runs", "log_outbox", "log_leaves", "sessions", "throttles", "notices", "certificate_pdfs", "releases"}

// docs/personal-data.md says of every table that points at a person that it does,
// with the columns in which a name is printed, and of no other.
func TestWherePersonsStand(t *testing.T) {
	text, err := os.ReadFile("../docs/personal-data.md")
	if err != nil {
		t.Fatal(err)
	}
	told := map[string]string{} // line of each table
	for _, m := range regexp.MustCompile("(?m)^\\| ((?:`[a-z_]+`(?:, )?)+) \\|(.*)$").FindAllStringSubmatch(string(text), -1) {
		for _, table := range strings.Split(m[1], ", ") {
			told[strings.Trim(table, "`")] = m[2]
		}
	}
	conn := dbtest.Connect(t, dbtest.New(t).OwnerURL)
	rows, err := conn.Query(t.Context(), `
		select c.conrelid::regclass::text, exists (select 1 from pg_attribute a
			where a.attrelid = c.conrelid and a.attname = 'name' and not a.attisdropped and c.conrelid <> 'settlemark.passkeys'::regclass)
		from pg_constraint c where c.contype = 'f' and c.confrelid = 'settlemark.persons'::regclass
		union select 'persons', true`)
	if err != nil {
		t.Fatal(err)
	}
	found := slices.Clone(inText)
	for rows.Next() {
		var table string
		var named bool
		if err := rows.Scan(&table, &named); err != nil {
			t.Fatal(err)
		}
		table = strings.TrimPrefix(table, "settlemark.")
		found = append(found, table)
		if line, ok := told[table]; !ok {
			t.Errorf("%s points at a person (its own printed name: %t), and the page does not tell of it", table, named)
		} else if strings.Contains(line, "printed name") != named {
			t.Errorf("%s prints a name: %t; the page says %s", table, named, line)
		}
	}
	if err := rows.Err(); err != nil {
		t.Fatal(err)
	}
	for table := range told {
		if !slices.Contains(found, table) {
			t.Errorf("the page tells of %s, which holds no person", table)
		}
	}
}
