package demo_test

import (
	"log/slog"
	"maps"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"

	"settlemark/db"
	"settlemark/db/dbtest"
	"settlemark/internal/act"
	"settlemark/internal/auth"
	"settlemark/internal/auth/authtest"
	"settlemark/internal/certificate"
	"settlemark/internal/commissioning"
	"settlemark/internal/demo"
	"settlemark/internal/problem"
	"settlemark/internal/rules"
)

func TestMain(m *testing.M) { dbtest.Main(m) }

// loaded is a database with the demo in it.
type loaded struct {
	*dbtest.Database
	acts   *act.Acts
	now    time.Time
	people map[string]commissioning.Person // by login
}

// load takes a time of day at which both sites are at work, on a Tuesday.
func load(t *testing.T) loaded {
	t.Helper()
	l := loaded{
		Database: dbtest.New(t), now: time.Date(2026, 11, 24, 14, 23, 7, 0, time.UTC),
		people: map[string]commissioning.Person{},
	}
	l.acts = act.New(l.DB, slog.New(slog.NewTextHandler(t.Output(), nil)), authtest.Secrets())
	start := time.Now()
	in, err := demo.Load(t.Context(), l.acts, l.DB, l.now)
	if err != nil {
		t.Fatal(err)
	}
	t.Logf("loaded in %.1f s", time.Since(start).Seconds())
	people, err := l.People(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range people {
		l.people[p.Login] = p
	}
	for _, p := range in.People {
		claim := act.Claim{
			Login: p.Login, Password: in.Password, Code: auth.CodeAt(in.Seed, auth.Step(l.now)), Address: "192.0.2.7",
		}
		if _, err := l.acts.SignIn(t.Context(), claim, l.now); err != nil {
			t.Errorf("%s cannot sign in: %v", p.Login, err)
		}
	}
	return l
}

func TestLoad(t *testing.T) {
	l := load(t)
	t.Run("five people in four roles, and a second pair of eyes on each site", l.peopleAreEnough)
	t.Run("a dozen units on two sites in different time zones", l.unitsStand)
	t.Run("every procedure is approved, and only the demo's own is marked", l.proceduresStand)
	t.Run("certificates of each status are there", l.statusesAreThere)
	t.Run("every certificate's logbook evaluates to its attachment", l.certificatesEvaluate)
	t.Run("every release was countersigned by somebody who recorded nothing", l.fourEyes)
	t.Run("one certificate has everything odd", l.oddOne)
	t.Run("a run with an overdue instrument was released by a ruling", l.overdueInstrument)
	t.Run("live runs stand where they should", l.liveRuns)
	t.Run("a second load is refused", func(t *testing.T) {
		if _, err := demo.Load(t.Context(), l.acts, l.DB, l.now); problem.KindOf(err) != problem.Conflict {
			t.Errorf("got %v", err)
		}
	})
}

func (l loaded) peopleAreEnough(t *testing.T) {
	roles := map[commissioning.Role]bool{}
	for _, p := range l.people {
		for _, g := range p.Grants {
			roles[g.Role] = true
		}
	}
	if len(l.people) != 5 || len(roles) != 4 {
		t.Errorf("%d people in %d roles", len(l.people), len(roles))
	}
	sites, err := l.Sites(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	for _, site := range sites {
		for _, engineer := range l.people {
			other := func(p commissioning.Person) bool {
				return p.ID != engineer.ID && p.Has(commissioning.Supervisor, site.ID)
			}
			if engineer.Has(commissioning.Engineer, site.ID) && !slices.ContainsFunc(slices.Collect(maps.Values(l.people)), other) {
				t.Errorf("nobody may release the work of %s at %s", engineer.Name, site.Name)
			}
		}
	}
}

func (l loaded) unitsStand(t *testing.T) {
	units, err := l.Units(t.Context(), l.people["keiko"])
	if err != nil {
		t.Fatal(err)
	}
	sites, err := l.Sites(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	if len(units) != 12 || len(sites) != 2 || sites[0].TimeZone == sites[1].TimeZone || !sites[0].Demo || !sites[1].Demo {
		t.Errorf("%d units, sites %+v", len(units), sites)
	}
}

func (l loaded) proceduresStand(t *testing.T) {
	procedures, err := l.Procedures(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range procedures {
		if p.ApprovedBy != "Keiko Brandão" || p.Demo != (p.Key == demo.Procedure) {
			t.Errorf("%s: approved by %q, demo %v", p.Key, p.ApprovedBy, p.Demo)
		}
		if p.Demo && !strings.Contains(p.Title, "Demo") {
			t.Errorf("%q does not say that it is a demo", p.Title)
		}
	}
	if len(procedures) != 4 {
		t.Errorf("%d procedures", len(procedures))
	}
}

func (l loaded) certificates(t *testing.T) []commissioning.Certificate {
	t.Helper()
	all, err := l.Certificates(t.Context(), l.people["keiko"], db.CertificateFilter{}, l.now)
	if err != nil {
		t.Fatal(err)
	}
	return all
}

func (l loaded) statusesAreThere(t *testing.T) {
	count := map[commissioning.CertificateStatus]int{}
	causes, ending := map[string]int{}, 0
	for _, c := range l.certificates(t) {
		count[c.Status(l.now)]++
		causes[c.WithdrawnCause]++
		if _, soon := c.Expiring(l.now); soon {
			ending++
		}
		if !c.HasPDF || !c.Demo {
			t.Errorf("%s: file %v, demo %v", c.Number, c.HasPDF, c.Demo)
		}
	}
	if count[commissioning.Valid] < 3 || count[commissioning.Superseded] != 1 ||
		count[commissioning.Withdrawn] != 2 || count[commissioning.Expired] != 1 ||
		causes["move"] != 1 || causes["recall"] != 1 || ending != 1 {
		t.Errorf("%v, withdrawn for %v, ending soon %d", count, causes, ending)
	}
}

func (l loaded) contents(t *testing.T, c commissioning.Certificate) certificate.Contents {
	t.Helper()
	pdf, _, err := l.CertificatePDF(t.Context(), l.people["keiko"], c.Number)
	if err != nil {
		t.Fatal(err)
	}
	contents, err := certificate.Read(pdf)
	if err != nil {
		t.Fatal(err)
	}
	return contents
}

func (l loaded) certificatesEvaluate(t *testing.T) {
	for _, c := range l.certificates(t) {
		contents := l.contents(t, c)
		book, err := commissioning.ParseLogbook(strings.NewReader(string(contents.Logbook)))
		if err != nil {
			t.Fatalf("%s: %v", c.Number, err)
		}
		judged := rules.Judge(book, book.At)
		if got := string(rules.Encode(judged)); got != string(contents.Assessment) {
			t.Errorf("%s: evaluates to\n%s\nattached is\n%s", c.Number, got, contents.Assessment)
		}
		if judged.Verdict != rules.Releasable {
			t.Errorf("%s is %s", c.Number, judged.Verdict)
		}
	}
}

func (l loaded) fourEyes(t *testing.T) {
	for _, c := range l.certificates(t) {
		book, err := l.Logbook(t.Context(), l.people["keiko"], c.Run)
		if err != nil {
			t.Fatal(err)
		}
		signed := book.Countersigned()
		if signed == nil || book.Submission().Person == signed.Person || slices.Contains(book.Contributors, signed.Person) {
			t.Errorf("%s: submitted by %v, countersigned by %v", c.Number, book.Submission(), signed)
		}
	}
}

func (l loaded) oddOne(t *testing.T) {
	for _, c := range l.certificates(t) {
		if c.Unit != "BH-07" {
			continue
		}
		book, err := commissioning.ParseLogbook(strings.NewReader(string(l.contents(t, c).Logbook)))
		if err != nil {
			t.Fatal(err)
		}
		x := rules.Examine(book, book.At)
		causes := []string{}
		for _, b := range x.Assessment.Hold.Breaks {
			causes = append(causes, b.Cause)
		}
		if len(x.Late) == 0 || len(x.Struck) == 0 || len(x.Rulings) == 0 || len(x.Assessment.Faults.BeyondExpected) == 0 {
			t.Errorf("late %v, struck %v, rulings %v, faults %+v", x.Late, x.Struck, x.Rulings, x.Assessment.Faults)
		}
		if want := []string{"fault", "out_of_tolerance", "gap"}; !slices.Equal(causes, want) {
			t.Errorf("the hold broke by %v, want %v", causes, want)
		}
	}
}

// live gives the board's books by unit.
func (l loaded) live(t *testing.T) map[string]*db.Book {
	t.Helper()
	board, err := l.Board(t.Context(), l.people["anwen"])
	if err != nil {
		t.Fatal(err)
	}
	books := map[string]*db.Book{}
	for _, row := range board {
		if row.Book != nil {
			books[row.Unit.Tag] = row.Book
		}
	}
	return books
}

func (l loaded) overdueInstrument(t *testing.T) {
	named, ruled := 0, 0
	for _, c := range l.certificates(t) {
		book, err := l.Logbook(t.Context(), l.people["keiko"], c.Run)
		if err != nil {
			t.Fatal(err)
		}
		if len(book.Instruments) > 0 {
			named++
		}
		at := book.JudgedAt(l.now)
		for _, i := range rules.Examine(book.Logbook(at), at).Instruments {
			if i.Overdue != nil {
				ruled++
			}
		}
	}
	if named < 2 || ruled != 1 {
		t.Errorf("%d certificates name instruments, %d overdue", named, ruled)
	}
}

func (l loaded) liveRuns(t *testing.T) {
	live := l.live(t)
	if len(live) != 5 {
		t.Errorf("%d live runs, want 5", len(live))
	}
	if r := live["BH-02"].Run; r.State != commissioning.Submitted {
		t.Errorf("BH-02 is %s, not submitted", r.State)
	}
	if r := live["BH-04"].Run; r.State != commissioning.Open || r.Round != 2 || r.ReturnReason == "" {
		t.Errorf("BH-04 was not returned: %+v", r)
	}
	at := func(unit string) rules.Assessment { return rules.Judge(live[unit].Logbook(l.now), l.now) }
	if a := at("BH-06"); a.Viscosity.Verdict != rules.Pending || a.Viscosity.Value == "" {
		t.Errorf("BH-06 is not settling: %+v", a.Viscosity)
	}
	if a := at("BH-10"); a.Hold.Verdict != rules.Pending || a.Hold.Held < 30*time.Second {
		t.Errorf("BH-10 is not in its hold: %+v", a.Hold)
	}
	if a := at("BH-08"); len(a.Steps.Open) == 0 || a.Steps.Open[0] != "drain-2" {
		t.Errorf("BH-08 stands at %v", a.Steps.Open)
	}
}

func TestSimulation(t *testing.T) {
	l := load(t)
	l.newcomerStarts(t, "BH-12")
	passed := map[string]time.Duration{}
	for after := 10 * time.Second; after <= 9*time.Minute; after += 10 * time.Second {
		at := l.now.Add(after)
		if err := demo.Report(t.Context(), l.acts, l.DB, at); err != nil {
			t.Fatal(err)
		}
		for unit, book := range l.live(t) {
			_, already := passed[unit]
			if !already && rules.Judge(book.Logbook(at), at).Hold.Verdict == rules.Pass {
				passed[unit] = after
			}
		}
	}
	t.Logf("holds completed: %v", passed)
	if p := passed["BH-10"]; p == 0 || p > 3*time.Minute {
		t.Errorf("the unit in its hold completed it after %v, want within 3 min", p)
	}
	if p := passed["BH-12"]; p < 3*time.Minute+30*time.Second || p > 5*time.Minute+30*time.Second {
		t.Errorf("a newcomer's unit completed its hold after %v, want 3 min of hold and 1/2 to 2 1/2 to settle", p)
	}
	if p := passed["BH-06"]; p == 0 {
		t.Error("the unit that settles did not complete its hold in 9 min")
	}
	if passed["BH-08"] != 0 {
		t.Error("a unit whose jet never started completed a hold")
	}
	if p := passed["BH-04"]; p != 10*time.Second {
		t.Errorf("the returned run waits for a fresh reading for %v", p)
	}
}

// newcomerStarts opens a run of the demo procedure and starts the jet.
func (l loaded) newcomerStarts(t *testing.T, unit string) {
	t.Helper()
	marit := l.people["marit"]
	u, err := l.Unit(t.Context(), marit, unit)
	if err != nil {
		t.Fatal(err)
	}
	benches, err := l.Benches(t.Context(), marit)
	if err != nil {
		t.Fatal(err)
	}
	at := slices.IndexFunc(benches, func(b commissioning.Bench) bool { return b.Site == u.Site })
	run, err := l.acts.OpenRun(t.Context(), marit, act.Opening{
		ID: commissioning.RunID(uuid.NewString()), Unit: unit, Procedure: demo.Procedure, Revision: 1, Bench: benches[at].ID,
	}, l.now)
	if err != nil {
		t.Fatal(err)
	}
	_, err = l.acts.Record(t.Context(), act.Author{Person: marit}, run.ID, []commissioning.Entry{
		{ID: uuid.NewString(), Kind: commissioning.KindStart, Step: "start", ObservedAt: l.now},
	}, l.now)
	if err != nil {
		t.Fatal(err)
	}
}
