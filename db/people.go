package db

import (
	"context"
	"time"

	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
	"settlemark/internal/words"
)

const persons = `
select p.id, p.name, p.login, p.disabled_at, p.language, p.units,
  array(select g.role from grants g where g.person_id = p.id order by g.role, g.site_id nulls first) as roles,
  array(select coalesce(g.site_id, 0) from grants g where g.person_id = p.id order by g.role, g.site_id nulls first) as sites
from persons p
where @id::text is null or p.id = @id
order by p.name, p.id`

type personRow struct {
	ID         commissioning.PersonID
	Name       string
	Login      string
	DisabledAt *time.Time
	Language   string
	Units      string
	Roles      []string
	Sites      []int64
}

func (r personRow) person() commissioning.Person {
	p := commissioning.Person{ID: r.ID, Name: r.Name, Login: r.Login, DisabledAt: r.DisabledAt, Language: r.Language, Units: r.Units}
	for i, role := range r.Roles {
		p.Grants = append(p.Grants, commissioning.Grant{
			Role: commissioning.Role(role), Site: commissioning.SiteID(r.Sites[i]),
		})
	}
	return p
}

// Person gives one person, disabled or not.
func (d *DB) Person(ctx context.Context, id commissioning.PersonID) (_ commissioning.Person, err error) {
	ctx, cancel := deadline(ctx)
	defer cancel()
	defer problem.Wrap(&err, "Person(%s)", id)
	return readPerson(ctx, d.pool, id)
}

// Person is the person as of this transaction.
func (t *Tx) Person(ctx context.Context, id commissioning.PersonID) (commissioning.Person, error) {
	return readPerson(ctx, t.tx, id)
}

func readPerson(ctx context.Context, q querier, id commissioning.PersonID) (commissioning.Person, error) {
	row, err := one[personRow](ctx, q, persons, args{"id": id})
	return row.person(), err
}

// People gives everybody by name, the disabled too.
func (d *DB) People(ctx context.Context) (_ []commissioning.Person, err error) {
	ctx, cancel := deadline(ctx)
	defer cancel()
	defer problem.Wrap(&err, "People")
	rows, err := list[personRow](ctx, d.pool, persons, args{"id": nil})
	var people []commissioning.Person
	for _, r := range rows {
		people = append(people, r.person())
	}
	return people, err
}

const names = `
select id as code, name from persons
union all
select id, name from loggers`

// Names gives the printed name of every person and logger by code.
func (d *DB) Names(ctx context.Context) (_ map[commissioning.PersonID]string, err error) {
	ctx, cancel := deadline(ctx)
	defer cancel()
	defer problem.Wrap(&err, "Names")
	byCode, err := readNames(ctx, d.pool)
	all := map[commissioning.PersonID]string{}
	for code, name := range byCode {
		all[commissioning.PersonID(code)] = name
	}
	return all, err
}

func readNames(ctx context.Context, q querier) (map[string]string, error) {
	rows, err := list[struct{ Code, Name string }](ctx, q, names, args{})
	all := map[string]string{}
	for _, r := range rows {
		all[r.Code] = r.Name
	}
	return all, err
}

const insertPerson = `
insert into persons (name, login) values (@name, @login) returning id`

// AddPerson adds somebody without roles or password and gives the code.
// A login that is taken is a Conflict.
func (t *Tx) AddPerson(ctx context.Context, name, login string) (commissioning.PersonID, error) {
	id, err := value[commissioning.PersonID](ctx, t.tx, insertPerson, args{"name": name, "login": login})
	if problem.KindOf(err) == problem.Conflict {
		return "", &problem.Error{
			Kind: problem.Invalid, Field: "login", Cause: err,
			Sentence: words.Say("This login is taken. Logins are never given to another person; choose another."),
		}
	}
	return id, err
}

const deleteGrants = `delete from grants where person_id = @person`

const insertGrants = `
insert into grants (person_id, role, site_id)
select @person, role, nullif(site, 0) from unnest(@roles::text[], @sites::bigint[]) as g (role, site)`

// SetGrants replaces all roles of a person.
func (t *Tx) SetGrants(ctx context.Context, id commissioning.PersonID, grants []commissioning.Grant) error {
	roles, sites := []string{}, []int64{}
	for _, g := range grants {
		roles, sites = append(roles, string(g.Role)), append(sites, int64(g.Site))
	}
	if err := t.exec(ctx, deleteGrants, args{"person": id}); err != nil {
		return err
	}
	return t.exec(ctx, insertGrants, args{"person": id, "roles": roles, "sites": sites})
}

const disablePerson = `
update persons set disabled_at = coalesce(disabled_at, @now) where id = @id`

// DisablePerson ends what the person may do, from now on.
func (t *Tx) DisablePerson(ctx context.Context, id commissioning.PersonID, now time.Time) error {
	return t.exec(ctx, disablePerson, args{"id": id, "now": now})
}

const erasePerson = `select erase_person(@id, @now)`

// ErasePerson puts a pseudonym in place of name and login and drops every proof of
// identity. It says false, and changes nothing, while the person has access, takes
// part in a run that goes on, or was erased before.
func (t *Tx) ErasePerson(ctx context.Context, id commissioning.PersonID, now time.Time) (bool, error) {
	return value[bool](ctx, t.tx, erasePerson, args{"id": id, "now": now})
}

const setReading = `update persons set language = @language, units = @units where id = @id`

// SetReading says in which language and with which local units a person reads;
// "" is that of their site.
func (t *Tx) SetReading(ctx context.Context, id commissioning.PersonID, language, units string) error {
	return t.exec(ctx, setReading, args{"id": id, "language": language, "units": units})
}

// All who are the same as the first become the same as the second.
const joinPersons = `
update persons p set same_as = t.root
from (select coalesce(f.same_as, f.id) as from_root, coalesce(s.same_as, s.id) as root
  from persons f, persons s where f.id = @id and s.id = @same) t
where (p.id = t.from_root or p.same_as = t.from_root) and p.id <> t.root`

// Join makes one human being of two persons.
func (t *Tx) Join(ctx context.Context, id, same commissioning.PersonID) error {
	return t.exec(ctx, joinPersons, args{"id": id, "same": same})
}

const samePersons = `
select p.id, p.name, p.login, p.disabled_at, p.language, p.units, '{}'::text[] as roles, '{}'::bigint[] as sites
from persons p join persons one on one.id = @id
where coalesce(p.same_as, p.id) = coalesce(one.same_as, one.id) and p.id <> one.id order by p.name, p.id`

// Same gives the other persons who are the same human being, without roles.
func (d *DB) Same(ctx context.Context, id commissioning.PersonID) (_ []commissioning.Person, err error) {
	ctx, cancel := deadline(ctx)
	defer cancel()
	defer problem.Wrap(&err, "Same(%s)", id)
	rows, err := list[personRow](ctx, d.pool, samePersons, args{"id": id})
	var same []commissioning.Person
	for _, r := range rows {
		same = append(same, r.person())
	}
	return same, err
}

const letInUntil = `select let_in_until(@run, @person, @now)`

// LetInUntil says until when somebody waits before countersigning a run, because
// one of its contributors let them in or gave them new proofs of identity; nil
// when they need not wait.
func (d *DB) LetInUntil(ctx context.Context, run commissioning.RunID, id commissioning.PersonID, now time.Time) (_ *time.Time, err error) {
	ctx, cancel := deadline(ctx)
	defer cancel()
	defer problem.Wrap(&err, "LetInUntil(%s, %s)", run, id)
	return value[*time.Time](ctx, d.pool, letInUntil, args{"run": run, "person": id, "now": now})
}

const wrongProofs = `
select p.name, a.at from acts a join persons p on p.id = a.person_id
where a.act = 'five wrong proofs' and a.at > @since
  and (@all or exists (select 1 from grants g where g.person_id = p.id and (g.site_id is null or g.site_id = any(@sites))))
order by a.at desc`

// WrongProof is a person as whom somebody failed five times in a row to prove
// their identity.
type WrongProof struct {
	Name string
	At   time.Time
}

// WrongProofs gives those of the reader's sites, the newest first.
func (d *DB) WrongProofs(ctx context.Context, p commissioning.Person, since time.Time) (_ []WrongProof, err error) {
	ctx, cancel := deadline(ctx)
	defer cancel()
	defer problem.Wrap(&err, "WrongProofs(%s)", p.ID)
	all, sites := evidence(p)
	return list[WrongProof](ctx, d.pool, wrongProofs, args{"all": all, "sites": sites, "since": since})
}

const administrators = `
select count(distinct p.id) from persons p join grants g on g.person_id = p.id
where g.role = 'administrator' and p.disabled_at is null`

// Administrators counts those who can manage people.
func (t *Tx) Administrators(ctx context.Context) (int, error) {
	return value[int](ctx, t.tx, administrators, args{})
}
