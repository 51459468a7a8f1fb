package act_test

import (
	"bytes"
	"context"
	_ "embed"
	"encoding/base64"
	"flag"
	"image"
	"image/color"
	"image/jpeg"
	"log/slog"
	"maps"
	"strconv"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"github.com/google/uuid"
	"golang.org/x/crypto/argon2"

	"settlemark/db/dbtest"
	"settlemark/internal/act"
	"settlemark/internal/auth"
	"settlemark/internal/auth/authtest"
	"settlemark/internal/certificate"
	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
	"settlemark/internal/trial"
)

//go:embed testdata/bench.yaml
var benchYAML []byte

// morning is when every test begins.
var morning = time.Date(2026, 3, 4, 8, 0, 0, 0, time.UTC)

// One password for all. Its hash costs next to nothing, so that tests can sign
// often; what a hash costs stands in the hash itself.
const password = "three blue kettles"

var cheapHash = func() string {
	salt := []byte("0123456789abcdef")
	b64 := base64.RawStdEncoding
	return "$argon2id$v=19$m=8,t=1,p=1$" + b64.EncodeToString(salt) + "$" +
		b64.EncodeToString(argon2.IDKey([]byte(password), salt, 1, 8, 1, 32))
}()

// world is a plant with two sites, its people, a unit and a procedure.
type world struct {
	*act.Acts
	t     testing.TB
	db    *dbtest.Database
	site  commissioning.Site // of the unit
	other commissioning.Site
	line  commissioning.Line
	bench commissioning.Bench

	admin, engineer, second, supervisor, deputy, third, quality, stranger commissioning.Person

	devices map[commissioning.PersonID]*authtest.Device // with everybody's passkey

	logger commissioning.Logger // reports for U-1

	shift time.Duration // later than the first morning: for the unit's next runs
}

// siteSigner signs the certificates of every test.
var siteSigner = func() *certificate.Signer {
	s, err := certificate.NewSigner("north.example", morning)
	if err != nil {
		panic(err)
	}
	return s
}()

// secrets are those of the key file of every test.
var secrets = authtest.Secrets()

// Everybody has a passkey on a device, for the site that the tests play.
const rp, origin = "settle.example", "https://settle.example"

// furnished is the world that every test begins with; its rows are copied.
var furnished world

func TestMain(m *testing.M) {
	_ = flag.Set("rapid.checks", strconv.Itoa(trial.Times(25, 100))) // histories of a unit take long
	dbtest.Main(m, furnish)
}

func newWorld(t testing.TB) *world { return worldOn(t, dbtest.New(t)) }

func worldOn(t testing.TB, d *dbtest.Database) *world {
	w := furnished
	w.t, w.db, w.Acts = t, d, act.New(d.DB, slog.New(slog.NewTextHandler(t.Output(), nil)), secrets)
	w.Signers = certificate.Signers{siteSigner}
	w.devices = maps.Clone(furnished.devices)
	return &w
}

// furnish makes sites, people, a unit and a procedure through the acts.
func furnish(d *dbtest.Database) (err error) {
	w, ctx := &furnished, context.Background()
	w.db, w.Acts = d, act.New(d.DB, slog.New(slog.DiscardHandler), secrets)
	w.devices = map[commissioning.PersonID]*authtest.Device{}
	try := func(e error) {
		if err == nil {
			err = e
		}
	}
	code, _, e := w.SetupCode(ctx, morning)
	try(e)
	w.admin, e = w.Setup(ctx, code, "Ada Holm", "ada", password, morning)
	try(e)
	try(w.device(ctx, w.admin))
	w.site, e = w.SaveSite(ctx, w.admin, commissioning.Site{Name: "North", Address: "1 Quay", TimeZone: "Europe/Dublin", Paper: "A4"}, morning)
	try(e)
	w.other, e = w.SaveSite(ctx, w.admin, commissioning.Site{Name: "South", TimeZone: "Europe/Lisbon", Paper: "A4"}, morning)
	try(e)
	w.line, e = w.SaveLine(ctx, w.admin, commissioning.Line{Site: w.site.ID, Name: "Line 4"}, morning)
	try(e)
	w.bench, e = w.SaveBench(ctx, w.admin, commissioning.Bench{Site: w.site.ID, Name: "Bench 1"}, morning)
	try(e)
	for _, f := range []commissioning.Fluid{
		{Code: "K-20", Name: "Ink", Position: commissioning.Ink, Base: "ketone"},
		{Code: "K-20M", Name: "Make-up", Position: commissioning.MakeUp, Base: "ketone"},
	} {
		_, e = w.SaveFluid(ctx, w.admin, f, morning)
		try(e)
	}
	try(w.unit(ctx, "U-1"))
	for _, p := range []struct {
		who         *commissioning.Person
		name, login string
		role        commissioning.Role
		site        commissioning.SiteID
	}{
		{&w.engineer, "Mira Sand", "mira", commissioning.Engineer, w.site.ID},
		{&w.second, "Piet Oost", "piet", commissioning.Engineer, w.site.ID},
		{&w.supervisor, "Tomas Reed", "tomas", commissioning.Supervisor, w.site.ID},
		{&w.deputy, "Lena Frost", "lena", commissioning.Supervisor, w.site.ID},
		{&w.third, "Nils Berg", "nils", commissioning.Supervisor, w.site.ID},
		{&w.quality, "Keiko Lund", "keiko", commissioning.Quality, 0},
		{&w.stranger, "Rui Costa", "rui", commissioning.Supervisor, w.other.ID},
	} {
		*p.who, e = w.person(ctx, p.name, p.login, p.role, p.site)
		try(e)
		try(w.device(ctx, *p.who))
	}
	w.logger, e = w.SaveLogger(ctx, w.admin, commissioning.Logger{Name: "Gateway", Site: w.site.ID, Units: []string{"U-1"}}, morning)
	try(e)
	_, e = w.AddProcedure(ctx, nil, benchYAML, false, morning)
	try(e)
	if err == nil {
		err = w.ApproveProcedure(ctx, w.quality, "bench", 1, w.approval(ctx, w.quality, "bench", 1), morning)
	}
	return err
}

// device gives a person a passkey.
func (w *world) device(ctx context.Context, p commissioning.Person) error {
	d, challenge := authtest.New(rp, origin), []byte("a challenge drawn by chance")
	w.devices[p.ID] = d
	s := act.Signing{Proof: act.Proof{Password: password}, Nonce: newID()}
	_, err := w.AddPasskey(ctx, p, s, "Tablet", d.Makes(challenge), challenge, rp, morning)
	return err
}

func (w *world) unit(ctx context.Context, tag string) error {
	_, err := w.SaveUnit(ctx, w.admin, commissioning.Unit{
		Tag: tag, Site: w.site.ID, LineID: w.line.ID, Serial: "S-" + tag, Ink: "K-20", Makeup: "K-20M",
	}, morning)
	return err
}

func (w *world) person(ctx context.Context, name, login string, role commissioning.Role, site commissioning.SiteID) (commissioning.Person, error) {
	p, _, err := w.adds(ctx, w.admin, act.NewPerson{
		Name: name, Login: login, Grants: []commissioning.Grant{{Role: role, Site: site}},
	}, morning)
	if err != nil {
		return p, err
	}
	return p, w.passwordOf(ctx, p)
}

func (w *world) passwordOf(ctx context.Context, p commissioning.Person) error {
	return dbtest.Run(ctx, w.db.OwnerURL, "update persons set password = '"+cheapHash+"' where id = '"+string(p.ID)+"'")
}

// at is an instant of the morning that the shift leads to.
func (w *world) at(minute int) time.Time { return at(minute).Add(w.shift) }

func (w *world) open(unit string) commissioning.Run {
	w.t.Helper()
	r, err := w.OpenRun(w.t.Context(), w.engineer, act.Opening{
		ID: commissioning.RunID(newID()), Unit: unit, Procedure: "bench", Revision: 1, Bench: w.bench.ID,
	}, w.at(0))
	must(w.t, err)
	return r
}

// record posts entries as the engineer.
func (w *world) record(run commissioning.RunID, entries ...commissioning.Entry) act.Recorded {
	w.t.Helper()
	r, err := w.Record(w.t.Context(), act.Author{Person: w.engineer, Device: "tablet 1"}, run, entries, evening.Add(w.shift))
	must(w.t, err)
	return r
}

// evening is when all the work of a run lies behind.
var evening = morning.Add(2 * time.Hour)

// work is everything that makes a run releasable, with the code on its sample.
func (w *world) work(run commissioning.RunID, code string) act.Recorded {
	w.t.Helper()
	photo, err := w.StorePhoto(w.t.Context(), w.engineer, run, picture(40, 30), evening)
	must(w.t, err)
	lot := "L-77"
	entries := []commissioning.Entry{
		done("jet-off", 1),
		entry(commissioning.Entry{
			Kind: commissioning.KindLoad, Step: "fill-ink", Position: commissioning.Ink, Fluid: "K-20",
			Lot: &lot, Expires: "2027-01-31", LevelPercent: "90",
		}, 5),
		entry(commissioning.Entry{Kind: commissioning.KindStart, Step: "first-start"}, 10),
	}
	for minute := 12; minute <= 40; minute += 4 {
		entries = append(entries, viscosity("4.60", minute), ready(true, minute))
	}
	entries = append(entries,
		entry(commissioning.Entry{Kind: commissioning.KindPhoto, Step: "sample", SHA256: photo.SHA256, MediaType: photo.MediaType}, 42),
		entry(commissioning.Entry{Kind: commissioning.KindStep, Step: "sample", Outcome: commissioning.Done, Text: code}, 43))
	for i := range entries {
		entries[i].ObservedAt = entries[i].ObservedAt.Add(w.shift)
	}
	return w.record(run, entries...)
}

// submitted is a run that waits for its countersignature.
func (w *world) submitted(unit string) commissioning.Run {
	w.t.Helper()
	r := w.open(unit)
	head := w.work(r.ID, "L 24 O").Run.Head
	must(w.t, w.Submit(w.t.Context(), w.engineer, r.ID, w.signing(w.engineer, head), w.at(45)))
	return w.run(r.ID)
}

func (w *world) run(id commissioning.RunID) commissioning.Run {
	w.t.Helper()
	r, err := w.db.Run(w.t.Context(), w.quality, id)
	must(w.t, err)
	return r
}

// released is a run with its certificate, and its file if that can be made.
func (w *world) released(unit string) commissioning.CertificateNumber {
	w.t.Helper()
	r := w.submitted(unit)
	must(w.t, w.ReadSample(w.t.Context(), w.supervisor, r.ID, "l24o", w.at(50)))
	number, err := w.Countersign(w.t.Context(), w.supervisor, r.ID, w.signing(w.supervisor, r.Head), "", w.at(51))
	must(w.t, err)
	if err := w.Issue(w.t.Context(), number); err != nil {
		w.t.Log("without its file:", err)
	}
	return number
}

// signing is a form with the person's passkey over a head, or over what else is
// signed.
func (w *world) signing(p commissioning.Person, head []byte) act.Signing {
	s := act.Signing{Head: head, Nonce: newID()}
	if d := w.devices[p.ID]; d != nil {
		s.Proof.Passkey = d.Answers(auth.SigningChallenge(head, s.Nonce))
	}
	return s
}

func (w *world) withdraw(p commissioning.Person, n commissioning.CertificateNumber, reason string, now time.Time) error {
	return w.Withdraw(w.t.Context(), p, n, reason, w.signing(p, auth.Typed(act.WithdrawalContent(n), reason)), now)
}

func (w *world) reject(p commissioning.Person, revision int, reason string, now time.Time) error {
	shown, err := w.db.Procedure(w.t.Context(), "bench", revision)
	must(w.t, err)
	s := w.signing(p, auth.Typed(act.RejectionContent("bench", revision, shown.SHA256), reason))
	return w.RejectProcedure(w.t.Context(), p, "bench", revision, reason, s, now)
}

func (w *world) retire(p commissioning.Person, reason string, now time.Time) error {
	revisions, err := w.db.Revisions(w.t.Context(), "bench")
	must(w.t, err)
	s := w.signing(p, auth.Typed(act.RetirementContent("bench", revisions[0].Revision), reason))
	return w.RetireProcedure(w.t.Context(), p, "bench", reason, s, now)
}

// adds is a person's wish to add somebody.
func (w *world) adds(ctx context.Context, by commissioning.Person, v act.NewPerson, now time.Time) (commissioning.Person, string, error) {
	return w.AddPerson(ctx, by, v, w.signing(by, auth.Typed(act.AdditionContent(), v.Name, v.Login, codes(v.Grants))), now)
}

func (w *world) setRoles(by commissioning.Person, id commissioning.PersonID, grants []commissioning.Grant, now time.Time) error {
	return w.SetGrants(w.t.Context(), by, id, grants, w.signing(by, auth.Typed(act.RolesContent(id), codes(grants))), now)
}

func (w *world) disable(by commissioning.Person, id commissioning.PersonID, now time.Time) error {
	return w.DisablePerson(w.t.Context(), by, id, w.signing(by, act.EndContent(id)), now)
}

func (w *world) invite(by commissioning.Person, id commissioning.PersonID, resets string, now time.Time) (string, error) {
	return w.NewInvite(w.t.Context(), by, id, resets, w.signing(by, auth.Typed(act.InviteContent(id), resets)), now)
}

// codes are roles as the form sends them.
func codes(grants []commissioning.Grant) string {
	all := make([]string, len(grants))
	for i, g := range grants {
		all[i] = g.Code()
	}
	return strings.Join(all, ",")
}

// recall is quality's wish to recall the lot that every run loads.
func (w *world) recall(reason string, numbers ...commissioning.CertificateNumber) act.Recall {
	all := make([]string, len(numbers))
	for i, n := range numbers {
		all[i] = string(n)
	}
	s := w.signing(w.quality, auth.Typed(act.RecallContent("K-20", "L-77"), strings.Join(all, ","), reason))
	return act.Recall{Key: s.Nonce, Fluid: "K-20", Lot: "L-77", Numbers: numbers, Reason: reason, Proof: s.Proof}
}

func (w *world) approval(ctx context.Context, p commissioning.Person, key string, revision int) act.Signing {
	shown, err := w.db.Procedure(ctx, key, revision)
	if err != nil {
		panic(err)
	}
	return w.signing(p, act.ApprovalContent(key, revision, shown.SHA256))
}

func at(minute int) time.Time { return morning.Add(time.Duration(minute) * time.Minute) }

func entry(e commissioning.Entry, minute int) commissioning.Entry {
	e.ID, e.ObservedAt = newID(), at(minute)
	return e
}

func done(step string, minute int) commissioning.Entry {
	return entry(commissioning.Entry{Kind: commissioning.KindStep, Step: step, Outcome: commissioning.Done}, minute)
}

func viscosity(value string, minute int) commissioning.Entry {
	return entry(commissioning.Entry{Kind: commissioning.KindReading, Quantity: "viscosity", Value: value, Unit: "mPa.s"}, minute)
}

func ready(state bool, minute int) commissioning.Entry {
	return entry(commissioning.Entry{Kind: commissioning.KindReading, Quantity: "ready", State: &state}, minute)
}

func remark(text string, minute int) commissioning.Entry {
	return entry(commissioning.Entry{Kind: commissioning.KindNote, Text: text}, minute)
}

func newID() string { return uuid.Must(uuid.NewV7()).String() }

var shade atomic.Uint32

// picture is a JPEG that no other one equals.
func picture(width, height int) []byte {
	img := image.NewRGBA(image.Rect(0, 0, width, height))
	n := shade.Add(1)
	for i := range width * height {
		img.Set(i%width, i/width, color.RGBA{uint8(n * 40), uint8(n / 6 * 40), uint8(n / 36 * 40), 255})
	}
	var file bytes.Buffer
	if err := jpeg.Encode(&file, img, nil); err != nil {
		panic(err)
	}
	return file.Bytes()
}

func must(t testing.TB, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

// refused checks the kind of a refusal and that its sentence says what to do.
func refused(t testing.TB, err error, kind problem.Kind) {
	t.Helper()
	if problem.KindOf(err) != kind {
		t.Errorf("got %v, expected a refusal of kind %d", err, kind)
	}
}

func author(p commissioning.Person) act.Author { return act.Author{Person: p, Device: "tablet 1"} }

func (w *world) unitOrFail(tag string) {
	w.t.Helper()
	must(w.t, w.unit(w.t.Context(), tag))
}
