// Package demo is the invented scenario: Brackenhill Preserves, a jam and
// sauce maker, its people, units and runs, and a simulated unit whose readings
// go on arriving.
//
// Everything goes through the same acts as people and loggers use, so nothing
// stands in the record that a person could not have put there. Nothing in it
// is real; every site in it is marked as demo. The package must not know HTTP,
// SQL nor the clock.
package demo

import (
	"context"
	_ "embed"
	"fmt"
	"time"

	"settlemark/db"
	"settlemark/internal/act"
)

// ShortSoak is the text of the demo's own procedure.
//
//go:embed short-soak.yaml
var ShortSoak []byte

// Procedure is the key of the demo's own procedure. Its soak takes minutes,
// and the simulated unit serves every open run of it.
const Procedure = "demo-return-to-service"

// history is how long ago the company began to keep its record here.
const history = 200 * 24 * time.Hour

// SignIns is what a newcomer needs to look around.
type SignIns struct {
	Password string // the same for everybody
	Seed     []byte // of everybody's authenticator app
	People   []SignIn
}

// SignIn is one person of the demo.
type SignIn struct{ Login, Name, Part string }

// Load puts the whole scenario into an empty database: registers, finished
// certificates, a returned run, one that waits for its countersignature and
// three in progress. Any other database is refused with problem.Conflict.
func Load(ctx context.Context, acts *act.Acts, d *db.DB, now time.Time) (SignIns, error) {
	now = now.Truncate(time.Second)
	s, err := settleIn(ctx, acts, d, now.Add(-history), now)
	if err != nil {
		return SignIns{}, err
	}
	for _, story := range stories {
		if err := s.tell(ctx, story); err != nil {
			return SignIns{}, fmt.Errorf("demo run of %s: %w", story.unit, err)
		}
	}
	return Everybody(), nil
}

// Everybody gives the sign-ins of a database that was loaded before.
func Everybody() SignIns {
	in := SignIns{Password: password, Seed: appSeed}
	for _, p := range people {
		in.People = append(in.People, SignIn{Login: p.login, Name: p.name, Part: p.part})
	}
	return in
}
