package templates

import (
	"settlemark/internal/commissioning"
	"settlemark/internal/urls"
	"settlemark/internal/words"
	"settlemark/templates/parts"
)

// MeasuredWith lists the instruments that the run names, as they stood when it
// was opened, with what is wrong with each.
func (v RunView) MeasuredWith() []Evidence {
	var out []Evidence
	for _, i := range v.Exam.Instruments {
		e := Evidence{"met", words.Plain(i.Code), words.Say("%s, serial %s, %s: %s; calibration due %s",
			i.Name, i.Serial, i.QuantityName(), parts.Signs(i.UncertaintyInWords()), i.Due), urls.Logbook(v.Run.ID)}
		switch {
		case i.Overdue != nil:
			e.Icon, e.Detail, e.URL = "look", words.Say("%s, overdue", e.Detail), v.entryURL(i.Overdue.Seq)
		case i.Coarse != nil:
			e.Icon, e.Detail, e.URL = "look", words.Say("%s; less sure than the procedure counts with", e.Detail), v.entryURL(i.Coarse.Seq)
		case v.overdueNow(i.Instrument):
			e.Icon, e.Detail = "look", words.Say("%s, overdue", e.Detail)
		}
		out = append(out, e)
	}
	return out
}

// overdueNow warns while the run is open, before anything was measured.
func (v RunView) overdueNow(i commissioning.Instrument) bool {
	return v.Run.State == commissioning.Open && i.Overdue(v.Now, v.Zone)
}

// InstrumentLine is what the run's page has room for.
type InstrumentLine struct {
	Icon, Code   string
	What, Detail words.Text
}

// InstrumentLines are the same for the run's page.
func (v RunView) InstrumentLines() []InstrumentLine {
	var out []InstrumentLine
	for _, i := range v.Exam.Instruments {
		line := InstrumentLine{"met", i.Code, i.QuantityName(), words.Say("due %s", i.Due)}
		if i.Overdue != nil || v.overdueNow(i.Instrument) {
			line.Icon, line.Detail = "look", words.Say("%s, overdue", i.Due)
		} else if i.Coarse != nil {
			line.Icon, line.Detail = "look", words.Say("less sure than needed")
		}
		out = append(out, line)
	}
	return out
}
