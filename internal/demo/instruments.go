package demo

import (
	"settlemark/internal/commissioning"
	"settlemark/internal/measure"
)

// instruments by site, with the days from now to the end of their calibration.
var instruments = []struct {
	site string
	days int
	as   commissioning.Instrument
}{
	{works, 140, commissioning.Instrument{
		Code: "V-12", Name: "Bench viscometer", Serial: "4410 07", Quantity: measure.Viscosity, Uncertainty: "2", Unit: commissioning.PercentOfValue, K: "2",
	}},
	{works, -9, commissioning.Instrument{
		Code: "T-03", Name: "Probe thermometer", Serial: "4410 31", Quantity: measure.Temperature, Uncertainty: "0.3", Unit: "K", K: "2",
	}},
	{harbour, 61, commissioning.Instrument{
		Code: "P-08", Name: "Reference gauge", Serial: "4477 02", Quantity: measure.Pressure, Uncertainty: "1.5", Unit: "kPa", K: "2",
	}},
}
