package web_test

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"

	"settlemark/internal/commissioning"
	"settlemark/internal/urls"
)

// slate writes records as a tablet does, whose clock is fast by so much.
type slate struct {
	b    *bench
	by   string
	n    int
	prev string
	fast time.Duration
}

// writes makes the next record; change alters it before it is digested.
func (s *slate) writes(kind string, change func(map[string]any), data ...string) string {
	s.b.t.Helper()
	s.n++
	fields := map[string]string{"form": "x"}
	for i := 0; i+1 < len(data); i += 2 {
		fields[data[i]] = data[i+1]
	}
	record := map[string]any{
		"key": uuid.Must(uuid.NewV7()).String(), "device": "tablet 0a1b2c3d", "n": s.n, "prev": s.prev, "run": string(s.b.run), "type": kind,
		"data": fields, "by": s.by, "revision": 1, "seen": 0, "dev": s.b.clock.Add(s.fast).UnixMilli(), "mono": 12.5,
		"off": map[string]int64{"ms": -s.fast.Milliseconds(), "rtt": 8, "at": s.b.clock.Add(s.fast - time.Minute).UnixMilli()},
		"tab": "11223344", "app": "test", "schema": 1,
	}
	if change != nil {
		change(record)
	}
	body, err := json.Marshal(record)
	s.b.must(err)
	sum := sha256.Sum256(body)
	s.prev = hex.EncodeToString(sum[:])
	return string(body)
}

// told is the answer to a record.
type told struct {
	status                int
	Seq, Wanted           int
	Again                 bool
	Aside, Problem, Field string
	Photo                 string
	Now                   int64
}

// sends sends a record, with how far the clock is off at that moment.
func (s *slate) sends(who *browser, body string, offset time.Duration, how ...string) told {
	s.b.t.Helper()
	headers := []string{
		"Content-Type", "application/json", "Settlemark-Tablet", "1",
		"Settlemark-Clock", fmt.Sprintf(`{"ms":%d,"rtt":8,"at":1}`, offset.Milliseconds()),
	}
	if len(how) > 0 {
		headers = append(headers, "Settlemark-How", how[0])
	}
	a := who.request(http.MethodPost, urls.Pencil(s.b.run), body, headers...)
	got := told{status: a.status}
	if a.body != "" {
		if err := json.Unmarshal([]byte(a.body), &got); err != nil {
			s.b.t.Fatalf("%d, no JSON: %.200s", a.status, a.body)
		}
		if got.Now != s.b.clock.UnixMilli() {
			s.b.t.Errorf("the answer does not carry the server's time: %+v", got)
		}
	}
	return got
}

func TestPencil(t *testing.T) {
	b := newBench(t)
	who := b.as("engineer")
	b.start(who)
	b.pass(time.Minute)
	s := &slate{b: b, by: string(b.people["engineer"].ID), fast: 24 * time.Hour}
	first := s.writes("reading", nil, "quantity", "viscosity", "value", "4,50", "unit", "mPa.s")
	written := b.clock
	b.pass(20 * time.Minute) // it comes later
	t.Run("a_record_becomes_an_entry_with_both_times", func(t *testing.T) {
		if got := s.sends(who, first, -24*time.Hour); got.status != 200 || got.Seq != 1 || got.Again {
			t.Fatalf("%+v", got)
		}
		e := b.last()
		if e.Value != "4.50" || !e.ObservedAt.Equal(written) || e.Device != "tablet 0a1b2c3d" || e.Clock == nil || !*e.Clock.Proven ||
			*e.Clock.OffsetMS != -86_400_000 || *e.Clock.ErrorMS != 4 || e.Clock.Raw != written.Add(24*time.Hour).UTC().Format("2006-01-02T15:04:05.000Z") {
			t.Errorf("%+v, clock %+v", e, e.Clock)
		}
	})
	t.Run("sent_again_it_is_known", func(t *testing.T) {
		if got := s.sends(who, first, -23*time.Hour); got.status != 200 || got.Seq != 1 || !got.Again {
			t.Errorf("%+v", got)
		}
	})
	second := s.writes("note", nil, "text", "dry")
	third := s.writes("note", nil, "text", "wet")
	t.Run("a_gap_is_answered_with_the_number_that_is_wanted", func(t *testing.T) {
		if got := s.sends(who, third, -24*time.Hour); got.status != http.StatusConflict || got.Wanted != 2 {
			t.Errorf("%+v", got)
		}
		s.sends(who, second, -24*time.Hour)
		if got := s.sends(who, third, -24*time.Hour); got.Seq != 3 {
			t.Errorf("%+v", got)
		}
	})
	t.Run("a_clock_that_was_turned_before_sending_proves_nothing", func(t *testing.T) {
		s.sends(who, s.writes("note", nil, "text", "turned"), -25*time.Hour)
		if e := b.last(); *e.Clock.Proven {
			t.Errorf("clock %+v", e.Clock)
		}
	})
	t.Run("a_clock_that_was_turned_and_turned_back_proves_nothing_and_stands_on_the_record", func(t *testing.T) {
		got := s.sends(who, s.writes("note", func(r map[string]any) { r["schema"], r["jump"] = 2, -3_600_000 }, "text", "hm"), -24*time.Hour)
		if e := b.last(); *e.Clock.Proven || e.Note != "The tablet's clock had gone back by 60 min, or the tablet had slept." {
			t.Errorf("%+v: %q, clock %+v", got, e.Note, e.Clock)
		}
		who.get(urls.Logbook(b.run)).wants(200, "had gone back by 60 min")
		b.as("quality").get(urls.TrailPattern).wants(200, "Clock of a tablet changed", "tablet 0a1b2c3d, by -3600 s before record")
		s.sends(who, s.writes("note", func(r map[string]any) { r["schema"], r["jump"] = 2, 1_900 }, "text", "well"), -24*time.Hour)
		if e := b.last(); !*e.Clock.Proven || e.Note != "" {
			t.Errorf("a clock that only drifts: %q, %+v", e.Note, e.Clock)
		}
	})
	t.Run("taken_earlier_is_read_by_the_time_at_which_it_was_written", func(t *testing.T) {
		b.pass(10 * time.Minute)
		zone, err := time.LoadLocation("Europe/Dublin")
		b.must(err)
		taken := b.clock.Add(-4 * time.Minute).In(zone)
		s.sends(who, s.writes("reading", nil, "quantity", "viscosity", "value", "4.6", "unit", "mPa.s",
			"taken_day", taken.Format(time.DateOnly), "taken_at", taken.Format("15:04"), "taken_why", "hands full"), -24*time.Hour)
		if e := b.last(); !e.ObservedAt.Equal(taken.Truncate(time.Minute)) || !e.CapturedAt.Equal(b.clock) {
			t.Errorf("%+v", e)
		}
	})
	t.Run("without_a_session_it_is_401_and_nothing_else", func(t *testing.T) {
		if got := s.sends(b.browser(), first, 0); got.status != http.StatusUnauthorized {
			t.Errorf("%+v", got)
		}
	})
	t.Run("what_somebody_else_wrote_waits_for_them", func(t *testing.T) {
		if got := s.sends(b.as("mate"), first, 0); got.status != http.StatusForbidden || !strings.Contains(got.Problem, "when they sign in") {
			t.Errorf("%+v", got)
		}
	})
	t.Run("what_can_not_be_read_is_refused_and_can_be_left_with_quality", func(t *testing.T) {
		before := b.entries()
		odd := s.writes("reading", nil, "quantity", "viscosity", "value", "thick", "unit", "mPa.s")
		if got := s.sends(who, odd, -24*time.Hour); got.status != http.StatusUnprocessableEntity || got.Field != "value" {
			t.Errorf("%+v", got)
		}
		if got := s.sends(who, odd, -24*time.Hour, "leave"); got.status != 200 || got.Aside == "" || b.entries() != before {
			t.Errorf("%+v", got)
		}
		a := b.as("quality").get(urls.SetAsidePattern).wants(200, "The engineer", "tablet 0a1b2c3d", "value: thick", "left it with quality")
		a.sound("what was set aside")
		link, _ := a.page().Find("main a[href$='.json']").Attr("href")
		if raw := b.as("quality").get(link); raw.body != odd || raw.status != http.StatusOK {
			t.Errorf("%d, not what was sent: %s", raw.status, raw.body)
		}
		b.as("quality").get(urls.SetAsideRecord(uuid.NewString())).wants(404)
	})
	for name, change := range map[string]func(map[string]any){
		"an unknown field":       func(r map[string]any) { r["role"] = "admin" },
		"another release's form": func(r map[string]any) { r["schema"] = 9 },
		"a device of any name":   func(r map[string]any) { r["device"] = "<b>" },
		"a field of no form":     func(r map[string]any) { r["data"] = map[string]string{"by": "P-0001"} },
		"another run":            func(r map[string]any) { r["run"] = uuid.NewString() },
		"another revision":       func(r map[string]any) { r["revision"] = 2 },
		"no digest":              func(r map[string]any) { r["prev"] = "zz" },
	} {
		t.Run(strings.ReplaceAll(name, " ", "_")+"_is_refused", func(t *testing.T) {
			before, n, prev := b.entries(), s.n, s.prev
			got := s.sends(who, s.writes("note", change, "text", "x"), -24*time.Hour)
			if got.status < 400 || got.status >= 500 || len(got.Problem) < 20 || b.entries() != before {
				t.Errorf("%+v", got)
			}
			s.n, s.prev = n, prev
		})
	}
}

// A photo that was taken without the server: its record asks for it first.
func TestPencilPhotos(t *testing.T) {
	b := newBench(t)
	who := b.as("engineer")
	b.start(who)
	s := &slate{b: b, by: string(b.people["engineer"].ID)}
	hand := func(who *browser, data []byte, name string) told {
		t.Helper()
		if name == "" {
			sum := sha256.Sum256(data)
			name = hex.EncodeToString(sum[:])
		}
		a := who.request(http.MethodPost, urls.Photos(b.run)+"/"+name, string(data), "Content-Type", "image/jpeg", "Settlemark-Tablet", "1")
		got := told{status: a.status}
		b.must(json.Unmarshal([]byte(a.body), &got))
		return got
	}
	first := picture(t, 64, 48)
	sum := sha256.Sum256(first)
	hash := hex.EncodeToString(sum[:])
	record := s.writes("photo", nil, "photo", hash)
	written := b.clock
	b.pass(20 * time.Minute)
	t.Run("its_record_is_not_taken_before_it", func(t *testing.T) {
		if got := s.sends(who, record, 0); got.status != http.StatusConflict || got.Photo != hash || b.entries() != 0 {
			t.Errorf("%+v", got)
		}
	})
	t.Run("bytes_that_are_not_those_of_its_name_are_refused", func(t *testing.T) {
		if got := hand(who, picture(t, 65, 48), hash); got.status != http.StatusUnprocessableEntity || got.Field != "photo" {
			t.Errorf("%+v", got)
		}
	})
	t.Run("what_is_no_picture_is_refused_and_says_why", func(t *testing.T) {
		if got := hand(who, []byte("hello"), ""); got.status != http.StatusUnprocessableEntity || !strings.Contains(got.Problem, "JPEG") {
			t.Errorf("%+v", got)
		}
	})
	t.Run("it_is_stored_once_and_its_record_names_it", func(t *testing.T) {
		for range 2 {
			if got := hand(who, first, ""); got.status != http.StatusOK {
				t.Errorf("%+v", got)
			}
		}
		if got := s.sends(who, record, 0); got.Seq != 1 {
			t.Fatalf("%+v", got)
		}
		e := b.last()
		if n := b.text("select count(*)::text from settlemark.photos"); n != "1" || e.MediaType != "image/jpeg" || !e.ObservedAt.Equal(written) || !*e.Clock.Proven {
			t.Errorf("%s photos, %+v", n, e)
		}
		who.get(urls.Photo(b.run, e.SHA256)).wants(200)
	})
	t.Run("an_engineer_who_took_no_part_hands_none_in", func(t *testing.T) {
		if got := hand(b.as("mate"), picture(t, 30, 30), ""); got.status != http.StatusForbidden {
			t.Errorf("%+v", got)
		}
	})
	late := picture(t, 32, 32)
	sum = sha256.Sum256(late)
	t.Run("one_taken_before_the_run_was_abandoned_is_kept_under_it", func(t *testing.T) {
		record := s.writes("photo", nil, "photo", hex.EncodeToString(sum[:]))
		who.post(urls.Abandon(b.run), "reason", "the bench is needed")
		if got := hand(who, late, ""); got.status != http.StatusOK {
			t.Errorf("%+v", got)
		}
		if got := s.sends(who, record, 0); !strings.Contains(got.Aside, "abandoned") {
			t.Errorf("%+v", got)
		}
	})
}

// last is the newest entry of the run.
func (b *bench) last() commissioning.Entry {
	b.t.Helper()
	book, err := b.db.Logbook(b.t.Context(), b.people["engineer"], b.run)
	b.must(err)
	return book.Entries[len(book.Entries)-1]
}

func TestSignOutClears(t *testing.T) {
	s := newSite(t)
	t.Run("signing_out_clears_what_the_browser_kept", func(t *testing.T) {
		a := s.as("engineer").post("/sign-out")
		if a.header.Get("Clear-Site-Data") != `"cache", "cookies", "storage"` {
			t.Errorf("%q", a.header.Get("Clear-Site-Data"))
		}
	})
	t.Run("but_not_entries_that_are_only_there", func(t *testing.T) {
		b := s.as("supervisor")
		a := b.post("/sign-out", "keep", "yes")
		if a.header.Get("Clear-Site-Data") != "" || b.get("/account").status != http.StatusSeeOther {
			t.Errorf("%q", a.header.Get("Clear-Site-Data"))
		}
	})
}
