package e2e_test

import (
	"fmt"
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"
)

// TestWholeJob plays the job from an empty database to a certificate in
// quality's hands, on a tablet with touch.
func TestWholeJob(t *testing.T) {
	a := startApp(t)
	company := found(t, a)
	for _, way := range []struct {
		name, unit, animal string
		scripts            bool
	}{{"with scripts", "U-1", "QUAGGA", true}, {"without scripts", "U-2", "NUMBAT", false}} {
		t.Run(way.name, func(t *testing.T) {
			t.Parallel()
			j := job{
				t: t, app: a, unit: way.unit, animal: way.animal, engineer: company.tablet(t, a, "nela", way.scripts), supervisor: company.tablet(t, a, "osric", way.scripts),
			}
			j.flushes()
			j.starts()
			j.settles()
			j.holds()
			j.samplesAndPutsBack()
			j.submits()
			j.cannotCountersign()
			j.isReturned()
			j.submitsAgain()
			t.Run("nothing tells the supervisor what the engineer read", func(t *testing.T) {
				tellsNothing(t, a, j.run, way.animal)
			})
			number := j.countersigns()
			t.Run("quality pulls the certificate", func(t *testing.T) {
				quality := company.tablet(t, a, "quill", way.scripts)
				quality.open("/certificates")
				quality.taps(number)
				quality.sees("Certificate "+number, j.unit, "Nela Voss", "Osric Tamm")
				checkPDF(t, a, number, j.unit)
			})
		})
	}
}

// company is an installation with its people in it.
type company struct{}

// found fills an empty installation through its pages: people, site, line,
// bench, fluids, units, and a procedure that an engineer drafts and quality approves.
func found(t *testing.T, a *app) company {
	t.Helper()
	admin := takeTablet(t, a, true)
	admin.becomesAdministrator(a.said(t, `one-time code (\S+)`), "Ada Lintott", "ada")
	admin.sets("/sites", "Save the site", "Name", site, "Address", "Plumley, 1 Kiln Lane", "Time zone", "Europe/Dublin", "? Paper", "A4")
	admin.sets("/lines", "Save the line", "Name of the line", "Line 7", "? Site", site)
	admin.sets("/benches", "Save the bench", "Name of the bench", "Bench 4", "? Site", site)
	admin.sets("/fluids", "Save the fluid", "Code", "K-77", "Name", "Black ink", "? Goes in as", "Ink", "Base", "ketone")
	admin.sets("/fluids", "Save the fluid", "Code", "K-77M", "Name", "Make-up for K-77", "? Goes in as", "Make-up", "Base", "ketone")
	for _, tag := range []string{"U-1", "U-2"} {
		admin.sets("/units", "Save the unit", "Tag", tag, "? Line", "Line 7", "Serial number", "70 55"+tag, "? Ink that", "K-77", "? Make-up that", "K-77M")
	}
	for _, somebody := range []struct{ name, login, role string }{
		{"Nela Voss", "nela", "Engineer"}, {"Osric Tamm", "osric", "Supervisor"}, {"Quill Addo", "quill", "Quality"},
	} {
		code := admin.invites(somebody.name, somebody.login, somebody.role)
		tablet := takeTablet(t, a, true)
		tablet.accepts(code, somebody.login)
		switch somebody.login {
		case "nela":
			tablet.drafts("short-hold", "Return to service with a short hold", shortHold)
		case "quill":
			tablet.approves("quill", "Return to service with a short hold")
		}
	}
	return company{}
}

// tablet gives somebody a tablet and signs them in.
func (company) tablet(t *testing.T, a *app, login string, scripts bool) *tab {
	t.Helper()
	b := takeTablet(t, a, scripts)
	b.signIn(login, password)
	return b
}

// job is one run with the two people who sign for it.
type job struct {
	t                    *testing.T
	app                  *app
	unit, run            string
	animal               string // stands in the code that the engineer reads off the print
	engineer, supervisor *tab
}

func (j *job) flushes() {
	e := j.engineer
	j.run = e.startsRun(j.unit, "Return to service with a short hold")
	e.sees("Make safe", "Before you start")
	e.taps("Done as written")
	e.types("As you read it", "W-2211")
	e.taps("Save the text")
	e.types("Volume drained, in mL", "240")
	e.taps("Save the volume")
	e.touches("clear")
	e.taps("Save the answer")
	e.touches("Does not apply")
	e.types("Why it does not apply", "The first flush came back clear")
	e.taps("Save: does not apply")
	e.connects("K-77", "INK-2604")
	e.connects("K-77M", "MUP-2604")
	e.types("Ink temperature", "22.4")
	e.taps("Save the value")
}

// starts is the first start, with the fault that trapped air brings.
func (j *job) starts() {
	e := j.engineer
	e.sees("First start", "Faults at the start")
	e.taps("The jet was started")
	e.open("/runs/" + j.run)
	e.taps("Report a fault")
	e.touches("Pressure")
	e.types("What you saw", "Low pressure, then off")
	e.taps("Save the fault")
	e.sees("Pressure fault, open since")
	e.types("What cleared it", "Vented the line")
	e.taps("It is cleared")
	e.taps("The jet was started")
	e.taps("Back to the run")
}

// settles types readings until three in a row are in tolerance, then one that
// is not.
func (j *job) settles() {
	e := j.engineer
	e.typesReady(j.run)
	for _, value := range []string{"5.60", "5.10", "4.71", "4.62", "4.58"} {
		e.typesReading(j.run, value)
	}
	e.typesReady(j.run)
	e.typesReading(j.run, "4.55")
	e.typesReading(j.run, "3.90") // breaks the hold
	e.sees("3.90")
}

// holds types readings until the hold has completed.
func (j *job) holds() {
	e := j.engineer
	for i := range 20 {
		e.typesReady(j.run)
		e.typesReading(j.run, fmt.Sprintf("4.5%d", i%10))
		if j.gate("hold") == "pass" {
			return
		}
		time.Sleep(3 * time.Second)
	}
	j.t.Fatalf("the hold did not complete: %s", e.text())
}

// gate is the verdict of a gate by the exported logbook.
func (j *job) gate(name string) string {
	j.t.Helper()
	v := visitAs(j.t, j.app, "nela")
	return evaluated(j.t, v.reads("/runs/"+j.run+"/logbook.json").body).gate(name)
}

// samplesAndPutsBack reads the print wrong, then right: the supervisor must be
// told neither.
func (j *job) samplesAndPutsBack() {
	e, slippedCode := j.engineer, j.animal+"-27 L7"
	e.open("/runs/" + j.run + "?section=6")
	e.addsPhoto("The whole code", photoFile(j.t, "sample.jpg"))
	e.types("Code", slippedCode)
	e.taps("Save the code")
	e.sees("Saved.", slippedCode)
	e.taps("Undo")
	e.types("Why it is wrong", "Read the 8 as a 7")
	e.touches("Put the right one in its place")
	e.ticks("Replace it by this")
	e.types("Right text", j.rightCode())
	e.taps("Strike it out")
	e.open("/runs/" + j.run + "?section=7")
	e.taps("Done as written")
	e.addsPhoto("Take the photo", photoFile(j.t, "connections.jpg"))
}

func (j *job) rightCode() string { return j.animal + "-28 L7" }

func (j *job) submits() {
	j.engineer.submits("nela", j.run, j.unit)
	j.engineer.open("/runs/" + j.run + "/submit")
	j.engineer.sees("There is nothing to sign here")
}

// cannotCountersign: the page offers it to nobody who worked on the run, and
// the server refuses who asks anyway.
func (j *job) cannotCountersign() {
	j.engineer.open("/runs/" + j.run + "/review")
	j.engineer.doesNotSee("Your password, again", "Keep this reading")
	v := visitAs(j.t, j.app, "nela")
	head := j.head()
	got := v.send("/runs/"+j.run+"/countersign", url.Values{"head": {head}, "nonce": {"01970000-0000-7000-8000-00000000" + strings.Repeat("0", 4)}, "password": {password}, "code": {j.app.code(j.t, "nela")}})
	if got.status != http.StatusForbidden && got.status != http.StatusConflict {
		j.t.Errorf("the engineer countersigns: %d %v", got.status, got.sentences())
	}
	if again := j.head(); again != head {
		j.t.Errorf("the record moved: %s, then %s", head, again)
	}
}

// head is the hash that a signer's page shows.
func (j *job) head() string {
	j.t.Helper()
	v := visitAs(j.t, j.app, "osric")
	return v.form("/runs/"+j.run+"/review", "form[action$=return]").values.Get("head")
}

func (j *job) isReturned() {
	s := j.supervisor
	s.open("/board")
	s.sees(j.unit)
	s.open("/runs/" + j.run + "/review")
	s.sees("Return, with a reason", "opens when you have read the sample")
	s.touches("Return, with a reason")
	s.types("What the engineer must do", "Look at the earth lead again")
	s.taps("Return the run")
	j.engineer.open("/runs/" + j.run)
	j.engineer.sees("Sent back", "Look at the earth lead again")
}

func (j *job) submitsAgain() {
	e := j.engineer
	e.open("/runs/" + j.run + "?section=7")
	e.touches("Earth lead on and tight")
	e.touches("Answer again")
	e.taps("Done as written")
	j.submits()
}

// countersigns reads the sample, unprimed, and releases the unit.
func (j *job) countersigns() string {
	s := j.supervisor
	s.open("/runs/" + j.run + "/review")
	s.doesNotSee(j.animal)
	s.types("Read the code off the sample", j.rightCode())
	s.taps("Keep this reading")
	s.sees("Both readings agree")
	s.proves("osric")
	s.taps("Countersign " + j.unit)
	s.sees("Certificate ")
	return strings.TrimPrefix(s.path(), "/certificates/")
}
