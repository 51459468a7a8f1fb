package words

// Clause is one row of the clause map: what a rule asks, in our own words, and
// where it is met. Duty is set where it is the site's own to meet.
type Clause struct {
	Number string
	Asks   Text
	Met    Text   // how, in one line
	Screen string // address of the page that shows it, "" for none
	Test   string // file and name of the test, "" for none
	Duty   Text   // what the site must do itself
}

// Rule is a regulation or standard with its clauses.
type Rule struct {
	Name    string
	Clauses []Clause
}

// ClausesNote stands above the map wherever it is shown.
var ClausesNote = Say("Settlemark is built to support these rules. Whether your use of it meets them is for you to validate; " +
	"the wording below is a summary of ours, not the text. Read the text that is in force.")

// Rules is the clause map. A test holds every screen and every test named here
// to what exists.
var Rules = []Rule{part11, annex11, iso9001, iso17025, alcoa}

var part11 = Rule{"21 CFR Part 11", []Clause{
	{"11.10(a)", Say("The system is validated, and shows records that are invalid or altered."), Say("A record that was changed under the app says so on each of its pages; the log finds every change of stored evidence."), "/runs/{run}", "internal/act/tamper_test.go TestFindsEveryChange", Say("Validate the installation for your use.")},
	{"11.10(b)", Say("Complete copies, for people and for machines."), Say("PDF with its evidence inside; logbook and audit trail as CSV and JSON."), "/runs/{run}/logbook.json", "web/demo_test.go TestDemo", Text{}},
	{"11.10(c)", Say("Records stay retrievable for as long as they are kept."), Say("A certificate holds all that it takes to check it, without a server."), "/certificates/{number}.pdf", "cmd/settlemark/verify_test.go TestVerifyWithoutNetwork", Say("Set how long you keep records, and store backups that long.")},
	{"11.10(d)", Say("Only people who are authorised get in."), Say("Every page but a few needs a sign-in, by password and code, by passkey, or through the site's own provider for who linked their account; each asks the permission table."), "/sign-in", "web/sign_in_test.go TestSignIn", Text{}},
	{"11.10(e)", Say("An audit trail made by the computer, with times, that hides no earlier value."), Say("Entries are appended, never changed; a correction strikes and keeps; registers keep old and new, but for a name that was erased."), "/trail", "web/trail_test.go TestTrail", Text{}},
	{"11.10(f)", Say("Steps follow the order that is allowed."), Say("States of a run, and gates that open by rule."), "/runs/{run}", "internal/act/permission_test.go TestPermissionTable", Text{}},
	{"11.10(g)", Say("Only who has the authority uses, signs, alters or performs."), Say("One table of action, role, state and relation, asked by pages, acts and database."), "/people", "web/demo_test.go TestDemo", Text{}},
	{"11.10(h)", Say("The source of data is checked where it matters."), Say("A logger reports for its own units and only what a unit reports; readings say how they came."), "/runs/{run}/logbook", "internal/act/scope_test.go TestScope", Text{}},
	{"11.10(i)", Say("People are trained for what they do."), Text{}, "", "", Say("Train people, and keep the proof.")},
	{"11.10(j)", Say("A written policy holds people to what they sign."), Text{}, "", "", Say("Write the policy, and have it signed.")},
	{"11.10(k)", Say("System documentation is controlled, with its history."), Say("Procedure revisions carry author, reason and approval by another; a run keeps the revision that it began on."), "/procedures", "internal/act/drafts_test.go TestDrafts", Say("Control your own instructions the same way.")},
	{"11.50", Say("A signature shows printed name, date and time, and meaning, in every form that people read."), Say("All three with zone, role, method and head on every page, print and export."), "/runs/{run}/review", "web/demo_test.go TestDemo", Text{}},
	{"11.70", Say("A signature can't be cut out, copied or moved to another record."), Say("It is bound to the head of its own run's chain and to a digest of every row under it."), "/runs/{run}/review", "internal/act/changed_test.go TestChanged", Text{}},
	{"11.100", Say("One signature, one person, never given to another; identity is checked first."), Say("Persons are never removed, nor a login given twice."), "/people", "db/rights_test.go TestRights", Say("Check identity before you add a person; certify to the agency where you must.")},
	{"11.200", Say("Two components at a signature; misuse would take two people."), Say("Every signature asks for a passkey, or password and code, again; what an administrator's one-time code leaves in force is asked for."), "/runs/{run}/submit", "internal/act/factors_test.go TestReplacement", Text{}},
	{"11.300", Say("Codes and passwords are unique, revised, withdrawn when lost; misuse is noticed."), Say("Logins are unique, access ends at once, guessing is slowed down, five wrong proofs end the session and are logged."), "/people/{person}", "internal/act/identity_test.go TestSignIn", Say("Review accounts at intervals; watch the log.")},
}}

var annex11 = Rule{"EU GMP Annex 11 (2011)", []Clause{
	{"6", Say("Critical data typed by hand get a second check."), Say("The print sample is read by a second person who has not seen the first reading; odd values are asked about."), "/runs/{run}/review", "internal/act/review_test.go TestBlind", Text{}},
	{"7", Say("Data are safe and can be read; backup and restore are tested."), Say("Storage answers after the commit; a killed server loses nothing it acknowledged."), "", "e2e/faults_test.go TestFaults", Say("Keep backups elsewhere, and restore one at intervals.")},
	{"8", Say("Clear printouts, which show whether data changed since they were entered."), Say("Struck values stay readable in print, marks say late, typed and corrected."), "/runs/{run}/logbook", "internal/certificate/compose_test.go TestEveryFirstValueIsStillReadable", Text{}},
	{"9", Say("Changes and deletions are recorded with their reason, and the trail is reviewed."), Say("No deletion; a correction needs a reason; the trail is read by unit, run, person, kind, day and word."), "/trail", "internal/act/trail_test.go TestTrail", Say("Review the trail at intervals that you set.")},
	{"12", Say("Access is controlled, and who was given it is recorded."), Say("Roles per site; each change of a role, with what was before, is in the trail."), "/people", "internal/act/trail_test.go TestTrailOfRegisters", Say("Lock rooms and machines.")},
	{"14", Say("Electronic signatures bind as by hand, are linked for ever, and carry date and time."), Say("Head and digest of the record in each signature; a change under it shows."), "/certificates/{number}", "internal/act/changed_test.go TestNothingIsSignedOnTop", Say("Say inside the company that they bind.")},
	{"15", Say("Only the authorised release, identified and signed."), Say("A supervisor of the site who took no part, proven again in the same transaction."), "/runs/{run}/review", "internal/act/races_test.go TestRaces", Text{}},
	{"17", Say("Archived data stay readable, also after the system changed."), Say("Certificates of every version are kept as vectors and checked by each later one."), "/verify", "internal/certificate/vectors_test.go TestVectors", Say("Check your archive at intervals.")},
}}

var iso9001 = Rule{"ISO 9001:2015", []Clause{
	{"8.6", Say("Nothing is released before what was planned is done and found good, or the authority decided; evidence and the releasing person are kept."), Say("The rules judge the evidence again at the release; dispositions carry name and reason."), "/certificates/{number}", "internal/act/release_test.go TestRelease", Say("Plan what must be done: the procedure is yours.")},
}}

var iso17025 = Rule{"ISO/IEC 17025:2017", []Clause{
	{"7.8", Say("A report names itself, its issuer, the item, the method, dates, results with units, and the decision rule of each statement."), Say("Title, number, page x of y, end mark, issuer and place, unit, procedure and revision, dates with zone, limits and decision rule, “relates only to the unit named”."), "/certificates/{number}.pdf", "internal/certificate/render_test.go TestCertificateReadsAsItDid", Say("Choose limits, decision rule and instruments; state uncertainty.")},
}}

var alcoa = Rule{"ALCOA+ (PIC/S PI 041)", []Clause{
	{"Attributable", Say("Who, or which device, and when; for corrections too."), Say("Author, device, way and four instants in each entry."), "/trail", "web/trail_test.go TestTrail", Text{}},
	{"Legible", Say("Readable and unambiguous."), Say("Sentences with units, names as printed, control characters shown."), "/runs/{run}/logbook", "internal/certificate/printable_test.go TestPrintable", Text{}},
	{"Contemporaneous", Say("Recorded as it happens."), Say("Observed, captured and received kept apart; late ones are marked."), "/runs/{run}/logbook", "internal/rules/faults_test.go TestLate", Text{}},
	{"Original", Say("The first capture is kept."), Say("The body of an entry is stored as it came and never written anew."), "/runs/{run}/logbook.json", "internal/ledger/chain_test.go TestBody", Text{}},
	{"Accurate", Say("Truthful and checked."), Say("Exact decimals, plausibility asked, a second reading by other eyes."), "/runs/{run}/review", "internal/rules/viscosity_test.go TestNumbers", Text{}},
	{"Complete, consistent, enduring, available", Say("Nothing missing, in order, for as long as needed, when asked for."), Say("Hash chain, log over all runs, self-contained certificates, exports."), "/certificates", "internal/act/tamper_test.go TestFindsWholeForgeries", Say("Keep checkpoints outside of the database.")},
}}
