package e2e_test

import (
	"strings"
)

// What people do, in their words.

func (b *tab) signIn(login, password string) {
	b.t.Helper()
	b.open("/sign-in")
	b.types("Login", login)
	b.types("Password", password)
	b.types("Code from your authenticator app", b.app.code(b.t, login))
	b.taps("Sign in")
	if strings.HasPrefix(b.path(), "/sign-in") {
		b.t.Fatalf("%s is not let in:\n%s", login, b.text())
	}
}

// becomesAdministrator uses the code that the program printed.
func (b *tab) becomesAdministrator(code, name, login string) {
	b.t.Helper()
	b.open("/setup")
	b.types("One-time code", code)
	b.types("Your name", name)
	b.types("Login", login)
	b.types("Password", password)
	b.taps("Become administrator")
	b.enrols(login)
}

// invites adds somebody with a role at every site and gives the one-time code.
func (b *tab) invites(name, login, role string) string {
	b.t.Helper()
	b.open("/people")
	b.types("Name, as it is to be printed", name)
	b.types("Login", login)
	b.touches(role + " > every site")
	b.proves("ada") // who is administrator in every story
	b.taps("Add and make a one-time code")
	b.sees("One-time code for "+name, "shown only now")
	return b.reads(".code-once")
}

// accepts sets a password with a one-time code, and then the second factor.
func (b *tab) accepts(code, login string) {
	b.t.Helper()
	b.open("/invite")
	b.types("One-time code", code)
	b.types("Password", password)
	b.taps("Set password and sign in")
	b.enrols(login)
}

// sets adds a line to a register: label, text, label, text.
func (b *tab) sets(register, save string, fields ...string) {
	b.t.Helper()
	b.open(register)
	for i := 0; i+1 < len(fields); i += 2 {
		if strings.HasPrefix(fields[i], "? ") {
			b.chooses(strings.TrimPrefix(fields[i], "? "), fields[i+1])
			continue
		}
		b.types(fields[i], fields[i+1])
	}
	b.taps(save)
	b.sees(fields[1])
}

// drafts writes a new procedure, wrong at first, and submits it.
func (b *tab) drafts(key, title, yaml string) {
	b.t.Helper()
	b.open("/procedures")
	b.touches("Draft a new procedure")
	b.types("Title", title)
	b.types("Key", key)
	b.taps("Begin the draft")
	b.sees("Draft: " + title)
	b.taps("YAML")
	b.types("The text", strings.Replace(yaml, "soak: 20s", "soak: soon", 1))
	b.taps("Save the text")
	b.sees("1 thing to correct", "gates.hold.soak: expected a duration")
	b.taps("Form")
	b.taps("Change : Hold gate")
	b.types("Soak: without a break for", "20s")
	b.taps("Save")
	b.doesNotSee("to correct")
	b.taps("Preview")
	b.sees("Make safe", "Section 1 of")
	b.taps("Submit")
	b.types("Reason for the change", "The plant had none")
	b.taps("Submit for approval")
	b.sees("Not approved", "The plant had none")
}

// approves approves a revision after reading it.
func (b *tab) approves(login, title string) {
	b.t.Helper()
	b.open("/procedures")
	b.taps(title)
	b.sees("Approve this revision")
	b.proves(login)
	b.taps("Approve revision 1")
	b.doesNotSee("Approve this revision")
}

// startsRun opens a run at a unit and gives the run's id.
func (b *tab) startsRun(unit, procedure string) string {
	b.t.Helper()
	b.open("/runs/new")
	b.types("Unit, by its tag", unit)
	b.chooses("Procedure", procedure)
	b.taps("Start the run")
	b.sees("Section 1 of")
	id, _, _ := strings.Cut(strings.TrimPrefix(b.path(), "/runs/"), "?")
	return id
}

// connects answers the line of a container by what stands on its label.
func (b *tab) connects(code, lot string) {
	b.t.Helper()
	b.types("Code on the container", code)
	b.types("The code again", code)
	b.types("Lot", lot)
	b.chooses("Use by", "2031-03-31")
	b.types("Level, in %", "85")
	b.taps("Save the container")
}

// typesReading types a reading at the pad: with the keys that the script draws,
// or into the plain field.
func (b *tab) typesReading(run, value string) {
	b.t.Helper()
	b.open("/runs/" + run)
	b.taps("Type a reading")
	if b.scripts {
		for _, key := range strings.Split(value, "") {
			b.touches("Number keys > " + map[bool]string{true: "decimal point", false: key}[key == "."])
		}
	} else {
		b.types("Ink viscosity, in", value)
	}
	b.taps("Save")
	if _, err := b.tries(0, "sees", "Yes, "+value); err == nil {
		b.taps("Yes, " + value)
	}
	b.sees("Saved.", value)
}

// typesReady records that the unit shows itself ready.
func (b *tab) typesReady(run string) {
	b.t.Helper()
	b.open("/runs/" + run + "/reading?quantity=ready")
	b.touches("Yes")
	b.taps("Save")
	b.sees("Saved.")
}

func (b *tab) addsPhoto(label, file string) {
	b.t.Helper()
	b.attaches(label, file)
	b.taps("Save the photo")
}

func (b *tab) submits(login, run, unit string) {
	b.t.Helper()
	b.open("/runs/" + run + "/submit")
	b.proves(login)
	b.taps("Sign and submit " + unit)
}
