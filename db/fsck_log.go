package db

import (
	"fmt"
	"iter"
	"math"
	"strings"
	"time"

	"github.com/jackc/pgx/v5"
)

// LoggedTable is a table each of whose rows is told of in the log by one leaf.
type LoggedTable struct {
	Name    string
	Key     []string
	Without []string // columns that the leaf leaves out
}

// LoggedTables is every such table. A test holds it to the triggers of the
// schema, but it stands here: somebody who takes a trigger away must not take
// the table out of the check.
var LoggedTables = []LoggedTable{
	{"abandonments", []string{"run_id"}, nil},
	{"acts", []string{"id"}, nil},
	{"assertions", []string{"nonce"}, nil},
	{"certificate_pdfs", []string{"number"}, []string{"pdf"}},
	{"certificate_status", []string{"number", "status"}, nil},
	{"contributors", []string{"run_id", "person_id"}, nil},
	{"log_checkpoints", []string{"epoch", "size"}, nil},
	{"log_cosignatures", []string{"epoch", "size", "witness"}, nil},
	{"log_epochs", []string{"epoch"}, nil},
	{"log_keys", []string{"vkey"}, nil},
	{"log_stamps", []string{"epoch", "size"}, nil},
	{"photos", []string{"run_id", "digest"}, []string{"bytes"}},
	{"procedure_approvals", []string{"key", "revision"}, nil},
	{"procedure_authors", []string{"key", "revision", "person_id"}, nil},
	{"procedure_rejections", []string{"key", "revision"}, nil},
	{"procedure_retirements", []string{"key", "up_to"}, nil},
	{"procedures", []string{"key", "revision"}, nil},
	{"recalls", []string{"id"}, nil},
	{"releases", []string{"number"}, nil},
	{"returns", []string{"run_id", "round"}, nil},
	{"runs", []string{"id"}, []string{"state", "round", "seq", "head", "pen"}},
	{"sample_readings", []string{"run_id", "round", "person_id"}, nil},
	{"set_aside", []string{"key"}, nil},
	{"signatures", []string{"run_id", "round", "kind"}, nil},
	{"tablet_records", []string{"run_id", "person_id", "device", "n"}, nil},
	{"unit_events", []string{"id"}, nil},
}

// InspectedRow is a row by its key and the digest of its columns.
type InspectedRow struct {
	Key    string
	Digest []byte
}

// rowDigests is the one statement that is put together: a table's name can't be
// an argument. Names come from LoggedTables alone. It must give what row_leaf
// of the migrations gives.
const rowDigests = `
%s concat_ws('/', %s) as key,
  sha256(convert_to((select coalesce(jsonb_object_agg(c.key, c.value), '{}')::text from jsonb_each(t.r - @without::text[]) as c
    where c.value not in ('null', '""')), 'UTF8')) as digest
from (select to_jsonb(x) as r from %s x) as t`

// Rows gives the rows of a table.
func (i *Inspection) Rows(t LoggedTable) ([]InspectedRow, error) {
	keys := make([]string, len(t.Key))
	for n, k := range t.Key {
		keys[n] = "t.r->>'" + k + "'"
	}
	without := t.Without
	if without == nil {
		without = []string{}
	}
	statement := fmt.Sprintf(rowDigests, "select", strings.Join(keys, ", "), pgx.Identifier{schema, t.Name}.Sanitize())
	return list[InspectedRow](i.ctx, i.q, statement, args{"without": without})
}

// InspectedCertificate is what the public leaves of a certificate are made of.
type InspectedCertificate struct {
	Number   string
	Document []byte // digest
	PDF      []byte `db:"pdf"` // digest, nil while there is none
}

const inspectCertificates = `
select r.number, r.digest as document, p.digest as pdf from releases r left join certificate_pdfs p on p.number = r.number order by r.number`

// Certificates gives every release.
func (i *Inspection) Certificates() ([]InspectedCertificate, error) {
	return list[InspectedCertificate](i.ctx, i.q, inspectCertificates, args{})
}

// InspectedStatus is a change of a certificate's status.
type InspectedStatus struct {
	Number, Status, Reason string
	At                     time.Time
}

const inspectStatus = `select number, status, reason, at from certificate_status order by number, status`

// Status gives every change of status.
func (i *Inspection) Status() ([]InspectedStatus, error) {
	return list[InspectedStatus](i.ctx, i.q, inspectStatus, args{})
}

const inspectEpochs = `
select coalesce(h.epoch, e.epoch) as epoch, coalesce(h.size, -1) as size, coalesce(h.signed, -1) as signed, coalesce(h.published, -1) as published,
  h.stopped_at, coalesce(h.stopped_for, '') as stopped_for, coalesce(e.origin, '') as origin, 0::bigint as waiting, null::timestamptz as since
from log_heads h full join log_epochs e on e.epoch = h.epoch order by 1`

// Epochs gives the head of every epoch.
func (i *Inspection) Epochs() ([]LogState, error) {
	return list[LogState](i.ctx, i.q, inspectEpochs, args{})
}

// LogKeys gives every key that ever signed.
func (i *Inspection) LogKeys() ([]LogKey, error) { return list[LogKey](i.ctx, i.q, logKeys, args{}) }

// pageOfLog is how many rows of the log are held at a time.
const pageOfLog = 2000

// pages gives the rows that read finds, a page at a time: read gives the next
// ones behind a row. before stands before them all.
func pages[T any](before T, read func(behind T) ([]T, error)) iter.Seq2[T, error] {
	return func(yield func(T, error) bool) {
		for behind := before; ; {
			page, err := read(behind)
			if err != nil {
				yield(behind, err)
				return
			}
			for _, row := range page {
				if !yield(row, nil) {
					return
				}
				behind = row
			}
			if len(page) < pageOfLog {
				return
			}
		}
	}
}

// InspectedLeaf is a leaf, or a stored hash, at its place.
type InspectedLeaf struct {
	Place int64
	Data  []byte
}

const (
	inspectLeaves = `select place, leaf as data from log_leaves where epoch = @epoch and place > @place order by place limit @limit`
	inspectNodes  = `select place, hash as data from log_nodes where epoch = @epoch and place > @place order by place limit @limit`
	inspectOutbox = `select leaf, rides from log_outbox order by id`
)

// Leaves gives the leaves of an epoch in order.
func (i *Inspection) Leaves(epoch int) iter.Seq2[InspectedLeaf, error] {
	return i.places(inspectLeaves, epoch)
}

// Nodes gives the stored hashes of an epoch in order.
func (i *Inspection) Nodes(epoch int) iter.Seq2[InspectedLeaf, error] {
	return i.places(inspectNodes, epoch)
}

func (i *Inspection) places(query string, epoch int) iter.Seq2[InspectedLeaf, error] {
	return pages(InspectedLeaf{Place: math.MinInt64}, func(behind InspectedLeaf) ([]InspectedLeaf, error) {
		return list[InspectedLeaf](i.ctx, i.q, query, args{"epoch": epoch, "place": behind.Place, "limit": pageOfLog})
	})
}

// WaitingLeaf is a leaf outside of the tree. One that rides calls for no
// checkpoint: it goes with the next that does.
type WaitingLeaf struct {
	Leaf  []byte
	Rides bool
}

// Outbox gives the leaves that wait.
func (i *Inspection) Outbox() ([]WaitingLeaf, error) {
	return list[WaitingLeaf](i.ctx, i.q, inspectOutbox, args{})
}

const inspectCheckpoints = `
select epoch, size, root, sealed_at, signed from log_checkpoints where epoch = @epoch and size > @size order by size limit @limit`

// Checkpoints gives the checkpoints of an epoch, oldest first.
func (i *Inspection) Checkpoints(epoch int) iter.Seq2[LogCheckpoint, error] {
	return pages(LogCheckpoint{Size: math.MinInt64}, func(behind LogCheckpoint) ([]LogCheckpoint, error) {
		return list[LogCheckpoint](i.ctx, i.q, inspectCheckpoints, args{"epoch": epoch, "size": behind.Size, "limit": pageOfLog})
	})
}

// LogCosignature is a witness's line under a checkpoint.
type LogCosignature struct {
	Size          int64
	Witness, Line string
}

const inspectCosignatures = `
select size, witness, line from log_cosignatures where epoch = @epoch and (size, witness) > (@size, @witness)
order by size, witness limit @limit`

// Cosignatures gives the cosignatures of an epoch.
func (i *Inspection) Cosignatures(epoch int) iter.Seq2[LogCosignature, error] {
	return pages(LogCosignature{Size: math.MinInt64}, func(behind LogCosignature) ([]LogCosignature, error) {
		return list[LogCosignature](i.ctx, i.q, inspectCosignatures,
			args{"epoch": epoch, "size": behind.Size, "witness": behind.Witness, "limit": pageOfLog})
	})
}
