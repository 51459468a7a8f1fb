package commissioning_test

import (
	"encoding/json"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
)

// logbook has one entry of each kind; its seqs are those of the list.
const logbook = `{
"format": "settlemark.logbook/1",
"run": {"id": "r-1", "unit": {"tag": "BH-01", "serial": "S-1", "ink": "K-20", "makeup": "K-20M"},
 "site": {"name": "Brackenhill", "time_zone": "Europe/Dublin"}, "opened_at": "2026-03-04T08:00:00Z"},
"procedure": {
 "format": "settlemark.procedure/1", "key": "bench", "title": "Bench", "revision": 1, "late_after": "10m",
 "quantities": [
  {"key": "temperature", "label": "Ink temperature", "unit": "degC", "max_gap": "7m"},
  {"key": "viscosity", "label": "Ink viscosity", "unit": "mPa.s", "max_gap": "7m", "target": {"value": "4.50"}, "tolerance": {"percent": "10"}},
  {"key": "ready", "label": "Ready state", "state": true, "max_gap": "7m"}],
 "faults": {"expected": [{"kind": "pressure", "at_most": 2}], "others": ["charge"]},
 "sections": [{"title": "One", "steps": [
  {"id": "a", "ask": "confirm", "text": "A", "optional": true},
  {"id": "v", "ask": "value", "quantity": "viscosity", "text": "V"},
  {"id": "t", "ask": "text", "text": "T"},
  {"id": "k", "ask": "choice", "options": ["left", "right"], "text": "K"},
  {"id": "d", "ask": "drain", "container": "waste", "capacity_ml": "1000", "fill_at_most_percent": "80", "text": "D"},
  {"id": "l", "ask": "load", "position": "ink", "fluid": "ink", "text": "L"},
  {"id": "s", "ask": "start", "text": "S"},
  {"id": "p", "ask": "sample", "text": "P"}]}],
 "gates": {"viscosity": {"quantity": "viscosity", "checks": 3, "spacing_at_least": "2m"},
  "hold": {"conditions": ["ready", "viscosity"], "soak": "30m", "fresh_within": "30m"}}},
"entries": [
 {"seq": 1, "kind": "step", "observed_at": "2026-03-04T08:00:00Z", "step": "a", "outcome": "done"},
 {"seq": 2, "kind": "step", "observed_at": "2026-03-04T08:00:00Z", "step": "v", "outcome": "done", "value": 4.50, "unit": "cP"},
 {"seq": 3, "kind": "step", "observed_at": "2026-03-04T08:00:00Z", "step": "t", "outcome": "done", "text": "abc"},
 {"seq": 4, "kind": "step", "observed_at": "2026-03-04T08:00:00Z", "step": "k", "outcome": "done", "choice": "left"},
 {"seq": 5, "kind": "drain", "observed_at": "2026-03-04T08:00:00Z", "step": "d", "container": "waste", "volume_ml": "400"},
 {"seq": 6, "kind": "load", "observed_at": "2026-03-04T08:00:00Z", "step": "l", "position": "ink", "fluid": "K-20", "lot": "", "expires": "2027-01-31", "level_percent": 99.5},
 {"seq": 7, "kind": "empty", "observed_at": "2026-03-04T08:00:00Z", "container": "waste", "route": "solvent waste"},
 {"seq": 8, "kind": "start", "observed_at": "2026-03-04T09:00:00.123456789+01:00", "step": "s"},
 {"seq": 9, "kind": "reading", "observed_at": "2026-03-04T08:03:00Z", "quantity": "viscosity", "value": "4.50", "unit": "mPa.s", "via": "logger",
  "captured_at": "2026-03-04T08:03:01Z", "received_at": "2026-03-04T08:03:02Z", "by": "L-0001", "note": "n", "id": "i", "device": "x", "salt": "z",
  "clock": {"raw": "08:03", "offset_ms": -12, "error_ms": 3, "proven": true}},
 {"seq": 10, "kind": "reading", "observed_at": "2026-03-04T08:03:00Z", "quantity": "ready", "state": false},
 {"seq": 11, "kind": "fault", "observed_at": "2026-03-04T08:04:00Z", "fault": "other", "note": "smoke"},
 {"seq": 12, "kind": "fault_cleared", "observed_at": "2026-03-04T08:05:00Z", "ref": 11, "how": "restarted"},
 {"seq": 13, "kind": "disposition", "observed_at": "2026-03-04T08:06:00Z", "ref": 11, "decision": "accept", "reason": "seen", "by": "P-0002"},
 {"seq": 14, "kind": "correction", "observed_at": "2026-03-04T08:07:00Z", "strikes": 9, "reason": "mistyped",
  "replacement": {"kind": "reading", "observed_at": "2026-03-04T08:03:00Z", "quantity": "viscosity", "value": "4.52", "unit": "mPa.s"}},
 {"seq": 15, "kind": "note", "observed_at": "2026-03-04T08:08:00Z", "text": "seen"},
 {"seq": 16, "kind": "photo", "observed_at": "2026-03-04T08:09:00Z", "sha256": "00", "media_type": "image/jpeg", "step": "p"},
 {"seq": 17, "kind": "stop", "observed_at": "2026-03-04T08:10:00Z"}],
"at": "2026-03-04T10:30:00Z"
}`

func parse(text string) (commissioning.Logbook, error) {
	return commissioning.ParseLogbook(strings.NewReader(text))
}

func TestParseLogbook(t *testing.T) {
	book, err := parse(logbook)
	if err != nil {
		t.Fatal(err)
	}
	t.Run("decimals are kept as typed", func(t *testing.T) {
		if book.Entries[1].Value != "4.50" || book.Entries[5].LevelPercent != "99.5" {
			t.Error(book.Entries[1].Value, book.Entries[5].LevelPercent)
		}
	})
	t.Run("instants keep their instant to the nanosecond", func(t *testing.T) {
		if got := book.Entries[7].ObservedAt.Format("2006-01-02T15:04:05.999999999Z07:00"); got != "2026-03-04T08:00:00.123456789Z" {
			t.Error(got)
		}
	})
	t.Run("what is written reads back the same", func(t *testing.T) {
		data, err := json.Marshal(book)
		if err != nil {
			t.Fatal(err)
		}
		again, err := parse(string(data))
		if err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(book, again); diff != "" {
			t.Error(diff)
		}
		if strings.Contains(string(data), `"value":4`) {
			t.Error("a decimal was written as a number")
		}
	})
}

// refusal is a logbook with one flaw and where and what the error must say.
type refusal struct{ name, old, new, want string }

func refuse(t *testing.T, cases []refusal) {
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			if strings.Count(logbook, c.old) == 0 {
				t.Fatal("the logbook has no", c.old)
			}
			_, err := parse(strings.Replace(logbook, c.old, c.new, 1))
			if err == nil {
				t.Fatal("was taken")
			}
			if !strings.HasPrefix(err.Error(), c.want) || strings.ContainsAny(err.Error(), "\n\r") {
				t.Errorf("%q does not begin with %q", err, c.want)
			}
			if problem.KindOf(err) != problem.Invalid {
				t.Error("not an invalid problem")
			}
		})
	}
}

func TestLogbookRefusals(t *testing.T) {
	refuse(t, []refusal{
		{"unknown format", "settlemark.logbook/1", "settlemark.logbook/2", "$.format: expected one of settlemark.logbook/1"},
		{"unknown kind", `"kind": "stop"`, `"kind": "halt"`, "$.entries[16].kind: expected one of step, reading"},
		{"a missing required field", `"container": "waste", "route"`, `"route"`, "$.entries[6].container: expected"},
		{"a missing instant of judgement", ",\n\"at\": \"2026-03-04T10:30:00Z\"", "", "$.at: expected an RFC 3339 instant with an offset"},
		{"a seq that is not the next one", `{"seq": 3,`, `{"seq": 4,`, "$.entries[2].seq: expected seq 3, found 4"},
		{"a seq that is no whole number", `{"seq": 3,`, `{"seq": 3.0,`, "$.entries[2].seq: expected a whole number"},
		{"an instant without an offset", `"2026-03-04T08:10:00Z"`, `"2026-03-04T08:10:00"`, "$.entries[16].observed_at: expected an RFC 3339 instant with an offset"},
		{"an instant that is no day", `"2026-03-04T08:10:00Z"`, `"2026-02-30T08:10:00Z"`, "$.entries[16].observed_at: expected an RFC 3339"},
		{"more than nine digits of a second", `"2026-03-04T08:10:00Z"`, `"2026-03-04T08:10:00.1234567890Z"`, "$.entries[16].observed_at: expected an RFC 3339"},
		{"a number that is no decimal", `"value": 4.50`, `"value": "4,50"`, `$.entries[1].value: expected a decimal number such as 4.50, found "4,50"`},
		{"a number out of all bounds", `"value": 4.50`, `"value": 1e999999999`, "$.entries[1].value: expected a decimal number"},
		{"a unit of another kind", `"unit": "cP"`, `"unit": "kPa"`, `$.entries[1].unit: expected a unit of viscosity (mPa.s, cP, Pa.s), found "kPa"`},
		{"an unknown unit", `"unit": "cP"`, `"unit": "furlong"`, "$.entries[1].unit: expected a unit of viscosity"},
		{"a step that does not exist", `"step": "s"`, `"step": "z"`, `$.entries[7].step: expected the id of a step of the procedure, found "z"`},
		{"a quantity that does not exist", `"quantity": "ready", "state": false`, `"quantity": "mood", "state": false`, "$.entries[9].quantity: expected the key of a quantity"},
		{"a fault that does not exist", `"fault": "other"`, `"fault": "gremlin"`, "$.entries[10].fault: expected one of pressure, charge, other"},
		{"a ref that does not exist", `"ref": 11, "how"`, `"ref": 99, "how"`, "$.entries[11].ref: expected the seq of"},
		{"a ref of a clearing that is no fault", `"ref": 11, "how"`, `"ref": 10, "how"`, "$.entries[11].ref: expected the seq of a fault"},
		{"a ref of a disposition that does not exist", `"ref": 11, "decision"`, `"ref": 99, "decision"`, "$.entries[12].ref: expected the seq of"},
		{"a disposition of itself", `"ref": 11, "decision"`, `"ref": 13, "decision"`, "$.entries[12].ref: expected the seq of another"},
		{"an unknown field of an entry", `"route":`, `"rout":`, "$.entries[6].r"},
		{"an unknown field beside the known ones", `{"seq": 17,`, `{"seq": 17, "sequence": 1,`, "$.entries[16].sequence: expected no such field"},
		{"an unknown field on top", `"at": "2026`, `"extra": 1, "at": "2026`, "$.extra: expected no such field here"},
		{"an unknown field of the run", `"serial":`, `"serial_number": "x", "serial":`, "$.run.unit.serial_number: expected no such field"},
		{"an unknown field of the procedure", `"late_after":`, `"late_afer": "1m", "late_after":`, "$.procedure.late_afer: expected no such field"},
		{"an unknown field of a clock", `"raw":`, `"drift": 1, "raw":`, "$.entries[8].clock.drift: expected no such field"},
		{"a field of another kind", `"kind": "stop"`, `"kind": "stop", "step": "s"`, "$.entries[16].step: expected no such field"},
		{"a field given twice", `"kind": "stop"`, `"kind": "stop", "kind": "stop"`, "$.entries[16].kind: expected this field only once"},
		{"a name with a line break stays on one line", `"kind": "stop"`, `"kind": "stop", "a\nb": 1`, `$.entries[16]["a\nb"]: expected no such field`},
		{"null is no value", `"text": "seen"`, `"text": null`, "$.entries[14].text: expected text, found null"},
		{"an unknown time zone", "Europe/Dublin", "Europe/Brackenhill", "$.run.site.time_zone: expected an IANA time zone"},
		{"the machine's own time zone", "Europe/Dublin", "Local", "$.run.site.time_zone: expected an IANA time zone"},
		{"an unknown via", `"via": "logger"`, `"via": "guess"`, "$.entries[8].via: expected one of typed, logger, import, scan"},
		{"a flaw in a struck entry", `"quantity": "viscosity", "value": "4.50"`, `"quantity": "viscosity", "value": "x"`, "$.entries[8].value: expected a decimal"},
	})
}

// instruments puts a list of instruments into the logbook's run.
func instruments(list string) string {
	return strings.Replace(logbook, `"opened_at": "2026-03-04T08:00:00Z"}`, `"opened_at": "2026-03-04T08:00:00Z", "instruments": [`+list+`]}`, 1)
}

const probe = `{"code": "T-03", "name": "Probe", "serial": "4410", "quantity": "temperature", "uncertainty": 0.30, "unit": "K", "k": "2", "due": "2026-11-30"}`

func TestLogbookInstruments(t *testing.T) {
	t.Run("they are kept as typed and read back the same", func(t *testing.T) {
		book, err := parse(instruments(probe))
		if err != nil {
			t.Fatal(err)
		}
		want := []commissioning.Instrument{{Code: "T-03", Name: "Probe", Serial: "4410", Quantity: "temperature", Uncertainty: "0.30", Unit: "K", K: "2", Due: "2026-11-30"}}
		if diff := cmp.Diff(want, book.Run.Instruments); diff != "" {
			t.Error(diff)
		}
		data, err := json.Marshal(book)
		if err != nil {
			t.Fatal(err)
		}
		again, err := parse(string(data))
		if diff := cmp.Diff(book, again); err != nil || diff != "" {
			t.Error(err, diff)
		}
	})
	t.Run("a logbook without any is written without the word", func(t *testing.T) {
		for _, text := range []string{logbook, instruments("")} {
			book, err := parse(text)
			if err != nil {
				t.Fatal(err)
			}
			if data, err := json.Marshal(book); err != nil || strings.Contains(string(data), "instruments") {
				t.Error(err, string(data))
			}
		}
	})
	for name, c := range map[string]struct{ list, want string }{
		"no list of objects":         {`"T-03"`, "$.run.instruments[0]: expected an object"},
		"an unknown field":           {strings.Replace(probe, `"k"`, `"kind": 1, "k"`, 1), "$.run.instruments[0].kind: expected no such field"},
		"no serial":                  {strings.Replace(probe, `"serial": "4410", `, "", 1), "$.run.instruments[0].serial: expected text, found nothing"},
		"a blank code":               {strings.Replace(probe, "T-03", " ", 1), "$.run.instruments[0].code: expected text that is not blank"},
		"a quantity of no kind":      {strings.Replace(probe, "temperature", "colour", 1), "$.run.instruments[0].unit: expected what the register of instruments takes. Choose a unit"},
		"a unit of another kind":     {strings.Replace(probe, `"K"`, `"kPa"`, 1), "$.run.instruments[0].unit: expected what the register of instruments takes. Choose a unit"},
		"an uncertainty of zero":     {strings.Replace(probe, "0.30", "0", 1), "$.run.instruments[0].uncertainty: expected what the register of instruments takes."},
		"a factor that is no number": {strings.Replace(probe, `"2"`, `"two"`, 1), "$.run.instruments[0].k: expected a decimal number"},
		"a day that does not exist":  {strings.Replace(probe, "11-30", "11-31", 1), "$.run.instruments[0].due: expected a date"},
		"one named twice":            {probe + "," + strings.Replace(probe, "Probe", "Other", 1), `$.run.instruments[1].code: expected each only once, found "T-03" again`},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := parse(instruments(c.list))
			if err == nil || !strings.HasPrefix(err.Error(), c.want) || strings.Contains(err.Error(), "\n") {
				t.Errorf("%v, want %s", err, c.want)
			}
		})
	}
}

func TestEntryRefusals(t *testing.T) {
	refuse(t, []refusal{
		{"done without the value", `"value": 4.50, "unit": "cP"`, `"note": "n"`, "$.entries[1].value: expected a decimal number, found nothing"},
		{"a value without a unit", `"value": 4.50, "unit": "cP"`, `"value": 4.50`, "$.entries[1].unit: expected a unit of viscosity"},
		{"done without the text", `, "text": "abc"`, "", "$.entries[2].text: expected text, found nothing"},
		{"done with a blank text", `"text": "abc"`, `"text": " "`, "$.entries[2].text: expected text that is not blank"},
		{"done without the choice", `, "choice": "left"`, "", "$.entries[3].choice: expected one of left, right, found nothing"},
		{"a choice that is not among options", `"choice": "left"`, `"choice": "up"`, `$.entries[3].choice: expected one of left, right, found "up"`},
		{"an answer that the step does not ask for", `"step": "a", "outcome": "done"`, `"step": "a", "outcome": "done", "text": "x"`, "$.entries[0].text: expected no such field"},
		{"an unknown outcome", `"step": "a", "outcome": "done"`, `"step": "a", "outcome": "skipped"`, "$.entries[0].outcome: expected one of done, not_applicable"},
		{"a container other than the step's", `"step": "d", "container": "waste"`, `"step": "d", "container": "bucket"`, "$.entries[4].container: expected one of waste"},
		{"a container that no step fills", `"container": "waste", "route"`, `"container": "bucket", "route"`, "$.entries[6].container: expected a container of the procedure"},
		{"a drain of less than nothing", `"volume_ml": "400"`, `"volume_ml": "-400"`, "$.entries[4].volume_ml: expected a number of at least 0"},
		{"a level above full", `"level_percent": 99.5`, `"level_percent": 100.5`, "$.entries[5].level_percent: expected a number of at most 100"},
		{"an expiry that is no date", `"2027-01-31"`, `"2027-02-31"`, "$.entries[5].expires: expected a date as YYYY-MM-DD"},
		{"a load without a lot", `"lot": "", `, "", "$.entries[5].lot: expected text, found nothing"},
		{"an unknown position", `"position": "ink", "fluid": "K-20"`, `"position": "waste", "fluid": "K-20"`, "$.entries[5].position: expected one of ink, makeup"},
		{"a start for a step that asks for something else", `"step": "s"`, `"step": "a"`, "$.entries[7].step: expected a step that asks for start"},
		{"a number for a state", `"quantity": "ready", "state": false`, `"quantity": "ready", "value": 1, "unit": "K"`, "$.entries[9].state: expected true or false"},
		{"a state for a number", `"quantity": "ready", "state": false`, `"quantity": "temperature", "state": false`, "$.entries[9].value: expected a decimal number"},
		{"an other fault without a note", `"fault": "other", "note": "smoke"`, `"fault": "other"`, "$.entries[10].note: expected text, found nothing"},
		{"a disposition by nobody", `"reason": "seen", "by": "P-0002"`, `"reason": "seen"`, "$.entries[12].by: expected text, found nothing"},
		{"a disposition without a reason", `"reason": "seen", `, "", "$.entries[12].reason: expected text"},
		{"an unknown decision", `"decision": "accept"`, `"decision": "maybe"`, "$.entries[12].decision: expected one of accept, reject"},
		{"a clearing that does not say how", `, "how": "restarted"`, "", "$.entries[11].how: expected text"},
	})
}

func TestCorrectionRefusals(t *testing.T) {
	second := func(fields string) string {
		return `{"seq": 17, "kind": "correction", "observed_at": "2026-03-04T08:10:00Z", "reason": "r", ` + fields + `}`
	}
	stop := `{"seq": 17, "kind": "stop", "observed_at": "2026-03-04T08:10:00Z"}`
	refuse(t, []refusal{
		{"striking an entry that does not exist", stop, second(`"strikes": 99`), "$.entries[16].strikes: expected the seq of an earlier entry"},
		{"striking a later entry", `"strikes": 9`, `"strikes": 15`, "$.entries[13].strikes: expected the seq of an earlier entry"},
		{"striking itself", stop, second(`"strikes": 17`), "$.entries[16].strikes: expected the seq of an earlier entry"},
		{"striking an entry that is struck already", stop, second(`"strikes": 9`), "$.entries[16].strikes: expected an entry that is not struck already"},
		{
			"striking a correction without a replacement", stop, second(`"strikes": 7`) + `, {"seq": 18, "kind": "correction", "observed_at": "2026-03-04T08:10:00Z", "reason": "r", "strikes": 17}`,
			"$.entries[17].strikes: expected an entry that can be struck",
		},
		{
			"a replacement that is a correction", stop, second(`"strikes": 15, "replacement": {"kind": "correction", "observed_at": "2026-03-04T08:10:00Z", "strikes": 1, "reason": "r"}`),
			"$.entries[16].replacement.kind: expected one of step",
		},
		{
			"a replacement with a seq", stop, second(`"strikes": 15, "replacement": {"seq": 3, "kind": "stop", "observed_at": "2026-03-04T08:10:00Z"}`),
			"$.entries[16].replacement.seq: expected no such field",
		},
		{"a flaw in a replacement", `"value": "4.52"`, `"value": ""`, "$.entries[13].replacement.value: expected a decimal"},
		{
			"a ref of a replacement that does not exist", stop, second(`"strikes": 15, "replacement": {"kind": "fault_cleared", "observed_at": "2026-03-04T08:10:00Z", "ref": 99, "how": "h"}`),
			"$.entries[16].replacement.ref: expected the seq of",
		},
	})
	t.Run("striking a replacement is allowed once", func(t *testing.T) {
		if _, err := parse(strings.Replace(logbook, stop, second(`"strikes": 14`), 1)); err != nil {
			t.Error(err)
		}
	})
}

func TestStrictJSON(t *testing.T) {
	for name, c := range map[string][2]string{
		"nothing at all":         {"", "$: expected JSON, found nothing"},
		"half a document":        {logbook[:len(logbook)/2], "$.entries[3]: expected valid JSON"},
		"something after it":     {logbook + "{}", "$: expected nothing after"},
		"a list":                 {"[]", "$: expected an object, found a list"},
		"bytes that are no text": {strings.Replace(logbook, "smoke", "\xff", 1), "$.entries[10]"},
		"a lone surrogate":       {strings.Replace(logbook, "smoke", `\ud800`, 1), "$.entries[10]"},
		"a trailing comma":       {strings.Replace(logbook, `10:30:00Z"`, `10:30:00Z",`, 1), "$"},
		"a comment":              {"/* */" + logbook, "$"},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := parse(c[0])
			if err == nil || !strings.HasPrefix(err.Error(), c[1]) || strings.Contains(err.Error(), "\n") {
				t.Errorf("%v, want %s", err, c[1])
			}
		})
	}
	t.Run("very deep nesting is refused", func(t *testing.T) {
		if _, err := parse(strings.Repeat("[", 1<<20)); err == nil {
			t.Error("was taken")
		}
	})
}

func TestDecodeEntry(t *testing.T) {
	book, err := parse(logbook)
	if err != nil {
		t.Fatal(err)
	}
	for name, c := range map[string][2]string{
		"an entry as a client sends it": {`{"kind": "reading", "observed_at": "2026-03-04T08:03:00Z", "quantity": "viscosity", "value": "4.50", "unit": "cP"}`, ""},
		"a seq is not the client's":     {`{"seq": 1, "kind": "stop", "observed_at": "2026-03-04T08:03:00Z"}`, "$.seq: expected no such field"},
		"received_at is not either":     {`{"received_at": "2026-03-04T08:03:00Z", "kind": "stop", "observed_at": "2026-03-04T08:03:00Z"}`, "$.received_at: expected no such field"},
		"the procedure binds":           {`{"kind": "reading", "observed_at": "2026-03-04T08:03:00Z", "quantity": "mood", "value": "4.50", "unit": "cP"}`, "$.quantity: expected the key"},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := commissioning.DecodeEntry([]byte(c[0]), book.Procedure)
			if c[1] == "" && err != nil || c[1] != "" && (err == nil || !strings.HasPrefix(err.Error(), c[1])) {
				t.Errorf("%v, want %q", err, c[1])
			}
		})
	}
}

func TestAdmits(t *testing.T) {
	book, err := parse(logbook)
	if err != nil {
		t.Fatal(err)
	}
	for name, c := range map[string]struct {
		entry commissioning.Entry
		want  string
	}{
		"a reading":                         {commissioning.Entry{Kind: commissioning.KindReading}, ""},
		"a correction of a live entry":      {commissioning.Entry{Kind: commissioning.KindCorrection, Strikes: 15}, ""},
		"a correction of a struck entry":    {commissioning.Entry{Kind: commissioning.KindCorrection, Strikes: 9}, "$.strikes: "},
		"a correction of what is not there": {commissioning.Entry{Kind: commissioning.KindCorrection, Strikes: 18}, "$.strikes: "},
		"a clearing of a fault":             {commissioning.Entry{Kind: commissioning.KindFaultCleared, Ref: 11}, ""},
		"a clearing of a start":             {commissioning.Entry{Kind: commissioning.KindFaultCleared, Ref: 8}, "$.ref: "},
		"a ruling on itself":                {commissioning.Entry{Kind: commissioning.KindDisposition, Ref: 18}, "$.ref: "},
		"a ruling on a replacement":         {commissioning.Entry{Kind: commissioning.KindDisposition, Ref: 14}, ""},
	} {
		t.Run(name, func(t *testing.T) {
			err := book.Admits(c.entry)
			if c.want == "" && err != nil || c.want != "" && (err == nil || !strings.HasPrefix(err.Error(), c.want)) {
				t.Errorf("%v, want %q", err, c.want)
			}
		})
	}
}
