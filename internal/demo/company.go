package demo

import "settlemark/internal/commissioning"

// The company. Places, people, lots and serials are made up.

const (
	works   = "Brackenhill Works"
	harbour = "Tansy Harbour Works"
)

var sites = []commissioning.Site{
	{Name: works, Address: "Brackenhill Preserves, 4 Orchard Row, Brackenhill", TimeZone: "Europe/Dublin", Paper: "A4", Demo: true},
	{Name: harbour, Address: "Brackenhill Preserves, 19 Cannery Wharf, Tansy Harbour", TimeZone: "America/Halifax", Paper: "Letter", Demo: true},
}

// places are lines and benches by site.
type place struct{ site, name string }

var lines = []place{
	{works, "Line 1 jars"},
	{works, "Line 2 bottles"},
	{works, "Line 3 sachets"},
	{harbour, "Line 4 jars"},
	{harbour, "Line 5 pouches"},
}

var benches = []place{
	{works, "Bench 1"},
	{works, "Bench 2"},
	{harbour, "Bench 3"},
	{harbour, "Wash bay"},
}

var fluids = []commissioning.Fluid{
	{Code: "K-20", Name: "Black ink for glass and film", Position: commissioning.Ink, Base: "ketone"},
	{Code: "K-20M", Name: "Make-up for K-20", Position: commissioning.MakeUp, Base: "ketone", Figures: butanone},
	{Code: "E-11", Name: "Black ink for pouches", Position: commissioning.Ink, Base: "ethanol"},
	{Code: "E-11M", Name: "Make-up for E-11", Position: commissioning.MakeUp, Base: "ethanol", Figures: ethanol},
}

// units by tag, with their line.
var units = []struct{ tag, line, serial, ink string }{
	{"BH-01", "Line 1 jars", "70 1184", "K-20"},
	{"BH-02", "Line 1 jars", "70 1185", "K-20"},
	{"BH-03", "Line 1 jars", "70 1203", "K-20"},
	{"BH-04", "Line 2 bottles", "70 1207", "K-20"},
	{"BH-05", "Line 2 bottles", "70 1240", "K-20"},
	{"BH-06", "Line 2 bottles", "70 1241", "K-20"},
	{"BH-07", "Line 3 sachets", "71 0033", "E-11"},
	{"BH-08", "Line 4 jars", "71 0052", "K-20"},
	{"BH-09", "Line 4 jars", "73 0007", "K-20"},
	{"BH-10", "Line 4 jars", "71 0058", "K-20"},
	{"BH-11", "Line 5 pouches", "71 0061", "E-11"},
	{"BH-12", "Line 5 pouches", "71 0064", "E-11"},
}

// The people, by login. Two of them may release on each site, so that four
// eyes are always to be had; one is engineer and supervisor on the same site,
// and is refused on work of his own.
const (
	marit = "marit"
	yusuf = "yusuf"
	anwen = "anwen"
	keiko = "keiko"
	luca  = "luca"
)

// duty is a role at a site; every site when site is "".
type duty struct {
	role commissioning.Role
	site string
}

var people = []struct {
	login, name, part string
	duties            []duty
}{
	{marit, "Marit Osei", "engineer on both sites", []duty{{commissioning.Engineer, works}, {commissioning.Engineer, harbour}}},
	{yusuf, "Yusuf Tremaine", "supervisor on both sites, engineer at " + harbour, []duty{
		{commissioning.Supervisor, works}, {commissioning.Supervisor, harbour}, {commissioning.Engineer, harbour},
	}},
	{anwen, "Anwen Dhillon", "supervisor on both sites", []duty{{commissioning.Supervisor, works}, {commissioning.Supervisor, harbour}}},
	{keiko, "Keiko Brandão", "quality", []duty{{commissioning.Quality, ""}}},
	{luca, "Luca Pennefather", "administrator", []duty{{commissioning.Administrator, ""}}},
}

// password is everybody's, and so is the seed of the authenticator app. Both are
// shown to everybody and good for nothing else.
const password = "jam jars of july" //nolint:gosec // made up, shown to everybody who starts the demo

var appSeed = []byte("brackenhill preserve")
