package web_test

import (
	"context"

	"settlemark/db/dbtest"
)

// text reads one text as a superuser.
func (s *site) text(query string) string {
	s.t.Helper()
	conn := dbtest.Connect(s.t, s.db.AdminURL)
	defer conn.Close(context.Background())
	var out string
	s.must(conn.QueryRow(s.t.Context(), query).Scan(&out))
	return out
}

// change runs one statement as a superuser.
func (s *site) change(statement string) {
	s.t.Helper()
	dbtest.Exec(s.t, s.db.AdminURL, statement)
}
