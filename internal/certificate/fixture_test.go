package certificate_test

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	"math"
	"strings"
	"testing"
	"time"
	_ "time/tzdata"

	"golang.org/x/mod/sumdb/note"

	"settlemark/internal/certificate"
	"settlemark/internal/commissioning"
	"settlemark/internal/ledger"
	"settlemark/internal/rules"
)

// story writes the logbook of a run, entry by entry, on a clock of its own.
type story struct {
	t       *testing.T
	proc    commissioning.Procedure
	entries []commissioning.Entry
	photos  map[string][]byte
	now     time.Time
	opened  time.Time
	unit    commissioning.LogbookUnit
	zone    string
	yaml    string // text of the procedure

	instruments []commissioning.Instrument
}

const (
	engineer   = "P-0002"
	supervisor = "P-0003"
	gateway    = "L-0001"
)

func newStory(t *testing.T) *story {
	t.Helper()
	all, err := commissioning.ShippedProcedures()
	if err != nil {
		t.Fatal(err)
	}
	s := &story{
		t: t, photos: map[string][]byte{}, zone: "Europe/Dublin",
		now:  time.Date(2026, 6, 4, 8, 30, 0, 0, time.UTC),
		unit: commissioning.LogbookUnit{Tag: "BH-04", Serial: "40-1187", Ink: "K-20", Makeup: "K-20M"},
	}
	s.opened = s.now
	for _, yaml := range all {
		p, err := commissioning.ParseProcedure(yaml)
		if err != nil {
			t.Fatal(err)
		}
		if p.Key == "return-to-service" {
			s.proc, s.yaml = p, string(yaml)
		}
	}
	return s
}

func (s *story) add(e commissioning.Entry) int {
	e.Seq = len(s.entries) + 1
	if e.ObservedAt.IsZero() {
		e.ObservedAt = s.now
	}
	if e.By == "" {
		e.By = engineer
	}
	s.entries = append(s.entries, e)
	return e.Seq
}

func (s *story) wait(d time.Duration) { s.now = s.now.Add(d) }

func text(v string) *string { return &v }

// photo makes a picture of a printed code, dots on a carton.
func (s *story) photo(w, h, seed int) string {
	img := image.NewRGBA(image.Rect(0, 0, w, h))
	for y := range h {
		for x := range w {
			c := color.RGBA{216, 208, 190, 255}
			if y > h*2/5 && y < h*3/5 && (x/14+seed)%3 != 0 && (x%14-7)*(x%14-7)+(y%14-7)*(y%14-7) < 26 {
				c = color.RGBA{20, 32, 44, 255}
			}
			img.SetRGBA(x, y, c)
		}
	}
	var b bytes.Buffer
	if err := jpeg.Encode(&b, img, &jpeg.Options{Quality: 85}); err != nil {
		s.t.Fatal(err)
	}
	sum := sha256.Sum256(b.Bytes())
	hash := hex.EncodeToString(sum[:])
	s.photos[hash] = b.Bytes()
	return hash
}

// answer gives a step the answer that it asks for.
func (s *story) answer(st commissioning.Step) {
	e := commissioning.Entry{Kind: commissioning.KindStep, Step: st.ID, Outcome: "done"}
	switch st.Ask {
	case commissioning.AskGate:
		return
	case commissioning.AskText:
		e.Text = "40-1187"
	case commissioning.AskChoice:
		e.Choice = st.Options[0]
	case commissioning.AskValue:
		e.Value, e.Unit = "298.4", "kPa"
	case commissioning.AskDrain:
		e = commissioning.Entry{Kind: commissioning.KindDrain, Step: st.ID, Container: st.Container, VolumeML: "210"}
	case commissioning.AskLoad:
		fluid := map[string]string{"ink": s.unit.Ink, "makeup": s.unit.Makeup}[st.Fluid]
		e = commissioning.Entry{
			Kind: commissioning.KindLoad, Step: st.ID, Position: st.Position, Fluid: fluid,
			Lot: text("L-" + strings.ToUpper(st.ID)), Expires: "2027-03-31", LevelPercent: "92",
		}
	case commissioning.AskStart:
		e = commissioning.Entry{Kind: commissioning.KindStart, Step: st.ID}
	case commissioning.AskPhoto:
		e = commissioning.Entry{Kind: commissioning.KindPhoto, Step: st.ID, SHA256: s.photo(800, 450, 2), MediaType: "image/jpeg"}
	case commissioning.AskSample:
		s.add(commissioning.Entry{Kind: commissioning.KindPhoto, Step: st.ID, SHA256: s.photo(1040, 455, 1), MediaType: "image/jpeg"})
		e.Text = "L3 2411 A"
	}
	s.add(e)
	s.wait(2 * time.Minute)
}

// readings lets the unit report viscosity and ready state every three minutes.
func (s *story) readings(n int, v func(i int) float64) {
	yes := true
	for i := range n {
		s.add(commissioning.Entry{Kind: commissioning.KindReading, Quantity: "viscosity", Value: fmt.Sprintf("%.2f", v(i)), Unit: "mPa.s", By: gateway, Via: "logger"})
		s.add(commissioning.Entry{Kind: commissioning.KindReading, Quantity: "ready", State: &yes, By: gateway, Via: "logger"})
		s.wait(3 * time.Minute)
	}
}

func settling(i int) float64 { return 4.50 + 0.9*math.Exp(-float64(i)/7) - 0.01*float64(i%3) }

// play answers every section; during is called before the section of that title.
func (s *story) play(during map[string]func()) {
	for _, section := range s.proc.Sections {
		if f := during[section.Title]; f != nil {
			f()
		}
		if section.Title == "Soak" {
			s.readings(34, settling)
		}
		for _, st := range section.Steps {
			s.answer(st)
		}
	}
}

// source closes the run: submitted now, released a while later.
func (s *story) source() certificate.Source {
	s.t.Helper()
	book := commissioning.Logbook{
		Format: commissioning.LogbookFormat, Procedure: s.proc, Entries: s.entries, At: s.now,
		Run: commissioning.LogbookRun{
			ID: "0197370a-0000-7000-8000-000000000001", Unit: s.unit,
			Site: commissioning.LogbookSite{Name: "Brackenhill Preserves, Ashdown", TimeZone: s.zone}, OpenedAt: s.opened, Instruments: s.instruments,
		},
	}
	raw, err := json.Marshal(book)
	if err != nil {
		s.t.Fatal(err)
	}
	book, err = commissioning.ParseLogbook(bytes.NewReader(raw)) // what cannot be read cannot be certified
	if err != nil {
		s.t.Fatal(err)
	}
	opening, posts, submitted, head := s.chain(book)
	released := s.now.Add(25 * time.Minute)
	until := released.Add(s.proc.ValidFor.D)
	approved := time.Date(2026, 5, 11, 9, 0, 0, 0, time.UTC)
	in := certificate.Source{
		Number: "C-0042",
		Run: commissioning.Run{
			ID: commissioning.RunID(book.Run.ID), Number: 57, Unit: s.unit.Tag, Line: "Line 3, jar filler", Bench: "Bench 2",
			Round: 1, OpenedAt: s.opened, Demo: false, State: commissioning.Released,
		},
		Unit:      commissioning.Unit{Tag: s.unit.Tag, Serial: s.unit.Serial, Ink: s.unit.Ink, Makeup: s.unit.Makeup, Line: "Line 3, jar filler"},
		Site:      commissioning.Site{Name: "Brackenhill Preserves, Ashdown", Address: "4 Orchard Lane, Ashdown", TimeZone: s.zone, Paper: "A4"},
		Procedure: certificate.Approval{YAML: s.yaml, SHA256: hexSum([]byte(s.yaml)), ApprovedBy: "Ines Vogt", ApprovedAt: &approved},
		Logbook:   book, Opening: opening, Posts: posts, Exam: rules.Examine(book, book.At),
		Names:      map[string]string{engineer: "Rosa Okafor", supervisor: "Anders Lindqvist", gateway: "Gateway 2"},
		ReleasedAt: released, ValidUntil: &until, VerifyURL: "https://marks.brackenhill.example/verify",
		Signer: siteSigner.Fingerprint(),
		Signatures: []commissioning.Signature{
			{
				Round: 1, Kind: commissioning.Submission, Person: engineer, Name: "Rosa Okafor", Role: commissioning.Engineer,
				Meaning: commissioning.MeaningSubmit, Method: "password given again", SignedAt: s.now, Head: submitted,
			},
			{
				Round: 1, Kind: commissioning.Countersignature, Person: supervisor, Name: "Anders Lindqvist", Role: commissioning.Supervisor,
				Meaning: commissioning.MeaningCountersign, Method: "password given again", SignedAt: released, Head: head, Reading: "L3 2411 A", Agrees: true,
			},
		},
	}
	for hash := range s.photos {
		in.Photos = append(in.Photos, certificate.Photo{SHA256: hash, Width: 800, Height: 450})
	}
	return in
}

// chain links the entries as the database would, in posts of up to three; the
// dispositions at the end came after the submission.
func (s *story) chain(book commissioning.Logbook) (opening []byte, posts []int, submitted, head []byte) {
	opening, err := ledger.Canonical(commissioning.Opening{
		Run: commissioning.RunID(book.Run.ID), OpenedAt: book.Run.OpenedAt, OpenedBy: engineer, Bench: "Bench 2",
		Procedure:   commissioning.OpeningProcedure{Key: s.proc.Key, Revision: s.proc.Revision, SHA256: hexSum([]byte(s.yaml))},
		Site:        commissioning.OpeningSite{Name: book.Run.Site.Name, Address: "4 Orchard Lane, Ashdown", TimeZone: s.zone, Paper: "A4"},
		Unit:        commissioning.OpeningUnit{Tag: s.unit.Tag, Serial: s.unit.Serial, Ink: s.unit.Ink, Makeup: s.unit.Makeup, Line: "Line 3, jar filler"},
		Instruments: s.instruments,
	})
	if err != nil {
		s.t.Fatal(err)
	}
	head = ledger.Opening(opening)
	var bodies [][]byte
	for i, e := range book.Entries {
		body, err := ledger.Body(e)
		if err != nil {
			s.t.Fatal(err)
		}
		bodies = append(bodies, body)
		last := i == len(book.Entries)-1
		if len(bodies) < 3 && !last && book.Entries[i+1].By == e.By {
			continue
		}
		head, bodies, posts = ledger.Link(head, e.Seq, ledger.Post(bodies)), nil, append(posts, e.Seq)
		if e.Kind != commissioning.KindDisposition {
			submitted = head
		}
	}
	return opening, posts, submitted, head
}

func hexSum(b []byte) string {
	sum := sha256.Sum256(b)
	return hex.EncodeToString(sum[:])
}

// siteSigner signs in every test; its key is another one in each process.
var siteSigner = func() *certificate.Signer {
	s, err := certificate.NewSigner("marks.brackenhill.example", time.Date(2026, 1, 2, 3, 4, 5, 0, time.UTC))
	if err != nil {
		panic(err)
	}
	return s
}()

// plain is a run to which nothing happened but the usual first fault.
func plain(t *testing.T) (certificate.Source, map[string][]byte) {
	t.Helper()
	s := newStory(t)
	s.play(map[string]func(){"Settle": func() {
		f := s.add(commissioning.Entry{Kind: commissioning.KindFault, Fault: "pressure"})
		s.wait(2 * time.Minute)
		s.add(commissioning.Entry{Kind: commissioning.KindFaultCleared, Ref: f, How: "air let out, started again"})
		s.add(commissioning.Entry{Kind: commissioning.KindStart})
		s.wait(time.Minute)
	}})
	return s.source(), s.photos
}

func render(t *testing.T, in certificate.Source, photos map[string][]byte) ([]byte, certificate.Document) {
	t.Helper()
	doc, err := certificate.Compose(in)
	if err != nil {
		for _, g := range []rules.Finding{
			in.Exam.Assessment.Steps.Finding, in.Exam.Assessment.Fluids.Finding, in.Exam.Assessment.Faults.Finding,
			in.Exam.Assessment.Viscosity.Finding, in.Exam.Assessment.Hold.Finding,
		} {
			t.Log(g.Verdict, g.Reasons)
		}
		t.Fatal(err)
	}
	pdf, err := certificate.Render(doc, photos, proofOf(t, doc))
	if err != nil {
		t.Fatal(err)
	}
	return pdf, doc
}

// logSigner signs the log of every test.
var logSigner = func() note.Signer {
	private, _, err := note.GenerateKey(nil, "marks.brackenhill.example/0197370a-5e1f-7000-8000-00000000000c/1")
	if err != nil {
		panic(err)
	}
	s, err := note.NewSigner(private)
	if err != nil {
		panic(err)
	}
	return s
}()

// proofOf puts a document into a small log, as entry 4 of 7.
func proofOf(t *testing.T, doc certificate.Document) []byte {
	t.Helper()
	record, err := doc.Encode()
	if err != nil {
		t.Fatal(err)
	}
	const index, size = 4, 7
	tree := ledger.NewTree(0, nil)
	for i := range size {
		leaf := ledger.CertificateLeaf(fmt.Sprintf("C-%04d", i), nil)
		if i == index {
			leaf = ledger.CertificateLeaf(doc.Number, record)
		}
		if err := tree.Append(leaf); err != nil {
			t.Fatal(err)
		}
	}
	root, err := tree.RootAt(size)
	if err != nil {
		t.Fatal(err)
	}
	checkpoint, err := ledger.SignCheckpoint(ledger.Checkpoint{Origin: logSigner.Name(), Size: size, Root: root}, logSigner)
	if err != nil {
		t.Fatal(err)
	}
	hashes, err := tree.Prove(index, size)
	if err != nil {
		t.Fatal(err)
	}
	return ledger.Proof{Index: index, Hashes: hashes, Checkpoint: checkpoint}.Text()
}

// everything is a run to which all happened that a certificate must tell first.
func everything(t *testing.T) (certificate.Source, map[string][]byte) {
	t.Helper()
	s := newStory(t)
	s.opened = s.now
	s.instruments = []commissioning.Instrument{
		{Code: "T-03", Name: "Probe thermometer", Serial: "4410 31", Quantity: "temperature", Uncertainty: "0.3", Unit: "degC", K: "2", Due: "2026-05-31"},
		{Code: "V-12", Name: "Bench viscometer", Serial: "4410 07", Quantity: "viscosity", Uncertainty: "2", Unit: commissioning.PercentOfValue, K: "2", Due: "2026-11-30"},
	}
	s.play(map[string]func(){
		"First drain": func() {
			n := s.add(commissioning.Entry{Kind: commissioning.KindDrain, Step: "drain-1", Container: "waste", VolumeML: "150"})
			s.add(commissioning.Entry{
				Kind: commissioning.KindCorrection, Strikes: n, Reason: "scale not set to zero, volume read again",
				Replacement: &commissioning.Entry{Kind: commissioning.KindDrain, Step: "drain-1", Container: "waste", VolumeML: "130", ObservedAt: s.now, By: engineer},
			})
			s.add(commissioning.Entry{Kind: commissioning.KindEmpty, Container: "waste", Route: "drum 7, solvent store"})
		},
		"Refill": func() {
			n := s.add(commissioning.Entry{Kind: commissioning.KindLoad, Position: commissioning.Ink, Fluid: "E-11", Lot: text("E-7781"), Expires: "2026-05-01", LevelPercent: "88"})
			s.add(commissioning.Entry{
				Kind: commissioning.KindDisposition, Ref: n, Decision: "accept", By: supervisor,
				Reason: "Wrong container was in for under a minute and no valve was open; line flushed again with make-up",
			})
			s.wait(time.Minute)
		},
		"Settle": func() {
			for _, kind := range []string{"pressure", "gutter", "over_temperature"} {
				f := s.add(commissioning.Entry{Kind: commissioning.KindFault, Fault: kind})
				s.wait(2 * time.Minute)
				s.add(commissioning.Entry{Kind: commissioning.KindFaultCleared, Ref: f, How: "air let out of the feed line, started again after the pressure had settled"})
				s.add(commissioning.Entry{Kind: commissioning.KindStart})
				s.wait(time.Minute)
				if kind == "over_temperature" {
					s.add(commissioning.Entry{Kind: commissioning.KindDisposition, Ref: f, Decision: "accept", By: supervisor, Reason: "Cabinet door stood in the sun"})
				}
			}
			s.readings(16, settling)
			s.readings(1, func(int) float64 { return 3.98 })
			s.wait(9 * time.Minute)
			late := s.now.Add(-5 * time.Minute)
			captured := s.now.Add(22 * time.Minute)
			n := s.add(commissioning.Entry{Kind: commissioning.KindReading, Quantity: "viscosity", Value: "4.58", Unit: "mPa.s", Via: "typed", ObservedAt: late, CapturedAt: &captured})
			s.add(commissioning.Entry{Kind: commissioning.KindDisposition, Ref: n, Decision: "accept", By: supervisor, Reason: "Read off the unit's own screen, photo seen"})
			n = s.add(commissioning.Entry{Kind: commissioning.KindReading, Quantity: "temperature", Value: "24.6", Unit: "degC", Via: "typed"})
			s.add(commissioning.Entry{Kind: commissioning.KindDisposition, Ref: n, Decision: "accept", By: supervisor, Reason: "Compared with the room's thermometer, 0.2 °C apart"})
		},
	})
	in := s.source()
	in.Run.Round, in.Run.Demo = 2, true
	in.Supersedes = "C-0031"
	for i := range in.Signatures {
		in.Signatures[i].Round = 2
	}
	in.Signatures[1].Reading, in.Signatures[1].Agrees = "L3 2411 4", false
	in.Signatures[1].Mismatch = "The last letter is smudged on the photo; the sample itself, brought to the desk, reads A"
	in.Returns = []certificate.Return{{Round: 1, By: "Anders Lindqvist", At: s.now.Add(-20 * time.Minute), Reason: "The photo of the connection side shows the vent line kinked. Straighten it and take the photo again."}}
	return in, s.photos
}
