package commissioning

import "settlemark/internal/problem"

// Action is something that a person may do or not, by role. The state of a run
// and who worked on it are asked elsewhere: Run.Accepts, Run.CountersignableBy.
type Action string

const (
	OpenRun          Action = "open a run"
	AddEntries       Action = "add entries"
	SubmitRun        Action = "submit a run"
	RuleOnEntries    Action = "rule on entries"
	ReturnRun        Action = "return a run"
	CountersignRun   Action = "countersign a run"
	ReadRuns         Action = "read runs and certificates"
	SeeBoard         Action = "see the board"
	ReadTrail        Action = "read the audit trail"
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
)

type permission struct {
	roles    []Role
	sentence string // said when it is refused
}

// permissions is the table that handlers, templates and tests share.
var permissions = map[Action]permission{
	OpenRun:          {[]Role{Engineer}, "Only an engineer of this site may open a run. Ask one to do it."},
	AddEntries:       {[]Role{Engineer}, "Only an engineer of this site may add entries. Ask the engineer who holds the pen."},
	SubmitRun:        {[]Role{Engineer}, "Only the engineer who holds the pen may submit a run. Ask them to do it."},
	RuleOnEntries:    {[]Role{Supervisor}, "Only a supervisor of this site may rule on an entry. Ask one to open this run."},
	ReturnRun:        {[]Role{Supervisor}, "Only a supervisor of this site may return a run. Ask one to open this run."},
	CountersignRun:   {[]Role{Supervisor}, "Only a supervisor of this site may countersign. Ask one to open this run."},
	ReadRuns:         {[]Role{Engineer, Supervisor, Quality}, "Runs and certificates are read by engineers, supervisors and quality. Ask an administrator if you need one of these roles."},
	SeeBoard:         {[]Role{Supervisor, Quality}, "The board is for supervisors and quality. Your own runs are under My runs."},
	ReadTrail:        {Roles, "You hold no role yet. Ask an administrator to give you one."},
	Withdraw:         {[]Role{Quality}, "Only quality may withdraw a certificate. Tell quality the number and the reason."},
	RecallLot:        {[]Role{Quality}, "Only quality may search for a lot and recall it. Tell quality the fluid and the lot."},
	RecordUnitEvent:  {[]Role{Engineer, Supervisor}, "Only an engineer or a supervisor of this site may record what happened to a unit. Ask one of them."},
	ReadProcedures:   {[]Role{Engineer, Supervisor, Quality}, "Procedures are read by engineers, supervisors and quality. Ask an administrator if you need one of these roles."},
	ApproveProcedure: {[]Role{Quality}, "Only quality may approve a procedure revision. Ask somebody in quality who did not write it."},
	DraftProcedure:   {[]Role{Engineer, Supervisor, Quality}, "Procedures are drafted by engineers, supervisors and quality. Tell one of them what should be changed."},
	RetireProcedure:  {[]Role{Quality}, "Only quality may retire a procedure. Tell quality which one and why."},
	ReadRegisters:    {Roles, "You hold no role yet. Ask an administrator to give you one."},
	ManageRegisters:  {[]Role{Supervisor, Administrator}, "Only a supervisor of this site or an administrator may change this. Ask one of them."},
	ProposeChange:    {[]Role{Engineer}, "Engineers of this site propose changes. You may make the change yourself, or ask one of them."},
	ManageSites:      {[]Role{Administrator}, "Only an administrator may change sites. Ask one to do it."},
	ManagePeople:     {[]Role{Administrator}, "Only an administrator may see and change people and roles. Ask one to do it."},
}

// May gives nil when one of the person's roles for the site allows the action,
// else a refusal with its sentence. Quality and administrators act everywhere.
func (p Person) May(a Action, site SiteID) error {
	allowed := permissions[a]
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
	for _, role := range allowed.roles {
		if p.Holds(role) {
			return nil
		}
	}
	return problem.New(problem.Forbidden, "%s", allowed.sentence)
}
