package commissioning

import (
	"maps"
	"slices"

	"settlemark/internal/problem"
	"settlemark/internal/words"
)

// Action is something that a person may do or not.
type Action string

const (
	SignedIn         Action = "do what everybody does who is signed in"
	OpenRun          Action = "open a run"
	AddEntries       Action = "add entries"
	ReportFault      Action = "report a fault or add a note"
	TakePen          Action = "take the pen of a run"
	AbandonRun       Action = "abandon a run"
	SubmitRun        Action = "submit a run"
	RuleOnEntries    Action = "rule on entries"
	ReadSample       Action = "read the print sample a second time"
	ReturnRun        Action = "return a run"
	CountersignRun   Action = "countersign a run"
	ReadRuns         Action = "read runs and certificates"
	SeeBoard         Action = "see the board"
	ReadTrail        Action = "read the audit trail"
	ReadSetAside     Action = "read what tablets sent and no run took"
	Withdraw         Action = "withdraw a certificate"
	RecallLot        Action = "recall a fluid lot"
	RecordUnitEvent  Action = "record what happened to a unit"
	ReadProcedures   Action = "read procedures"
	DraftProcedure   Action = "draft a procedure revision"
	ApproveProcedure Action = "approve a procedure revision"
	RetireProcedure  Action = "retire a procedure"
	ReadRegisters    Action = "read units, fluids, lines, benches and instruments"
	ManageRegisters  Action = "change units, fluids, lines, benches and instruments"
	ProposeChange    Action = "propose a change of a register"
	ManageSites      Action = "change sites"
	ManagePeople     Action = "change people and roles"
	ManageTokens     Action = "make and end the tokens of gateways"
	ManageScreens    Action = "make and end the screens of halls"
	TryWebhooks      Action = "try the receivers of webhooks"
)

// permission is a row of the table action × role; runActions adds state and
// relation for what is done to a run.
type permission struct {
	roles    []Role
	sentence words.Text // said when it is refused
}

// permissions is the table that handlers, templates and tests share.
var permissions = map[Action]permission{
	OpenRun:          {[]Role{Engineer}, words.Say("Only an engineer of this site may open a run. Ask one to do it.")},
	ReportFault:      {[]Role{Engineer}, words.Say("Only an engineer of this site may report a fault or add a note. Ask the engineer who holds the pen.")},
	TakePen:          {[]Role{Engineer}, words.Say("Only an engineer of this site may take the pen. Ask one to do it.")},
	AbandonRun:       {[]Role{Engineer, Supervisor}, words.Say("Only the holder of the pen or a supervisor of this site may abandon a run. Ask one of them.")},
	ReadSample:       {[]Role{Supervisor}, words.Say("Only a supervisor of this site reads the print sample a second time. Ask one to open this run.")},
	AddEntries:       {[]Role{Engineer}, words.Say("Only an engineer of this site may add entries. Ask the engineer who holds the pen.")},
	SubmitRun:        {[]Role{Engineer}, words.Say("Only the engineer who holds the pen may submit a run. Ask them to do it.")},
	RuleOnEntries:    {[]Role{Supervisor}, words.Say("Only a supervisor of this site may rule on an entry. Ask one to open this run.")},
	ReturnRun:        {[]Role{Supervisor}, words.Say("Only a supervisor of this site may return a run. Ask one to open this run.")},
	CountersignRun:   {[]Role{Supervisor}, words.Say("Only a supervisor of this site may countersign. Ask one to open this run.")},
	ReadRuns:         {[]Role{Engineer, Supervisor, Quality}, words.Say("Runs and certificates are read by engineers, supervisors and quality. Ask an administrator if you need one of these roles.")},
	SeeBoard:         {[]Role{Supervisor, Quality}, words.Say("The board is for supervisors and quality. Your own runs are under My runs.")},
	ReadTrail:        {Roles, words.Say("You hold no role yet. Ask an administrator to give you one.")},
	ReadSetAside:     {[]Role{Quality}, words.Say("Only quality reads what was set aside. Tell quality the run and what you wrote.")},
	Withdraw:         {[]Role{Quality}, words.Say("Only quality may withdraw a certificate. Tell quality the number and the reason.")},
	RecallLot:        {[]Role{Quality}, words.Say("Only quality may search for a lot and recall it. Tell quality the fluid and the lot.")},
	RecordUnitEvent:  {[]Role{Engineer, Supervisor}, words.Say("Only an engineer or a supervisor of this site may record what happened to a unit. Ask one of them.")},
	ReadProcedures:   {[]Role{Engineer, Supervisor, Quality}, words.Say("Procedures are read by engineers, supervisors and quality. Ask an administrator if you need one of these roles.")},
	ApproveProcedure: {[]Role{Quality}, words.Say("Only quality may approve a procedure revision. Ask somebody in quality who did not write it.")},
	DraftProcedure:   {[]Role{Engineer, Supervisor, Quality}, words.Say("Procedures are drafted by engineers, supervisors and quality. Tell one of them what should be changed.")},
	RetireProcedure:  {[]Role{Quality}, words.Say("Only quality may retire a procedure. Tell quality which one and why.")},
	ReadRegisters:    {Roles, words.Say("You hold no role yet. Ask an administrator to give you one.")},
	ManageRegisters:  {[]Role{Supervisor, Administrator}, words.Say("Only a supervisor of this site or an administrator may change this. Ask one of them.")},
	ProposeChange:    {[]Role{Engineer}, words.Say("Engineers of this site propose changes. You may make the change yourself, or ask one of them.")},
	ManageSites:      {[]Role{Administrator}, words.Say("Only an administrator may change sites. Ask one to do it.")},
	ManagePeople:     {[]Role{Administrator}, words.Say("Only an administrator may see and change people and roles. Ask one to do it.")},
	ManageTokens:     {[]Role{Administrator}, words.Say("Only an administrator may make and end the tokens of gateways. Ask one to do it.")},
	ManageScreens:    {[]Role{Administrator}, words.Say("Only an administrator may make and end the screens of halls. Ask one to do it.")},
	TryWebhooks:      {[]Role{Administrator}, words.Say("Only an administrator may try the receivers of webhooks. Ask one to do it.")},
}

// Relation is what a person has to do with a run.
type Relation string

const (
	Anyhow        Relation = ""
	WithPen       Relation = "holds the pen"
	WithPenOrOver Relation = "holds the pen, or is a supervisor"
	WithoutPart   Relation = "took no part"
	WithoutRuling Relation = "ruled on nothing"
)

// RunRule is what the table says of an action on a run, beside the role.
type RunRule struct {
	States   []State // none: every state
	Relation Relation
}

// runActions is the rest of the table: in which states, and for whom.
var runActions = map[Action]RunRule{
	ReadRuns:       {},
	AddEntries:     {[]State{Open}, WithPen},
	ReportFault:    {[]State{Open}, WithoutRuling},
	TakePen:        {[]State{Open}, WithoutRuling},
	AbandonRun:     {[]State{Open}, WithPenOrOver},
	SubmitRun:      {[]State{Open}, WithPen},
	RuleOnEntries:  {[]State{Open, Submitted}, WithoutPart},
	ReadSample:     {[]State{Submitted}, WithoutPart},
	ReturnRun:      {[]State{Submitted}, WithoutPart},
	CountersignRun: {[]State{Submitted}, WithoutPart},
}

// RunRules gives the table of what is done to runs.
func RunRules() map[Action]RunRule { return maps.Clone(runActions) }

// Situation is a person before a run.
type Situation struct {
	Person   Person
	Run      Run
	TookPart bool // opened it, recorded in it, took its pen or submitted it
	Ruled    bool // on an entry of it
}

// On gives nil when the table allows the action in this situation. A run that
// the person may not read is NotFound, one in another state a Conflict, the rest
// Forbidden.
func (a Action) On(s Situation) error {
	rule, known := runActions[a]
	switch {
	case !known:
		return problem.New(problem.Forbidden, "Nobody may do that to a run.")
	case !s.Person.Reads(s.Run.Site):
		return problem.New(problem.NotFound, "There is no such run.")
	case len(rule.States) > 0 && !slices.Contains(rule.States, s.Run.State):
		return problem.New(problem.Conflict, "Run %s is %s, so that can't be done now. Load the page again.", s.Run.Number, s.Run.State.Name())
	}
	if err := s.Person.May(a, s.Run.Site); err != nil {
		return err
	}
	return rule.Relation.refuse(s)
}

func (r Relation) refuse(s Situation) error {
	holds, over := s.Run.Pen == s.Person.ID, s.Person.Has(Supervisor, s.Run.Site)
	switch {
	case r == WithPen && !holds:
		return problem.New(problem.Forbidden, "Somebody else holds the pen of this run. Take the pen first; both of you are named.")
	case r == WithPenOrOver && !holds && !over:
		return problem.New(problem.Forbidden, "Only the holder of the pen or a supervisor of this site may abandon a run. Ask one of them.")
	case r == WithoutPart && s.TookPart:
		return problem.New(problem.Forbidden, "You worked on this run. Someone else must do that.")
	case (r == WithoutRuling || r == WithPen) && s.Ruled:
		return problem.New(problem.Forbidden, "You ruled on this run. Someone else must work on it.")
	}
	return nil
}

// May gives nil when one of the person's roles for the site allows the action,
// else a refusal with its sentence. Quality and administrators act everywhere.
func (p Person) May(a Action, site SiteID) error {
	allowed := permissions[a]
	if a == SignedIn {
		return nil
	}
	for _, role := range allowed.roles {
		everywhere := role == Quality || role == Administrator
		if p.Has(role, site) || everywhere && p.Holds(role) {
			return nil
		}
	}
	return problem.New(problem.Forbidden, "%s", allowed.sentence)
}

// MayAnywhere gives nil when the person may do it at one site at least.
func (p Person) MayAnywhere(a Action) error {
	allowed := permissions[a]
	if a == SignedIn {
		return nil
	}
	for _, role := range allowed.roles {
		if p.Holds(role) {
			return nil
		}
	}
	return problem.New(problem.Forbidden, "%s", allowed.sentence)
}
