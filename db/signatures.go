package db

import (
	"context"
	"time"

	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
)

const signatures = `
select s.run_id::text as run, s.round, s.kind, s.person_id as person, s.name, s.role, s.meaning, s.method, s.signed_at, s.head,
  coalesce(s.reading, '') as reading, coalesce(s.agrees, false) as agrees, coalesce(s.mismatch, '') as mismatch,
  convert_from(a.body, 'UTF8')::jsonb as passkey
from signatures s left join assertions a on a.nonce = s.nonce and a.person_id = s.person_id and a.content = s.head
where s.run_id = any(@runs::text[]::uuid[])
  and (@all or exists (select 1 from runs r where r.id = s.run_id and r.site_id = any(@sites)))
order by s.run_id, s.round, s.kind desc`

// Whoever is the same human being as a contributor is one.
const contributors = `
select q.id from contributors c
join persons p on p.id = c.person_id
join persons q on coalesce(q.same_as, q.id) = coalesce(p.same_as, p.id)
where c.run_id = @run group by q.id order by min(c.since), q.id`

const returns = `
select round, person_id as by, name, returned_at as at, reason from returns where run_id = @run order by round`

const sampleReading = `
select round, person_id as person, text, read_at from sample_readings
where run_id = @run and round = @round and person_id = @person`

// readSigned fills in what was signed, by whom, and who had a part in the run.
func readSigned(ctx context.Context, q querier, b *Book, reader commissioning.PersonID) (err error) {
	if b.Contributors, err = column[commissioning.PersonID](ctx, q, contributors, args{"run": b.Run.ID}); err != nil {
		return err
	}
	if b.Signatures, err = readSignatures(ctx, q, true, []int64{}, b.Run.ID); err != nil {
		return err
	}
	if b.Returns, err = list[ReturnRecord](ctx, q, returns, args{"run": b.Run.ID}); err != nil {
		return err
	}
	readings, err := list[SampleReading](ctx, q, sampleReading, args{"run": b.Run.ID, "round": b.Run.Round, "person": reader})
	if len(readings) > 0 {
		b.SampleReading = &readings[0]
	}
	return err
}

func readSignatures(ctx context.Context, q querier, all bool, sites []int64, runs ...commissioning.RunID) ([]commissioning.Signature, error) {
	ids := make([]string, len(runs))
	for i, id := range runs {
		ids[i] = string(id)
	}
	return list[commissioning.Signature](ctx, q, signatures, args{"runs": ids, "all": all, "sites": sites})
}

// Signatures gives the signatures under each of these runs that the person may
// read, by round, the submission first.
func (d *DB) Signatures(ctx context.Context, p commissioning.Person, runs ...commissioning.RunID) (_ map[commissioning.RunID][]commissioning.Signature, err error) {
	ctx, cancel := deadline(ctx)
	defer cancel()
	defer problem.Wrap(&err, "Signatures(%s)", p.ID)
	everywhere, sites := evidence(p)
	all, err := readSignatures(ctx, d.pool, everywhere, sites, runs...)
	by := map[commissioning.RunID][]commissioning.Signature{}
	for _, s := range all {
		by[s.Run] = append(by[s.Run], s)
	}
	return by, err
}

const signedWith = `
select s.run_id::text as run, s.kind, s.person_id as person, s.signed_at, coalesce(r.number, '') as certificate
from signatures s left join releases r on r.run_id = s.run_id and r.round = s.round
where s.nonce = @nonce`

// Signed is a signature that was found by the nonce of its form.
type Signed struct {
	Run         commissioning.RunID
	Kind        commissioning.SignatureKind
	Person      commissioning.PersonID
	SignedAt    time.Time
	Certificate commissioning.CertificateNumber
}

// SignedWith finds the signature that this nonce made; nil when there is none.
func (t *Tx) SignedWith(ctx context.Context, nonce string) (*Signed, error) {
	found, err := list[Signed](ctx, t.tx, signedWith, args{"nonce": nonce})
	if err != nil || len(found) == 0 {
		return nil, err
	}
	return &found[0], nil
}

// Signing is one signature with the judgement that it stands on.
type Signing struct {
	Run        commissioning.RunID
	Person     commissioning.PersonID
	Head       []byte // that the signer's page showed
	Meaning    string
	Method     string
	Nonce      string
	SignedAt   time.Time
	Assessment []byte
}

func (s Signing) args() args {
	return args{
		"run": s.Run, "person": s.Person, "head": s.Head, "meaning": s.Meaning, "method": s.Method,
		"nonce": s.Nonce, "signed_at": s.SignedAt, "assessment": s.Assessment,
	}
}

const submitRun = `
select submit_run(@run, @person, @head, @meaning, @method, @nonce, @signed_at, @assessment)`

// Submit closes the run under the engineer's signature. When the head moved it
// is a Conflict.
func (t *Tx) Submit(ctx context.Context, s Signing) error {
	return t.exec(ctx, submitRun, s.args())
}

const readSample = `select read_sample(@run, @person, @text, @now)`

// ReadSample keeps what the person read off the print sample's photo. The first
// reading of a round counts; another one later is a Conflict.
func (t *Tx) ReadSample(ctx context.Context, id commissioning.RunID, by commissioning.PersonID, text string, now time.Time) error {
	return t.exec(ctx, readSample, args{"run": id, "person": by, "text": text, "now": now})
}

const returnRun = `select return_run(@run, @person, @head, @reason, @now)`

// Return opens the run again; the signatures of the round are void.
func (t *Tx) Return(ctx context.Context, id commissioning.RunID, by commissioning.PersonID, head []byte, reason string, now time.Time) error {
	return t.exec(ctx, returnRun, args{"run": id, "person": by, "head": head, "reason": reason, "now": now})
}

const nextCertificate = `select next_certificate()`

// NextCertificate gives the number that the release of this transaction will
// carry. Other countersigners wait for it until this transaction ends.
func (t *Tx) NextCertificate(ctx context.Context) (commissioning.CertificateNumber, error) {
	return value[commissioning.CertificateNumber](ctx, t.tx, nextCertificate, args{})
}

// Release is what the countersignature issues.
type Release struct {
	Number     commissioning.CertificateNumber
	Agrees     bool
	Mismatch   string
	Line       string
	Lots       []string
	ValidUntil *time.Time
	Document   []byte // canonical JSON of all that the PDF says
}

const countersignRun = `
select countersign_run(@run, @person, @head, @meaning, @method, @nonce, @signed_at, @assessment,
  @agrees, @mismatch, @number, @line, @lots, @valid_until, @document)`

// Countersign releases the run: signature, certificate and the superseding of
// the unit's certificate before it, at once.
func (t *Tx) Countersign(ctx context.Context, s Signing, r Release) error {
	a := s.args()
	a["agrees"], a["mismatch"], a["number"], a["line"] = r.Agrees, r.Mismatch, r.Number, r.Line
	a["lots"], a["valid_until"], a["document"] = r.Lots, r.ValidUntil, r.Document
	return t.exec(ctx, countersignRun, a)
}
