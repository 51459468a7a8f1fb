package tabular_test

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"settlemark/internal/tabular"
)

var quantities = []tabular.Quantity{
	{Key: "viscosity", Label: "Ink viscosity", Unit: "mPa.s"},
	{Key: "temperature", Label: "Ink temperature", Unit: "degC"},
	{Key: "pressure", Label: "Ink pressure", Unit: "kPa"},
	{Key: "ready", Label: "Ready state", State: true},
}

func at(text string) time.Time {
	t, err := time.Parse(time.RFC3339, text)
	if err != nil {
		panic(err)
	}
	return t
}

// said is a reading in short.
func said(r tabular.Reading) string {
	value := r.Value + " " + r.Unit
	if r.State != nil {
		value = fmt.Sprint(*r.State)
	}
	return fmt.Sprintf("%d %s %s %s", r.Line, r.At.UTC().Format("2006-01-02T15:04:05.999Z"), r.Quantity, value)
}

func wide(s string, big bool) string {
	var out strings.Builder
	for _, r := range s {
		a, b := byte(r), byte(r>>8)
		if big {
			a, b = b, a
		}
		out.WriteByte(a)
		out.WriteByte(b)
	}
	return out.String()
}

// Files as controllers and spreadsheets write them, made by hand; what they hold
// was worked out on paper.
func TestFiles(t *testing.T) {
	const plain = "Time,Ink viscosity [mPa·s],Pressure (bar)\n2026-03-04 09:00:00,4.50,3.01\n2026-03-04 09:00:10,4.48,3.00\n"
	simple := []string{
		"2 2026-03-04T09:00:00Z viscosity 4.50 mPa.s", "2 2026-03-04T09:00:00Z pressure 3.01 bar",
		"3 2026-03-04T09:00:10Z viscosity 4.48 mPa.s", "3 2026-03-04T09:00:10Z pressure 3.00 bar",
	}
	latin := strings.ReplaceAll(plain, "·", "\xb7")
	for _, c := range []struct {
		name, file, zone string
		want             []string
		bad              []string
	}{
		{"commas and points", plain, "Europe/Dublin", simple, nil},
		{"with the mark of UTF-8", "\xef\xbb\xbf" + plain, "Europe/Dublin", simple, nil},
		{"UTF-16 of a spreadsheet", "\xff\xfe" + wide(plain, false), "Europe/Dublin", simple, nil},
		{"UTF-16, the other way round", "\xfe\xff" + wide(plain, true), "Europe/Dublin", simple, nil},
		{"UTF-16 without a mark", wide(plain, false), "Europe/Dublin", simple, nil},
		{"Windows-1252", latin, "Europe/Dublin", simple, nil},
		{"lines of an old computer", strings.ReplaceAll(plain, "\n", "\r"), "Europe/Dublin", simple, nil},
		{
			"semicolons and decimal commas, German", "Zeit;Ink viscosity;Ink temperature (°C)\r\n04.03.2026 10:00;4,50;21,5\r\n04.03.2026 10:01;4,48;\r\n", "Europe/Berlin",
			[]string{
				"2 2026-03-04T09:00:00Z viscosity 4.50 mPa.s", "2 2026-03-04T09:00:00Z temperature 21.5 degC", "3 2026-03-04T09:01:00Z viscosity 4.48 mPa.s",
			},
			nil,
		},
		{
			"tabs, date and time apart, units on a line of their own", "Log of the controller\nDate\tTime\tPressure\tTemp\n\t\tpsi\tF\n03/24/2026\t2:00:05 PM\t43.5\t70.7\n03/24/2026\t2:00:15 PM\t43.6\t70.9\n", "America/Halifax",
			[]string{"4 2026-03-24T17:00:05Z pressure 43.5 psi", "5 2026-03-24T17:00:15Z pressure 43.6 psi"},
			nil,
		},
		{
			"a spreadsheet's hint, quoted fields and a line within one", "sep=;\n\"Time\";\"Ink\nviscosity\";\"Note\"\n\"2026-03-04T09:00:00+01:00\";\"4,50\";\"two\nlines\"\n2026-03-04T09:00:10+01:00;4,51;\n", "Europe/Dublin",
			[]string{"4 2026-03-04T08:00:00Z viscosity 4.50 mPa.s", "6 2026-03-04T08:00:10Z viscosity 4.51 mPa.s"},
			nil,
		},
		{
			"seconds since 1970, newest first, yes and no", "t|viscosity|ready\n1772614810|4.48|1\n1772614800.5|4.50|0\n", "Europe/Dublin",
			[]string{
				"3 2026-03-04T09:00:00.5Z viscosity 4.50 mPa.s", "3 2026-03-04T09:00:00.5Z ready false",
				"2 2026-03-04T09:00:10Z viscosity 4.48 mPa.s", "2 2026-03-04T09:00:10Z ready true",
			},
			nil,
		},
		{
			"bad rows among good ones", "Time,Viscosity\n2026-03-04 09:00:00,4.50\nnever,4.5\n2026-03-04 09:00:10,=1+1\n2026-03-04 09:00:20,\"4.5\n2026-03-04 09:00:30,4.47\n", "Europe/Dublin",
			[]string{"2 2026-03-04T09:00:00Z viscosity 4.50 mPa.s"},
			[]string{"3 “never” is no time", "4 Ink viscosity: “=1+1” is no number", "5 A quotation mark"},
		},
		{
			"a row twice, and one that contradicts", "Time,Viscosity\n2026-03-04 09:00:00,4.50\n2026-03-04 09:00:00,4.50\n2026-03-04 09:00:00,4.51\n2026-03-04 09:00:10,4.52\n", "Europe/Dublin",
			[]string{"2 2026-03-04T09:00:00Z viscosity 4.50 mPa.s", "5 2026-03-04T09:00:10Z viscosity 4.52 mPa.s"},
			[]string{"4 Ink viscosity: another value stands at the same time"},
		},
		{
			"the hour that comes twice, in the order of the file", "Time,Viscosity\n2026-10-25 01:50:00,4.1\n2026-10-25 02:30:00,4.2\n2026-10-25 02:50:00,4.3\n2026-10-25 02:10:00,4.4\n2026-10-25 02:50:00,4.5\n2026-10-25 03:00:00,4.6\n", "Europe/Berlin",
			[]string{
				"2 2026-10-24T23:50:00Z viscosity 4.1 mPa.s", "3 2026-10-25T00:30:00Z viscosity 4.2 mPa.s", "4 2026-10-25T00:50:00Z viscosity 4.3 mPa.s",
				"5 2026-10-25T01:10:00Z viscosity 4.4 mPa.s", "6 2026-10-25T01:50:00Z viscosity 4.5 mPa.s", "7 2026-10-25T02:00:00Z viscosity 4.6 mPa.s",
			},
			nil,
		},
		{
			"the hour that is left out", "Time,Viscosity\n2026-03-29 01:59:50,4.1\n2026-03-29 02:30:00,4.2\n2026-03-29 03:00:00,4.3\n", "Europe/Berlin",
			[]string{"2 2026-03-29T00:59:50Z viscosity 4.1 mPa.s", "4 2026-03-29T01:00:00Z viscosity 4.3 mPa.s"},
			[]string{"3 2026-03-29 02:30:00 is in the hour that the change of the clocks leaves out"},
		},
	} {
		t.Run(c.name, func(t *testing.T) {
			text, err := tabular.Text([]byte(c.file))
			if err != nil {
				t.Fatal(err)
			}
			m := tabular.Guess(text, "", quantities, c.zone, at("2026-03-04T08:00:00Z"), at("2026-03-04T12:00:00Z"), nil)
			m.Twice = tabular.TwiceOrder
			if err := m.Check(quantities); err != nil {
				t.Fatalf("the guess %+v is refused: %v", m, err)
			}
			read := m.Read(text, quantities, time.Time{})
			var got, bad []string
			for _, r := range read.Readings {
				got = append(got, said(r))
			}
			for i, b := range read.Bad {
				line := fmt.Sprintf("%d %s", b.Line, b.Why)
				if i < len(c.bad) && strings.HasPrefix(line, c.bad[i]) {
					line = c.bad[i]
				}
				bad = append(bad, line)
			}
			if g, w := strings.Join(got, "\n"), strings.Join(c.want, "\n"); g != w {
				t.Errorf("with %+v\ngot\n%s\nwants\n%s", m, g, w)
			}
			if g, w := strings.Join(bad, "\n"), strings.Join(c.bad, "\n"); g != w {
				t.Errorf("bad rows\n%s\nwants\n%s", g, w)
			}
		})
	}
}

// The hour that a clock set back shows twice is refused until somebody says which
// of the two it is.
func TestHourThatComesTwice(t *testing.T) {
	const text = "Time,Viscosity\n2026-10-25 01:50:00,4.1\n2026-10-25 02:30:00,4.2\n2026-10-25 03:00:00,4.3\n"
	m := tabular.Guess(text, "", quantities, "Europe/Berlin", at("2026-10-25T00:00:00Z"), at("2026-10-25T04:00:00Z"), nil)
	for twice, want := range map[string]string{
		"": "", tabular.TwiceFirst: "2026-10-25T00:30:00Z", tabular.TwiceOrder: "2026-10-25T00:30:00Z", tabular.TwiceSecond: "2026-10-25T01:30:00Z",
	} {
		m.Twice = twice
		read := m.Read(text, quantities, time.Time{})
		switch {
		case read.Repeated != 1:
			t.Errorf("%q: %d rows come twice", twice, read.Repeated)
		case want == "" && (len(read.Readings) != 2 || len(read.Bad) != 1 || read.Bad[0].Line != 3):
			t.Errorf("%q: %d readings, bad %v", twice, len(read.Readings), read.Bad)
		case want != "" && (len(read.Readings) != 3 || !read.Readings[1].At.Equal(at(want))):
			t.Errorf("%q: got %+v, wants %s", twice, read.Readings, want)
		}
	}
	if m.Zone = "Etc/GMT-1"; m.Read(text, quantities, time.Time{}).Repeated != 0 {
		t.Error("a clock that nobody sets back shows an hour twice")
	}
}

// Day and month of one digit each could be either: the one near the run is taken.
func TestDayOrMonth(t *testing.T) {
	const text = "Time;Viscosity\n03/04/2026 09:00;4.5\n03/04/2026 09:01;4.5\n"
	for run, want := range map[string]string{"2026-03-04T08:00:00Z": "month", "2026-04-03T08:00:00Z": "day"} {
		if m := tabular.Guess(text, "", quantities, "Europe/Dublin", at(run), at(run).Add(3*time.Hour), nil); m.Layout != want {
			t.Errorf("near %s it reads %q, wants %q", run, m.Layout, want)
		}
	}
}

// What was kept for the unit is taken for a file with the same columns, and for no other.
func TestKeptMapping(t *testing.T) {
	kept := tabular.Mapping{
		Delimiter: ",", Decimal: ".", Layout: "year", Zone: "UTC", Time: 1,
		Columns: []tabular.Column{{Name: "A"}, {Name: "B", Quantity: "pressure", Unit: "psi"}},
	}
	from := at("2026-03-04T08:00:00Z")
	if m := tabular.Guess("A,B\n2026-03-04 09:00,43.5\n", "", quantities, "Europe/Berlin", from, from, &kept); m.Zone != "UTC" || m.Columns[1].Unit != "psi" {
		t.Errorf("got %+v", m)
	}
	if m := tabular.Guess("A,C\n2026-03-04 09:00,43.5\n", "", quantities, "Europe/Berlin", from, from, &kept); m.Zone == "UTC" || m.Columns[1].Quantity != "" {
		t.Errorf("got %+v of another file", m)
	}
}

func TestWhatIsNoTextIsRefused(t *testing.T) {
	for name, file := range map[string]string{
		"empty": " \n", "a workbook": "PK\x03\x04rest", "an old workbook": "\xd0\xcf\x11\xe0rest", "packed": "\x1f\x8brest", "with zeros": "a\x00b,\x00\x00\x00c",
		"too large": strings.Repeat("a,b\n", tabular.MaxFile/4+1),
	} {
		if text, err := tabular.Text([]byte(file)); err == nil {
			t.Errorf("%s is taken: %.20q", name, text)
		}
	}
}

// A mapping out of a form is held against the file and the procedure.
func TestMappingIsChecked(t *testing.T) {
	good := tabular.Mapping{
		Delimiter: ";", Decimal: ",", Layout: "day", Zone: "Europe/Berlin", Time: 1,
		Columns: []tabular.Column{{}, {Quantity: "pressure", Unit: "bar"}, {Quantity: "ready"}},
	}
	if err := good.Check(quantities); err != nil {
		t.Fatal(err)
	}
	for name, spoil := range map[string]func(*tabular.Mapping){
		"no delimiter":           func(m *tabular.Mapping) { m.Delimiter = "\"" },
		"no mark":                func(m *tabular.Mapping) { m.Decimal = "" },
		"no layout":              func(m *tabular.Mapping) { m.Layout = "sundial" },
		"no zone":                func(m *tabular.Mapping) { m.Zone = "" },
		"the server's own zone":  func(m *tabular.Mapping) { m.Zone = "Local" },
		"some other hour twice":  func(m *tabular.Mapping) { m.Twice = "third" },
		"no time":                func(m *tabular.Mapping) { m.Time = 0 },
		"a time outside":         func(m *tabular.Mapping) { m.Time = 4 },
		"date and time the same": func(m *tabular.Mapping) { m.Date = 1 },
		"a unit of another kind": func(m *tabular.Mapping) { m.Columns[1].Unit = "degC" },
		"a quantity twice":       func(m *tabular.Mapping) { m.Columns[2] = m.Columns[1] },
		"an unknown quantity":    func(m *tabular.Mapping) { m.Columns[2].Quantity = "taste" },
		"the time as a reading": func(m *tabular.Mapping) {
			m.Columns[0] = tabular.Column{Quantity: "ready"}
			m.Columns[2] = tabular.Column{}
		},
		"nothing": func(m *tabular.Mapping) { m.Columns = []tabular.Column{{}, {}} },
	} {
		m := good
		m.Columns = append([]tabular.Column(nil), good.Columns...)
		if spoil(&m); m.Check(quantities) == nil {
			t.Errorf("%s is taken", name)
		}
	}
}

// Whatever a file holds: nothing panics, every value is a plain decimal, every
// line is in the file, and no reading stands twice.
func FuzzFile(f *testing.F) {
	f.Add([]byte("Time,Ink viscosity\n2026-03-04 09:00,4.5\n"))
	f.Add([]byte("sep=;\nt;v\n04.03.2026 09:00;4,5\n\"x"))
	f.Add([]byte("\xff\xfea\x00,\x00b\x00"))
	f.Fuzz(func(t *testing.T, file []byte) {
		text, err := tabular.Text(file)
		if err != nil {
			return
		}
		from := at("2026-03-04T08:00:00Z")
		m := tabular.Guess(text, "", quantities, "Europe/Berlin", from, from.Add(time.Hour), nil)
		lines, seen := strings.Count(text, "\n")+1, map[string]bool{}
		read := m.Read(text, quantities, time.Time{})
		for _, r := range read.Readings {
			key := r.Quantity + r.At.String()
			if r.Line < 1 || r.Line > lines || seen[key] || strings.Trim(r.Value, "-.0123456789") != "" {
				t.Errorf("%+v of %q", r, text)
			}
			seen[key] = true
		}
		for _, b := range read.Bad {
			if b.Line < 1 || b.Line > lines {
				t.Errorf("line %d of %d: %s", b.Line, lines, b.Why)
			}
		}
	})
}
