package db

import (
	"context"
	"slices"
	"strconv"
	"strings"
)

const runByNumber = `select id::text from runs where number = @number or id::text = @id`

// runNamed finds a run by its number, as in R-0042, or by its id; "" when there
// is none.
func (d *DB) runNamed(ctx context.Context, name string) (string, error) {
	number, err := strconv.ParseInt(strings.TrimPrefix(strings.ToUpper(name), "R-"), 10, 64)
	if err != nil {
		number = 0
	}
	found, err := column[string](ctx, d.pool, runByNumber, args{"number": number, "id": strings.ToLower(name)})
	if err != nil || len(found) == 0 {
		return "", err
	}
	return found[0], nil
}

// whoIs finds people and loggers by code, or by a part of the name.
func (d *DB) whoIs(ctx context.Context, name string) ([]string, error) {
	names, err := readNames(ctx, d.pool)
	if err != nil {
		return nil, err
	}
	if _, code := names[strings.ToUpper(name)]; code {
		return []string{strings.ToUpper(name)}, nil
	}
	var who []string
	for code, full := range names {
		if strings.Contains(strings.ToLower(full), strings.ToLower(name)) {
			who = append(who, code)
		}
	}
	slices.Sort(who)
	return who, nil
}
