package templates

import (
	"settlemark/internal/commissioning"
	"settlemark/internal/measure"
	"settlemark/internal/urls"
	"settlemark/internal/words"
)

// MeasuredWith lists the instruments that the run names, as they stood when it
// was opened, with what is wrong with each.
func (v RunView) MeasuredWith() []Evidence {
	var out []Evidence
	for _, i := range v.Exam.Instruments {
		e := Evidence{"met", words.Plain(i.Code), words.Plain(i.Name + ", serial " + i.Serial + ", " + string(i.Quantity) + ": " + measure.Signs(i.UncertaintyInWords().String()) + "; calibration due " + i.Due), urls.Logbook(v.Run.ID)}
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
type InstrumentLine struct{ Icon, Name, Detail string }

// InstrumentLines are the same for the run's page.
func (v RunView) InstrumentLines() []InstrumentLine {
	var out []InstrumentLine
	for _, i := range v.Exam.Instruments {
		line := InstrumentLine{"met", i.Code + ", " + string(i.Quantity), "due " + i.Due}
		if i.Overdue != nil || v.overdueNow(i.Instrument) {
			line.Icon, line.Detail = "look", i.Due+", overdue"
		} else if i.Coarse != nil {
			line.Icon, line.Detail = "look", "less sure than needed"
		}
		out = append(out, line)
	}
	return out
}
