package db

import (
	"context"
	"fmt"
)

// Register is a list whose changes are noted with what it held before and after.
type Register string

// The registers.
const (
	SiteRegister       Register = "sites"
	LineRegister       Register = "lines"
	BenchRegister      Register = "benches"
	InstrumentRegister Register = "instruments"
	FluidRegister      Register = "fluids"
	UnitRegister       Register = "units"
	LoggerRegister     Register = "loggers"
	PersonRegister     Register = "persons"
)

const siteHeld = `select to_jsonb(t)::text from sites t where id::text = @key for no key update`

const lineHeld = `select to_jsonb(t)::text from lines t where id::text = @key for no key update`

const benchHeld = `select to_jsonb(t)::text from benches t where id::text = @key for no key update`

const instrumentHeld = `select to_jsonb(t)::text from instruments t where id::text = @key for no key update`

const fluidHeld = `select to_jsonb(t)::text from fluids t where code = @key for no key update`

const unitHeld = `select to_jsonb(t)::text from units t where tag = @key for no key update`

const loggerHeld = `
select jsonb_build_object('id', id, 'name', name, 'site_id', site_id,
  'units', array(select unit from logger_units where logger_id = l.id order by unit), 'quantities', quantities)::text
from loggers l where id = @key for no key update`

// Of a person only what others see: no password, no count of wrong ones.
const personHeld = `
select jsonb_build_object('id', id, 'name', name, 'login', login, 'disabled_at', disabled_at,
  'roles', array(select g.role || coalesce(' at ' || (select name from sites where id = g.site_id), ' at every site') from grants g
    where g.person_id = p.id order by g.role, g.site_id nulls first))::text
from persons p where id = @key for no key update`

var held = map[Register]string{
	SiteRegister: siteHeld, LineRegister: lineHeld, BenchRegister: benchHeld, InstrumentRegister: instrumentHeld,
	FluidRegister: fluidHeld, UnitRegister: unitHeld, LoggerRegister: loggerHeld, PersonRegister: personHeld,
}

// Held gives what a register holds under a key, as JSON; "" when nothing. The
// row stays locked, so that nobody changes it between this and the act.
func (t *Tx) Held(ctx context.Context, r Register, key string) (string, error) {
	sql, known := held[r]
	if !known {
		return "", fmt.Errorf("no register %q", r)
	}
	found, err := column[string](ctx, t.tx, sql, args{"key": key})
	if err != nil || len(found) == 0 {
		return "", err
	}
	return found[0], nil
}
