package certificate_test

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"flag"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"settlemark/internal/certificate"
	"settlemark/internal/commissioning"
	"settlemark/internal/ledger"
	"settlemark/internal/words"
)

var update = flag.Bool("update", false, "write the golden texts anew")

// Hashes change with any byte of the record, and with their width the blanks and
// the line breaks around them; the golden texts leave both out.
var (
	hashes = regexp.MustCompile(`\b([0-9a-f]{4} )*[0-9a-f]{4}\b( [0-9a-f]{4}\b)+|C-0042 [0-9a-f]{5} [0-9a-f]{5}`)
	again  = regexp.MustCompile(`####(\s+####|\s+[0-9a-f]{4}\n)+`)
	bound  = regexp.MustCompile(`bound to record #### …`)
	blanks = regexp.MustCompile(`  +`)
)

func steady(text string) string {
	text = again.ReplaceAllString(hashes.ReplaceAllString(text, "####"), "####\n")
	var out []string
	for line := range strings.Lines(blanks.ReplaceAllString(bound.ReplaceAllString(text, ""), "  ")) {
		if line = strings.Trim(line, " \n"); line != "" {
			out = append(out, line)
		}
	}
	return strings.Join(out, "\n") + "\n"
}

// named is a run with long names, letters of several languages, and names that
// try to hide or to turn what is printed.
func named(t *testing.T) (certificate.Source, map[string][]byte) {
	t.Helper()
	in, photos := plain(t)
	in.Site.Paper = "Letter"
	in.Names[engineer] = "Jürgen Weißenböck-Großmüller von der Lüneburger Heide und zu Übersee-Käßmann, Ömer Łukasz Dvořák"
	in.Names[gateway] = "日本 gateway (north) \\ one"
	in.Signatures[0].Name = in.Names[engineer]
	in.Signatures[1].Name = "Anna\u202Egnp.exe Va\u0301clavik\u200B\x07"
	in.Site.Name = "Brackenhill Preserves) /Launch (calc, Straße-am-Süßwasserwerk-und-Marmeladenkochhaus-Nummer-zweihundertsiebenundvierzig"
	in.Run.Line = "Linie 12, Früchte & <b>Gläser</b>"
	in.ValidUntil = nil
	return in, photos
}

type making func(*testing.T) (certificate.Source, map[string][]byte)

var cases = map[string]making{"plain": plain, "everything": everything, "names": named, "german": german}

// german is the run to which everything happened, at a site that writes German.
func german(t *testing.T) (certificate.Source, map[string][]byte) {
	t.Helper()
	in, photos := everything(t)
	in.Site.Language = string(words.German)
	return in, photos
}

func TestCertificateReadsAsItDid(t *testing.T) {
	for name, make := range cases {
		t.Run(name, func(t *testing.T) {
			in, photos := make(t)
			pdf, _ := render(t, in, photos)
			got := steady(tool(t, "pdftotext", "-layout", file(t, pdf), "-"))
			path := filepath.Join("testdata", name+".txt")
			if *update {
				if err := os.WriteFile(path, []byte(got), 0o600); err != nil {
					t.Fatal(err)
				}
			}
			want, err := os.ReadFile(path)
			if err != nil {
				t.Fatal(err)
			}
			if got != string(want) {
				t.Errorf("the text changed; look at the pages, then run the test with -update\n%s", got)
			}
		})
	}
}

// statements are what a certificate must state.
var statements = []string{
	"Released for use", "Certificate C-0042", "Issued by Brackenhill Preserves, Ashdown, 4 Orchard Lane, Ashdown",
	"BH-04, serial 40-1187", "Line 3, jar filler", "Bench 2, Brackenhill", "R-0057",
	"Return to service after a flush, revision 1", "Ines Vogt, 2026-05-11", "Europe/Dublin, UTC+01:00",
	"2026-06-04 09:30:00 UTC+01:00", "2026-12-01",
	"Out of the ordinary", "None: sent back, sample read differently, rulings, corrections, late entries, typed readings, breaks of the hold, faults beyond the procedure, steps or entries left out.",
	"Target 4.50, band 4.05 to 4.95", "84 min, every check in band", "60 min required", "29 checks, largest gap 3 min",
	"simple acceptance: in when inside the limits, both limits in", "k = 2", "over 0.99999",
	"Checklist", "5 of 5, 3 confirmed; “40-1187”, “Make-up”", "air let out, started again", "L-INK-LOAD", "2027-03-31",
	"630 mL in 3 drains", "Instruments: the record names none, so no calibration date is stated.",
	"Engineer read “L3 2411 A”, supervisor read “L3 2411 A”.", "without sight of the first",
	"Rosa Okafor, engineer", "“I did this work and recorded it as it happened”", "Signed 2026-06-04 12:31:00 UTC+01:00, password given again",
	"Anders Lindqvist, supervisor", "“I reviewed the evidence and release the unit”",
	"It ends before that by: a change of fluid; a shutdown of more than 14 days",
	"Of the record: SHA-256 of what the release stands on", "This document", "R-0057, 110 entries", "Procedure's text", "Digital signature of",
	"entry 4 of marks.brackenhill.example/0197370a-5e1f-7000-8000-00000000000c/1, proven in its first 7 entries", "Code to type: C-0042", "Check it at https://marks.brackenhill.example/verify",
	"Relates only to the unit named: BH-04, serial 40-1187.", "End of certificate C-0042", "page 1 of 3", "page 3 of 3",
}

func TestCertificateStates(t *testing.T) {
	in, photos := plain(t)
	pdf, doc := render(t, in, photos)
	words := strings.Fields(tool(t, "pdftotext", file(t, pdf), "-"))
	text := strings.Join(words, " ")
	if code, err := doc.Code(); err != nil || !strings.Contains(text, "Code to type: "+code) {
		t.Errorf("code %q %v is not printed", code, err)
	}
	for _, s := range statements {
		if !strings.Contains(text, s) && !inTable(pdf, t, s) {
			t.Errorf("not stated: %s", s)
		}
	}
	if strings.Contains(text, "DEMO") {
		t.Error("a real certificate says DEMO")
	}
}

// inTable looks for a statement with the words of each line in a row side by side.
func inTable(pdf []byte, t *testing.T, s string) bool {
	t.Helper()
	text := tool(t, "pdftotext", "-layout", file(t, pdf), "-")
	return strings.Contains(strings.Join(strings.Fields(text), " "), s)
}

func TestCertificateTellsTheOddFirst(t *testing.T) {
	in, photos := everything(t)
	pdf, _ := render(t, in, photos)
	text := strings.Join(strings.Fields(tool(t, "pdftotext", "-layout", file(t, pdf), "-")), " ")
	last := 0
	for _, s := range []string{
		"Out of the ordinary", "Round 1 by Anders Lindqvist", "vent line kinked", "read “L3 2411 4”, which differs", "smudged on the photo",
		"Anders Lindqvist accepted entry", "Wrong container was in for under a minute", "struck entry", "drain of 150 mL", "scale not set to zero",
		"now drain of 130 mL", "entered 27 min later; 1 of 1 accepted", "1 of 52 readings of Ink viscosity", "after 30 min that do not count",
		"over temperature fault", "T-03, Probe thermometer, calibration due 2026-05-31, used after that, the first time in entry",
		"Target 4.50, band", "Instruments, as they stood when the run was opened", "2026-05-31, overdue 0.3 °C, k = 2", "2026-11-30 2 % of the value, k = 2",
	} {
		at := strings.Index(text[last:], s)
		if at < 0 {
			t.Fatalf("not stated, or not before what follows: %s", s)
		}
		last += at
	}
	if pages := strings.Count(text, "DEMO: made-up data."); pages != strings.Count(text, "page 1 of")+2 {
		t.Errorf("DEMO stands on %d pages", pages)
	}
	if !strings.Contains(text, "This release supersedes certificate C-0031.") {
		t.Error("the superseded certificate is not named")
	}
}

func TestNamesShowWhatIsInThem(t *testing.T) {
	in, photos := named(t)
	pdf, _ := render(t, in, photos)
	text := strings.Join(strings.Fields(tool(t, "pdftotext", file(t, pdf), "-")), " ")
	for _, s := range []string{"Jürgen Weißenböck-Großmüller", "Łukasz Dvořák", "Anna<U+202E>gnp.exe Václavik<U+200B><U+0007>", "<U+65E5><U+672C>", "<b>Gläser</b>", "/Launch (calc"} {
		if !strings.Contains(text, s) {
			t.Errorf("not shown: %s", s)
		}
	}
	if info := tool(t, "pdfinfo", file(t, pdf)); !strings.Contains(info, "612 x 792 pts (letter)") {
		t.Errorf("not on Letter:\n%s", info)
	}
}

func TestReadersAcceptTheFile(t *testing.T) {
	for name, make := range cases {
		t.Run(name, func(t *testing.T) {
			in, photos := make(t)
			pdf, doc := render(t, in, photos)
			path := file(t, pdf)
			if out := tool(t, "qpdf", "--check", path); strings.Contains(strings.ToLower(out), "warning") {
				t.Error(out)
			}
			info := tool(t, "pdfinfo", path)
			for _, want := range []string{" C-0042, ", " BH-04", "PDF version:     1.7", "JavaScript:      no"} {
				if !strings.Contains(info, want) {
					t.Errorf("pdfinfo lacks %q:\n%s", want, info)
				}
			}
			fonts := tool(t, "pdffonts", path)
			if strings.Count(fonts, "Identity-H       yes") != 2 || len(pdf) > 400_000 {
				t.Errorf("fonts are not embedded:\n%s", fonts)
			}
			dir := t.TempDir()
			tool(t, "pdfdetach", "-saveall", "-o", dir, path)
			for _, a := range doc.Attached {
				got, err := os.ReadFile(filepath.Join(dir, a.Name))
				if err != nil || string(got) != a.Text {
					t.Errorf("%s comes out altered: %v", a.Name, err)
				}
			}
		})
	}
}

// gofpdf orders pictures by width only, so two of one width used to change
// places at random; the prints of a certificate have no width twice.
func TestSixtyRendersInTwoProcessesGiveOneHash(t *testing.T) {
	if os.Getenv("RENDER_ONLY") != "" {
		for range 30 {
			fmt.Println("hash", sameWidths(t))
		}
		return
	}
	var found []string
	for range 2 {
		cmd := exec.Command(os.Args[0], "-test.run=^"+t.Name()+"$", "-test.v")
		cmd.Env = append(os.Environ(), "RENDER_ONLY=1")
		out, err := cmd.CombinedOutput()
		if err != nil {
			t.Fatalf("%v\n%s", err, out)
		}
		for line := range strings.Lines(string(out)) {
			if h, ok := strings.CutPrefix(line, "hash "); ok {
				found = append(found, h)
			}
		}
	}
	for _, h := range found {
		if h != found[0] {
			t.Fatalf("%d renders differ: %v", len(found), found)
		}
	}
	if len(found) != 60 {
		t.Fatalf("%d renders instead of 60", len(found))
	}
}

// someProof is of no log.
var someProof = ledger.Proof{Index: 4, Checkpoint: []byte("marks.example/1\n7\n" + strings.Repeat("A", 43) + "=\n\n— marks.example/1 AAAAAA==\n")}.Text()

func sameWidths(t *testing.T) string {
	t.Helper()
	s := newStory(t)
	s.play(nil)
	for seed := range 3 { // narrower than a print, and of one width
		s.add(commissioning.Entry{Kind: commissioning.KindPhoto, SHA256: s.photo(400, 300, 10+seed), MediaType: "image/jpeg"})
	}
	in := s.source()
	in.Signer = strings.Repeat("5e", 32) // the keys of the tests are others in each process
	doc, err := certificate.Compose(in)
	if err != nil {
		t.Fatal(err)
	}
	pdf, err := certificate.Render(doc, s.photos, someProof)
	if err != nil {
		t.Fatal(err)
	}
	sum := sha256.Sum256(pdf)
	return hex.EncodeToString(sum[:])
}

// noise is a photo that does not compress.
func noise(t *testing.T, seed uint64) []byte {
	t.Helper()
	r := rand.New(rand.NewPCG(seed, 1))
	img := image.NewRGBA(image.Rect(0, 0, 1600, 1200))
	for i := range img.Pix {
		img.Pix[i] = uint8(r.Uint32())
	}
	img.SetRGBA(0, 0, color.RGBA{A: 255})
	var b bytes.Buffer
	if err := jpeg.Encode(&b, img, &jpeg.Options{Quality: 85}); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// crowded is far more of everything than any run has.
func crowded(t *testing.T) (certificate.Source, map[string][]byte) {
	t.Helper()
	s := newStory(t)
	long := strings.Repeat("a reason that goes on and on, and Donaudampfschifffahrtsgesellschaftskapitän ", 12)
	for i := range 40 {
		s.instruments = append(s.instruments, commissioning.Instrument{
			Code: fmt.Sprint("C-", i, long[:40]), Name: long, Serial: long, Quantity: "volume", Uncertainty: "5", Unit: "mL", K: "2", Due: "2026-12-31",
		})
	}
	s.play(map[string]func(){"Settle": func() {
		for i := range 40 {
			n := s.add(commissioning.Entry{Kind: commissioning.KindReading, Quantity: "pressure", Value: fmt.Sprint(290 + i), Unit: "kPa", Via: "typed"})
			s.add(commissioning.Entry{Kind: commissioning.KindCorrection, Strikes: n, Reason: long})
			f := s.add(commissioning.Entry{Kind: commissioning.KindFault, Fault: "other", Note: long})
			s.wait(time.Minute)
			s.add(commissioning.Entry{Kind: commissioning.KindFaultCleared, Ref: f, How: long})
			s.add(commissioning.Entry{Kind: commissioning.KindDisposition, Ref: f, Decision: "accept", By: supervisor, Reason: long})
			s.add(commissioning.Entry{Kind: commissioning.KindLoad, Position: commissioning.Ink, Fluid: "K-20", Lot: text(long[:200]), Expires: "2027-01-01", LevelPercent: "80"})
			s.add(commissioning.Entry{Kind: commissioning.KindStart})
			s.wait(time.Minute)
			s.readings(3, func(int) float64 { return 4.4 })
			s.readings(1, func(int) float64 { return 3.9 })
		}
		for seed := range uint64(5) {
			b := noise(t, seed)
			sum := sha256.Sum256(b)
			hash := hex.EncodeToString(sum[:])
			s.photos[hash] = b
			s.add(commissioning.Entry{Kind: commissioning.KindPhoto, SHA256: hash, MediaType: "image/jpeg"})
		}
	}})
	in := s.source()
	for i := range 40 {
		in.Returns = append(in.Returns, certificate.Return{Round: i + 1, By: "Anders Lindqvist", At: s.now, Reason: long})
	}
	in.Signatures[1].Agrees, in.Signatures[1].Mismatch = false, long
	return in, s.photos
}

func TestAnyRunFitsFourPagesAndTwoMegabytes(t *testing.T) {
	for name, make := range map[string]making{"plain": plain, "everything": everything, "names": named, "crowded": crowded} {
		for _, size := range []string{"A4", "Letter"} {
			t.Run(name+" on "+size, func(t *testing.T) {
				in, photos := make(t)
				in.Site.Paper = size
				pdf, _ := render(t, in, photos)
				pages := regexp.MustCompile(`Pages:\s+([234])\n`)
				if info := tool(t, "pdfinfo", file(t, pdf)); !pages.MatchString(info) {
					t.Errorf("not 2 to 4 pages:\n%s", info)
				}
				if end := endOf(t, pdf); end < 0.6 {
					t.Errorf("the last page ends at %.0f %% of its height: it is mostly empty", 100*end)
				}
				if len(pdf) >= 2_000_000 {
					t.Errorf("%d bytes", len(pdf))
				}
				if dir := os.Getenv("KEEP_PDF"); dir != "" {
					if err := os.WriteFile(filepath.Join(dir, name+"-"+size+".pdf"), pdf, 0o600); err != nil {
						t.Fatal(err)
					}
				}
			})
		}
	}
}

// endOf is how far down the last page the end mark stands, as a part of it.
func endOf(t *testing.T, pdf []byte) float64 {
	t.Helper()
	boxes := tool(t, "pdftotext", "-bbox", file(t, pdf), "-")
	page := regexp.MustCompile(`<page width="[0-9.]+" height="([0-9.]+)">`).FindStringSubmatch(boxes)
	mark := regexp.MustCompile(`yMax="([0-9.]+)">End</word>`).FindStringSubmatch(boxes)
	if page == nil || mark == nil {
		t.Fatalf("no page or no end mark")
	}
	height, err := strconv.ParseFloat(page[1], 64)
	if err != nil {
		t.Fatal(err)
	}
	at, err := strconv.ParseFloat(mark[1], 64)
	if err != nil {
		t.Fatal(err)
	}
	return at / height
}
