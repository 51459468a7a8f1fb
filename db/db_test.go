package db_test

import (
	"errors"
	"testing"

	"github.com/jackc/pgx/v5/pgconn"

	"settlemark/db/dbtest"
)

func TestMain(m *testing.M) { dbtest.Main(m) }

// sqlState gives the SQLSTATE of an error of the server, "" when there is none.
func sqlState(err error) string {
	var pg *pgconn.PgError
	if errors.As(err, &pg) {
		return pg.Code
	}
	return ""
}
