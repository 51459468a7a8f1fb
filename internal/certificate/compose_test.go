package certificate_test

import (
	"bytes"
	"encoding/json"
	"strings"
	"testing"
	"time"

	"settlemark/internal/certificate"
	"settlemark/internal/commissioning"
	"settlemark/internal/rules"
)

func TestComposeRefuses(t *testing.T) {
	for name, spoil := range map[string]func(*certificate.Source){
		"a run that is not releasable":            func(in *certificate.Source) { in.Exam.Assessment.Verdict = rules.NotYet },
		"a run without a countersignature":        func(in *certificate.Source) { in.Signatures = in.Signatures[:1] },
		"signatures of a round that was void":     func(in *certificate.Source) { in.Run.Round = 2 },
		"a site whose time zone is not known":     func(in *certificate.Source) { in.Site.TimeZone = "Nowhere/Else" },
		"a run that only the supervisor signed":   func(in *certificate.Source) { in.Signatures = in.Signatures[1:] },
		"a countersignature without its signer":   func(in *certificate.Source) { in.Signatures[1].Person = "" },
		"an assessment of which nothing is known": func(in *certificate.Source) { in.Exam = rules.Examination{} },
	} {
		t.Run(name, func(t *testing.T) {
			in, _ := plain(t)
			spoil(&in)
			if _, err := certificate.Compose(in); err == nil {
				t.Error("composed")
			}
		})
	}
}

func TestDocumentIsCanonicalAndComesBack(t *testing.T) {
	in, photos := everything(t)
	pdf, doc := render(t, in, photos)
	stored, err := doc.Encode()
	if err != nil {
		t.Fatal(err)
	}
	back, err := certificate.Decode(stored)
	if err != nil {
		t.Fatal(err)
	}
	again, err := certificate.Render(back, photos, proofOf(t, doc))
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(pdf, again) {
		t.Error("the stored document draws another paper")
	}
	if _, err := certificate.Decode(bytes.Replace(stored, []byte("certificate/1"), []byte("certificate/9"), 1)); err == nil {
		t.Error("a document of another format is decoded")
	}
}

// Numbers in evidence are whole: decimals are strings, or two programs that
// read the JSON might hash different bytes.
func TestDocumentHoldsWholeNumbersOnly(t *testing.T) {
	in, photos := everything(t)
	_, doc := render(t, in, photos)
	stored, err := doc.Encode()
	if err != nil {
		t.Fatal(err)
	}
	d := json.NewDecoder(bytes.NewReader(stored))
	d.UseNumber()
	for {
		token, err := d.Token()
		if err != nil {
			break
		}
		if n, ok := token.(json.Number); ok && strings.ContainsAny(n.String(), ".eE") {
			t.Fatalf("number %s", n)
		}
	}
}

// The night on which the clock goes back: each instant carries its own offset.
func TestTimesCarryTheOffsetOfTheirMoment(t *testing.T) {
	s := newStory(t)
	s.now = time.Date(2026, 10, 24, 23, 40, 0, 0, time.UTC)
	s.opened = s.now
	s.play(nil)
	in := s.source()
	_, doc := render(t, in, s.photos)
	all, err := doc.Encode()
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"2026-10-25 00:40:00 UTC+01:00", "UTC+00:00"} {
		if !strings.Contains(string(all), want) {
			t.Errorf("no %s in the document", want)
		}
	}
	for _, f := range doc.Hold {
		if f.Label == "length" && !strings.HasPrefix(f.Text, "84 min") {
			t.Errorf("the hold is %s long: the clock change added or took time", f.Text)
		}
	}
}

func TestRenderRefusesAPhotoThatIsNotWhatItsHashSays(t *testing.T) {
	in, photos := plain(t)
	_, doc := render(t, in, photos)
	for hash := range photos {
		photos[hash] = append([]byte(nil), photos[hash][:len(photos[hash])-1]...)
	}
	if _, err := certificate.Render(doc, photos, nil); err == nil {
		t.Error("rendered with altered photos")
	}
	if _, err := certificate.Render(doc, nil, nil); err == nil {
		t.Error("rendered without photos")
	}
}

func TestEveryFirstValueIsStillReadable(t *testing.T) {
	in, photos := everything(t)
	_, doc := render(t, in, photos)
	book := doc.Attached[0].Text
	for _, e := range in.Logbook.Entries {
		if e.Kind == commissioning.KindDrain && !strings.Contains(book, `"volume_ml":"`+e.VolumeML+`"`) {
			t.Errorf("the first value %s is gone from the attached logbook", e.VolumeML)
		}
	}
}

func TestEntriesThatWereNotJudgedAreTold(t *testing.T) {
	s := newStory(t)
	s.play(nil)
	s.add(commissioning.Entry{Kind: commissioning.KindNote, Text: "its clock is ahead", ObservedAt: s.now.Add(time.Minute)})
	_, doc := render(t, s.source(), s.photos)
	for _, r := range doc.Odd {
		if strings.HasPrefix(r.Text, "1 entry observed after the instant of judgement") {
			return
		}
	}
	t.Errorf("not told: %v", doc.Odd)
}
