package act

import (
	"context"
	"time"

	"settlemark/db"
	"settlemark/internal/auth"
	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
)

// JoinContent is what the proof that joins a person with another one is bound
// to, beside the other one.
func JoinContent(id commissioning.PersonID) []byte { return auth.ContentHash("join/1", string(id)) }

// JoinPersons says that two persons of the register are one human being: the
// first is the second. Both keep their login and their records; four eyes
// counts them as one from now on, in open runs too. Administrators may, with a
// proof; it is never taken back.
func (a *Acts) JoinPersons(ctx context.Context, p commissioning.Person, id, same commissioning.PersonID, s Signing, now time.Time) error {
	if err := p.MayAnywhere(commissioning.ManagePeople); err != nil {
		return err
	}
	if same == "" || id == same {
		return problem.On("same", "Choose another person than this one.")
	}
	proof, err := a.prove(ctx, p, s.Proof, content{auth.Typed(JoinContent(id), string(same)), s.Nonce}, now)
	if err != nil {
		return err
	}
	return a.note(ctx, p.ID, now, func(tx *db.Tx) (db.Note, error) {
		if err := proof.spend(ctx, tx, moment(now)); err != nil {
			return db.Note{}, err
		}
		first, err := tx.Person(ctx, id)
		if err != nil {
			return db.Note{}, err
		}
		second, err := tx.Person(ctx, same)
		if err != nil {
			return db.Note{}, err
		}
		detail := first.Name + " is the same human being as " + second.Name + ", " + string(same)
		return db.Note{Act: "persons joined", Subject: string(id), Detail: detail}, tx.Join(ctx, id, same)
	})
}
