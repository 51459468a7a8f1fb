// Package fsck says whether a stored record is sound, and names what is not.
//
// It is the oracle of every test that writes a record and of `settlemark fsck`.
// Call Check. It only reads, and computes again what it can: it takes the
// database's word for nothing that follows from something else. What a person
// with all rights could rewrite as a whole, it compares with what lies outside
// of the database (Outside).
package fsck

import (
	"context"
	"crypto/sha256"
	"fmt"

	"settlemark/db"
	"settlemark/internal/ledger"
)

// Outside is what is known from elsewhere than the database.
type Outside struct {
	Policy      string   // policy file; "" takes the keys that the database names
	Checkpoints [][]byte // signed checkpoints that were kept: the log must still contain them
}

// Report is what was found.
type Report struct {
	Faults []string // one line each; none when the record is sound

	Runs, Entries, Rows, Leaves, Checkpoints int
	Waiting                                  int // leaves that call for a checkpoint and are not sealed yet
}

// Check reads the whole record:
//
//   - every run's chain, computed again from the stored bytes; no seq missing;
//   - every entry is canonical, salted, and says what its columns say;
//   - every logbook can be read and judged;
//   - signatures stand on heads of their run, two different people, and nothing
//     but dispositions between the two;
//   - states, rounds, releases, acts and certificates fit one another;
//   - every row of evidence is told of by one leaf of the log, and every leaf
//     tells of a row that is there;
//   - the log's tree, built again, has every stored hash and is that of every
//     signed checkpoint, those from outside too;
//   - no checkpoint, cosignature or time stamp is missing: they have their leaves.
//
// The log is read a page at a time; what is held of the record as a whole is a
// digest of each leaf that it asks for.
func Check(ctx context.Context, d *db.DB, outside Outside) (Report, error) {
	c := &check{expected: map[[sha256.Size]byte]string{}}
	err := d.Inspect(ctx, func(i *db.Inspection) error {
		for _, part := range []func(*db.Inspection) error{c.runs, c.misfits, c.rows, c.certificates} {
			if err := part(i); err != nil {
				return err
			}
		}
		return c.log(i, outside)
	})
	return c.Report, err
}

type check struct {
	Report
	expected map[[sha256.Size]byte]string // digest of a leaf → what it should tell of
}

func (c *check) fault(format string, args ...any) {
	c.Faults = append(c.Faults, fmt.Sprintf(format, args...))
}

// expect says that the log must hold this leaf.
func (c *check) expect(what string, leaf []byte) { c.expected[sha256.Sum256(leaf)] = what }

func (c *check) runs(i *db.Inspection) error {
	runs, err := i.Runs()
	if err != nil {
		return err
	}
	c.Runs = len(runs)
	for _, run := range runs {
		posts, err := i.Posts(run.ID)
		if err != nil {
			return err
		}
		entries, err := i.Entries(run.ID)
		if err != nil {
			return err
		}
		signatures, err := i.Signatures(run.ID)
		if err != nil {
			return err
		}
		c.Entries += len(entries)
		r := &runCheck{check: c, run: run}
		heads := r.chain(posts, entries)
		r.entries(entries)
		r.judged(entries, signatures)
		r.signed(heads, entries, signatures)
	}
	return nil
}

// runCheck is the check of one run.
type runCheck struct {
	*check
	run db.InspectedRun
}

func (c *runCheck) fault(format string, args ...any) {
	c.check.fault("run %s: %s", c.run.ID, fmt.Sprintf(format, args...))
}

func (c *check) misfits(i *db.Inspection) error {
	faults, err := i.Misfits()
	c.Faults = append(c.Faults, faults...)
	return err
}

func (c *check) rows(i *db.Inspection) error {
	for _, table := range db.LoggedTables {
		rows, err := i.Rows(table)
		if err != nil {
			return err
		}
		c.Rows += len(rows)
		for _, r := range rows {
			c.expect(table.Name+" "+r.Key, ledger.RowLeaf(table.Name, r.Key, r.Digest))
		}
	}
	return nil
}

// certificates expects the leaves that travel with certificates.
func (c *check) certificates(i *db.Inspection) error {
	all, err := i.Certificates()
	if err != nil {
		return err
	}
	for _, r := range all {
		c.expect("certificate "+r.Number, ledger.CertificateLeafOf(r.Number, r.Document))
		if r.PDF != nil {
			c.expect("the file of certificate "+r.Number, ledger.CertificateFileLeafOf(r.Number, r.PDF))
		}
	}
	changes, err := i.Status()
	for _, s := range changes {
		c.expect("certificate "+s.Number+", "+s.Status, ledger.StatusLeaf(s.Number, s.Status, s.At, s.Reason))
	}
	return err
}
