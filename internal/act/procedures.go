package act

import (
	"context"
	"strconv"
	"time"

	"settlemark/db"
	"settlemark/internal/auth"
	"settlemark/internal/commissioning"
)

// AddProcedure stores a new revision of a procedure, not yet approved. author
// is nil when it came with the product. The same text again does nothing;
// another text under the same revision is a Conflict. Errors of the loader name
// the line and the reason.
func (a *Acts) AddProcedure(ctx context.Context, author *commissioning.Person, yaml []byte, demo bool, now time.Time) (added db.ProcedureRevision, err error) {
	procedure, err := commissioning.ParseProcedure(yaml)
	if err != nil {
		return added, err
	}
	var by commissioning.PersonID
	if author != nil {
		if err := author.MayAnywhere(commissioning.DraftProcedure); err != nil {
			return added, err
		}
		by = author.ID
	}
	err = a.db.InTx(ctx, func(tx *db.Tx) error {
		if err := tx.AddProcedure(ctx, procedure, yaml, by, demo, moment(now)); err != nil {
			return err
		}
		added, err = tx.Procedure(ctx, procedure.Key, procedure.Revision)
		return err
	})
	return added, err
}

// ApprovalContent is what an approval of a revision is bound to.
func ApprovalContent(key string, revision int, sha256 string) []byte {
	return auth.ContentHash("approve/1", key, strconv.Itoa(revision), sha256)
}

// ApproveProcedure approves a revision for use, with a proof over its text as
// the page showed it. Quality may, but nobody
// who changed its draft.
func (a *Acts) ApproveProcedure(ctx context.Context, p commissioning.Person, key string, revision int, s Signing, now time.Time) error {
	if err := p.MayAnywhere(commissioning.ApproveProcedure); err != nil {
		return err
	}
	text, err := a.db.Procedure(ctx, key, revision)
	if err != nil {
		return err
	}
	proof, err := a.prove(ctx, p, s.Proof, content{ApprovalContent(key, revision, text.SHA256), s.Nonce}, now)
	if err != nil {
		return err
	}
	return a.db.InTx(ctx, func(tx *db.Tx) error {
		if err := proof.spend(ctx, tx, moment(now)); err != nil {
			return err
		}
		return tx.ApproveProcedure(ctx, key, revision, p.ID, proof.method, moment(now))
	})
}

// RejectionContent is what the proof of a rejection is bound to, beside its
// reason.
func RejectionContent(key string, revision int, sha256 string) []byte {
	return auth.ContentHash("reject/1", key, strconv.Itoa(revision), sha256)
}

// RejectProcedure refuses a revision that waits for approval; it stays
// readable, with the reason. Quality may, with a proof over its text and the
// reason.
func (a *Acts) RejectProcedure(ctx context.Context, p commissioning.Person, key string, revision int, reason string, s Signing, now time.Time) error {
	if err := p.MayAnywhere(commissioning.ApproveProcedure); err != nil {
		return err
	}
	reason, err := required("reason", reason, "Say why it is rejected, and what should be changed.")
	if err != nil {
		return err
	}
	text, err := a.db.Procedure(ctx, key, revision)
	if err != nil {
		return err
	}
	proof, err := a.prove(ctx, p, s.Proof, content{auth.Typed(RejectionContent(key, revision, text.SHA256), reason), s.Nonce}, now)
	if err != nil {
		return err
	}
	return a.db.InTx(ctx, func(tx *db.Tx) error {
		if err := proof.spend(ctx, tx, moment(now)); err != nil {
			return err
		}
		return tx.RejectProcedure(ctx, key, revision, p.ID, reason, moment(now))
	})
}

// RetirementContent is what the proof of a retirement is bound to: up to which
// revision, beside its reason.
func RetirementContent(key string, newest int) []byte {
	return auth.ContentHash("retire/1", key, strconv.Itoa(newest))
}

// RetireProcedure keeps new runs from the revisions that there are; runs that
// are open go on. Quality may, with a proof. A revision approved later brings it
// back.
func (a *Acts) RetireProcedure(ctx context.Context, p commissioning.Person, key, reason string, s Signing, now time.Time) error {
	if err := p.MayAnywhere(commissioning.RetireProcedure); err != nil {
		return err
	}
	reason, err := required("reason", reason, "Say why the procedure is retired; the reason is kept with it.")
	if err != nil {
		return err
	}
	revisions, err := a.db.Revisions(ctx, key)
	if err != nil {
		return err
	}
	over := content{auth.Typed(RetirementContent(key, revisions[0].Revision), reason), s.Nonce}
	proof, err := a.prove(ctx, p, s.Proof, over, now)
	if err != nil {
		return err
	}
	return a.db.InTx(ctx, func(tx *db.Tx) error {
		if err := proof.spend(ctx, tx, moment(now)); err != nil {
			return err
		}
		return tx.RetireProcedure(ctx, key, p.ID, reason, moment(now))
	})
}
