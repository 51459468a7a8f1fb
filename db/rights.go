package db

import (
	"context"

	"settlemark/internal/problem"
)

// A table with the trigger append_only is evidence.
const excessRights = `
select t.relname::text from pg_trigger g join pg_class t on t.oid = g.tgrelid
where g.tgname = 'append_only' and (has_table_privilege(t.oid, 'insert, update, delete, truncate, trigger')
  or has_any_column_privilege(t.oid, 'insert, update'))
order by t.relname`

const standingOfLogin = `
select r.rolsuper as superuser,
  exists (select 1 from pg_namespace n where n.nspname = 'settlemark' and pg_has_role(n.nspowner, 'member')) as owner,
  exists (select 1 from pg_trigger where tgname = 'append_only') as migrated
from pg_roles r where r.rolname = current_user`

// CheckRights refuses a login that could change evidence: the program must not
// serve with one.
func (d *DB) CheckRights(ctx context.Context) (err error) {
	ctx, cancel := deadline(ctx)
	defer cancel()
	defer problem.Wrap(&err, "CheckRights")
	type login struct{ Superuser, Owner, Migrated bool }
	l, err := one[login](ctx, d.pool, standingOfLogin, args{})
	if err != nil {
		return err
	}
	switch {
	case !l.Migrated:
		return problem.New(problem.Forbidden, "The database holds no tables of Settlemark. Set DATABASE_OWNER_URL to the login that owns it and start again.")
	case l.Superuser:
		return problem.New(problem.Forbidden, "DATABASE_URL is a superuser, who could change evidence. Use a login of its own for the program.")
	case l.Owner:
		return problem.New(problem.Forbidden, "DATABASE_URL owns the tables, so it could change evidence. Use a login of its own for the program.")
	}
	tables, err := column[string](ctx, d.pool, excessRights, args{})
	if err != nil {
		return err
	}
	if len(tables) > 0 {
		return problem.New(problem.Forbidden, "DATABASE_URL may change %v, which is evidence. Take these rights from it and start again.", tables)
	}
	return nil
}
