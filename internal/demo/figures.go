package demo

import "settlemark/internal/commissioning"

// Figures of the pure solvents that the invented make-ups are based on. A site
// takes those of its own data sheets.

const (
	niosh   = "CDC NIOSH, IDLH documentation"
	perry   = "Perry's Chemical Engineers' Handbook, 8th ed., equations for the pure solvent"
	zone    = "IEC 60079-20-1:2010"
	ketone  = "butanone: "
	alcohol = "ethanol: "
)

var butanone = commissioning.Figures{
	commissioning.Density:    {Value: "0.799", Source: ketone + perry + ", 25 °C"},
	commissioning.MolarMass:  {Value: "72.1", Source: ketone + niosh},
	commissioning.LEL:        {Value: "1.5", Source: ketone + zone},
	commissioning.Limit:      {Value: "200", Source: ketone + niosh + " (REL)"},
	commissioning.ShortLimit: {Value: "300", Source: ketone + niosh + " (STEL)"},
	commissioning.Thickness:  {Value: "0.395", Source: ketone + perry},
}

var ethanol = commissioning.Figures{
	commissioning.Density:   {Value: "0.786", Source: alcohol + perry + ", 25 °C"},
	commissioning.MolarMass: {Value: "46.1", Source: alcohol + niosh},
	commissioning.LEL:       {Value: "3.1", Source: alcohol + zone},
	commissioning.Limit:     {Value: "1000", Source: alcohol + niosh + " (REL)"},
	commissioning.Thickness: {Value: "1.08", Source: alcohol + perry},
}
