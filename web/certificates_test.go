package web_test

import (
	"archive/zip"
	"bytes"
	"crypto/sha256"
	"encoding/csv"
	"encoding/hex"
	"io"
	"net/http"
	"net/url"
	"strings"
	"testing"

	"github.com/PuerkitoBio/goquery"

	"settlemark/internal/commissioning"
	"settlemark/internal/demo"
)

func (s *site) certificates(t *testing.T) {
	quality := s.demoAs("keiko")
	all := listed(quality.get("/certificates"))
	if len(all) < 6 {
		t.Fatalf("the demo shows %d certificates", len(all))
	}
	t.Run("each filter narrows the list", func(t *testing.T) {
		row := strings.Split(s.text(`
			select concat_ws('|', unit, line, engineer, lots[1], (released_at at time zone 'UTC')::date)
			from settlemark.certificate_rows where number = 'C-0001'`), "|")
		for i, field := range []string{"unit", "line", "engineer", "lot"} {
			got := listed(quality.get("/certificates?" + field + "=" + url.QueryEscape(row[i])))
			if len(got) == 0 || len(got) > len(all) || !contains(got, "C-0001") {
				t.Errorf("%s = %s gives %v", field, row[i], got)
			}
			if none := listed(quality.get("/certificates?" + field + "=no+such")); len(none) != 0 {
				t.Errorf("%s = no such gives %v", field, none)
			}
		}
		day := listed(quality.get("/certificates?from=" + row[4] + "&to=" + row[4]))
		if !contains(day, "C-0001") || len(day) == len(all) {
			t.Errorf("the day of C-0001 gives %v of %v", day, all)
		}
	})
	t.Run("each status is found", func(t *testing.T) {
		for _, status := range []string{"valid", "superseded", "withdrawn"} {
			if got := listed(quality.get("/certificates?status=" + status)); len(got) == 0 || len(got) == len(all) {
				t.Errorf("%s gives %v", status, got)
			}
		}
	})
	t.Run("a day that is none is refused beside its field", func(t *testing.T) {
		quality.get("/certificates?from=yesterday").wants(http.StatusUnprocessableEntity, "Write the day as year-month-day")
	})
	t.Run("one is downloaded as stored", func(t *testing.T) {
		a := quality.get("/certificates/C-0001.pdf")
		sum := sha256.Sum256([]byte(a.body))
		if a.status != 200 || a.header.Get("Content-Type") != "application/pdf" || a.header.Get("ETag") != `"`+hex.EncodeToString(sum[:])+`"` {
			t.Errorf("status %d, headers %v", a.status, a.header)
		}
	})
	t.Run("many come as one ZIP with an index", func(t *testing.T) { zipped(t, quality, all) })
	t.Run("a certificate that is not there is not found", func(t *testing.T) {
		quality.get("/certificates/C-9999").wants(http.StatusNotFound)
		quality.get("/certificates/C-9999.pdf").wants(http.StatusNotFound)
	})
}

func zipped(t *testing.T, quality *browser, all []string) {
	a := quality.get("/certificates.zip?number=C-0001&number=C-0002")
	archive, err := zip.NewReader(strings.NewReader(a.body), int64(len(a.body)))
	if err != nil {
		t.Fatal(err)
	}
	files := map[string][]byte{}
	for _, f := range archive.File {
		r, err := f.Open()
		if err != nil {
			t.Fatal(err)
		}
		if files[f.Name], err = io.ReadAll(r); err != nil {
			t.Fatal(err)
		}
	}
	if len(files) != 3 || string(files["C-0001.pdf"]) != quality.get("/certificates/C-0001.pdf").body {
		t.Errorf("the ZIP holds %d files", len(files))
	}
	rows, err := csv.NewReader(bytes.NewReader(files["index.csv"])).ReadAll()
	if err != nil || len(rows) != 3 || rows[1][0] != "C-0001" {
		t.Fatalf("index: %v %v", rows, err)
	}
	sum := sha256.Sum256(files["C-0001.pdf"])
	if rows[1][len(rows[1])-1] != hex.EncodeToString(sum[:]) {
		t.Error("the index names another hash")
	}
	whole := quality.get("/certificates.zip")
	if archive, err = zip.NewReader(strings.NewReader(whole.body), int64(len(whole.body))); err != nil || len(archive.File) != len(all)+1 {
		t.Errorf("all of them: %v", err)
	}
}

func (s *site) withdrawn(t *testing.T) {
	number := s.text(`select number from settlemark.certificate_rows where withdrawn_at is null and superseded_by = '' order by number limit 1`)
	address := "/certificates/" + number
	before := s.demoAs("keiko").get(address + ".pdf").body
	t.Run("a supervisor may not", func(t *testing.T) {
		s.demoAs("anwen").post(address+"/withdraw", "reason", "no").wants(http.StatusForbidden, "Only quality may withdraw")
	})
	quality := s.demoAs("keiko")
	t.Run("a reason is needed", func(t *testing.T) {
		quality.post(address+"/withdraw", "reason", " ").wants(http.StatusUnprocessableEntity, "Say why")
	})
	t.Run("then every look-up says so, and the paper stays as it is", func(t *testing.T) {
		quality.post(address+"/withdraw", "reason", "wrong make-up lot", "nonce", "1", "password", demo.Everybody().Password, "code", s.demoCode()).leadsTo(address)
		quality.get(address).wants(http.StatusOK, "Withdrawn", "wrong make-up lot", "Keiko")
		if quality.get(address+".pdf").body != before {
			t.Error("the PDF changed")
		}
	})
	t.Run("twice is refused", func(t *testing.T) {
		quality.post(address+"/withdraw", "reason", "again", "nonce", "2", "password", demo.Everybody().Password, "code", s.demoCode()).wants(http.StatusConflict)
	})
}

func (s *site) exported(t *testing.T) {
	run := "/runs/" + s.text(`select run::text from settlemark.certificate_rows where number = 'C-0001'`)
	quality := s.demoAs("keiko")
	rows, err := csv.NewReader(strings.NewReader(quality.get(run + "/logbook.csv").body)).ReadAll()
	if err != nil || len(rows) < 50 || rows[0][0] != "seq" || rows[1][0] != "1" {
		t.Fatalf("%d rows: %v", len(rows), err)
	}
	a := quality.get(run + "/logbook.json")
	if a.status != 200 || !strings.Contains(a.body, `"settlemark.logbook/1"`) {
		t.Errorf("status %d", a.status)
	}
	if _, err := commissioning.ParseLogbook(strings.NewReader(a.body)); err != nil {
		t.Errorf("evaluate can't read it: %v", err)
	}
}

// listed gives the numbers of the certificates on the page.
func listed(a answer) []string {
	var numbers []string
	a.page().Find("a.go").Each(func(_ int, link *goquery.Selection) { numbers = append(numbers, strings.TrimSpace(link.Text())) })
	return numbers
}

func contains(list []string, one string) bool {
	return strings.Contains(" "+strings.Join(list, " ")+" ", " "+one+" ")
}
