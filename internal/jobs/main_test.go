package jobs_test

import (
	"testing"

	"settlemark/db/dbtest"
)

func TestMain(m *testing.M) { dbtest.Main(m) }
