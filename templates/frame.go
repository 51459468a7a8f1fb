package templates

import (
	"time"

	"settlemark/internal/commissioning"
	"settlemark/internal/urls"
	"settlemark/internal/words"
)

// Frame is what stands around every screen. respond.Frame fills it in for the
// request; a screen sets Title, Here and, where it draws the whole height
// itself, Bare.
type Frame struct {
	Title   words.Text            // of the tab, without the product's name
	Here    Place                 // the item of the navigation that is current
	Person  *commissioning.Person // nil: nobody is signed in
	RP      string                // the site of the person's passkeys
	Site    commissioning.Site    // whose clock is shown
	Now     time.Time
	Demo    bool       // demo data: every page says so
	Weak    bool       // what is acknowledged may be lost: every page says so
	Trouble words.Text // what keeps the log from being sealed, for those who can see to it
	Light   string     // "glare" or ""
	Path    string     // where to come back to after a switch
	Scripts []string   // of this screen alone, by their names under static/
	Sheets  []string   // style sheets of this screen alone
	Bare    bool       // the screen draws its own top strip with Menu in it, and its own <main id="main">
}

// Place is one item of the navigation; its label stands there.
type Place string

const (
	MyRuns       Place = "My runs"
	OnTablet     Place = "On this tablet"
	StartRun     Place = "Start a run"
	Board        Place = "Board"
	Certificates Place = "Certificates"
	RecallLot    Place = "Recall a lot"
	Procedures   Place = "Procedures"
	Trail        Place = "Audit trail"
	Units        Place = "Units"
	Fluids       Place = "Fluids"
	Lines        Place = "Lines"
	Benches      Place = "Benches"
	Instruments  Place = "Instruments"
	Gateways     Place = "Gateways"
	Proposals    Place = "Proposals"
	Sites        Place = "Sites"
	HallScreens  Place = "Hall screens"
	People       Place = "People"
	Account      Place = "Account"
)

type navItem struct {
	place  Place
	label  words.Text
	url    string
	action commissioning.Action // shown to whoever may do this somewhere
}

var navigation = []navItem{
	{MyRuns, words.Say("My runs"), urls.RunsPattern, commissioning.OpenRun},
	{StartRun, words.Say("Start a run"), urls.RunStartPattern, commissioning.OpenRun},
	{OnTablet, words.Say("On this tablet"), urls.OfflinePattern, commissioning.OpenRun},
	{Board, words.Say("Board"), urls.BoardPattern, commissioning.SeeBoard},
	{Certificates, words.Say("Certificates"), urls.CertificatesPattern, commissioning.ReadRuns},
	{RecallLot, words.Say("Recall a lot"), urls.RecallPattern, commissioning.RecallLot},
	{Procedures, words.Say("Procedures"), urls.ProceduresPattern, commissioning.ReadProcedures},
	{Trail, words.Say("Audit trail"), urls.TrailPattern, commissioning.ReadTrail},
	{Units, words.Say("Units"), urls.UnitsPattern, commissioning.ReadRegisters},
	{Fluids, words.Say("Fluids"), urls.FluidsPattern, commissioning.ManageRegisters},
	{Lines, words.Say("Lines"), urls.LinesPattern, commissioning.ManageRegisters},
	{Benches, words.Say("Benches"), urls.BenchesPattern, commissioning.ManageRegisters},
	{Instruments, words.Say("Instruments"), urls.InstrumentsPattern, commissioning.ManageRegisters},
	{Gateways, words.Say("Gateways"), urls.GatewaysPattern, commissioning.ManageRegisters},
	{Proposals, words.Say("Proposals"), urls.ProposalsPattern, commissioning.ReadRegisters},
	{Sites, words.Say("Sites"), urls.SitesPattern, commissioning.ManageSites},
	{HallScreens, words.Say("Hall screens"), urls.HallScreensPattern, commissioning.ManageScreens},
	{People, words.Say("People"), urls.PeoplePattern, commissioning.ManagePeople},
}

func (f Frame) items() []navItem {
	var out []navItem
	for _, item := range navigation {
		if f.Person.MayAnywhere(item.action) == nil {
			out = append(out, item)
		}
	}
	return out
}

func (f Frame) personID() string {
	if f.Person == nil {
		return ""
	}
	return string(f.Person.ID)
}

func (f Frame) personName() string {
	if f.Person == nil {
		return ""
	}
	return f.Person.Name
}

func (f Frame) current(p Place) string {
	if f.Here == p {
		return "page"
	}
	return "false"
}

// otherLight is what the switch turns to.
func (f Frame) otherLight() (value string, label words.Text) {
	if f.Light == "glare" {
		return "", words.Say("Glare off")
	}
	return "glare", words.Say("Glare")
}
