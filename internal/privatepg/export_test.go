package privatepg

// SetDebianPrograms lets a test hide the installed Postgres.
func SetDebianPrograms(pattern string) (restore func()) {
	old := debianPrograms
	debianPrograms = pattern
	return func() { debianPrograms = old }
}
