package commissioning_test

import (
	"strings"
	"testing"

	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
)

// What each role may do: at its own site, and at another one. Read like the
// table in the README.
func TestMay(t *testing.T) {
	const here, elsewhere = commissioning.SiteID(1), commissioning.SiteID(2)
	table := map[commissioning.Action]string{ // engineer supervisor quality administrator: here, elsewhere
		commissioning.OpenRun:          "yes no | no no | no no | no no",
		commissioning.AddEntries:       "yes no | no no | no no | no no",
		commissioning.SubmitRun:        "yes no | no no | no no | no no",
		commissioning.RuleOnEntries:    "no no | yes no | no no | no no",
		commissioning.ReturnRun:        "no no | yes no | no no | no no",
		commissioning.CountersignRun:   "no no | yes no | no no | no no",
		commissioning.ReadRuns:         "yes no | yes no | yes yes | no no",
		commissioning.SeeBoard:         "no no | yes no | yes yes | no no",
		commissioning.ReadTrail:        "yes no | yes no | yes yes | yes yes",
		commissioning.Withdraw:         "no no | no no | yes yes | no no",
		commissioning.ReadProcedures:   "yes no | yes no | yes yes | no no",
		commissioning.DraftProcedure:   "yes no | yes no | yes yes | no no",
		commissioning.RetireProcedure:  "no no | no no | yes yes | no no",
		commissioning.ApproveProcedure: "no no | no no | yes yes | no no",
		commissioning.ReadRegisters:    "yes no | yes no | yes yes | yes yes",
		commissioning.ManageRegisters:  "no no | yes no | no no | yes yes",
		commissioning.ManageSites:      "no no | no no | no no | yes yes",
		commissioning.ManagePeople:     "no no | no no | no no | yes yes",
	}
	for action, row := range table {
		for i, cell := range strings.Split(row, "|") {
			role, want := commissioning.Roles[i], strings.Fields(cell)
			p := commissioning.Person{Grants: []commissioning.Grant{{Role: role, Site: here}}}
			for j, site := range []commissioning.SiteID{here, elsewhere} {
				err := p.May(action, site)
				if (err == nil) != (want[j] == "yes") {
					t.Errorf("%s, %s at site %d: %v, the table says %s", role, action, site, err, want[j])
				}
				if err != nil && problem.KindOf(err) != problem.Forbidden {
					t.Errorf("%s, %s is refused with another kind: %v", role, action, err)
				}
			}
			if (p.MayAnywhere(action) == nil) != (want[0] == "yes") {
				t.Errorf("%s, %s anywhere differs from the table", role, action)
			}
		}
	}
	t.Run("a_grant_for_every_site_counts_at_each", func(t *testing.T) {
		p := commissioning.Person{Grants: []commissioning.Grant{{Role: commissioning.Supervisor}}}
		if err := p.May(commissioning.CountersignRun, elsewhere); err != nil {
			t.Error(err)
		}
	})
	t.Run("nobody_may_do_what_is_not_in_the_table", func(t *testing.T) {
		p := commissioning.Person{Grants: []commissioning.Grant{{Role: commissioning.Administrator}}}
		if p.May("delete everything", here) == nil {
			t.Error("an unknown action is allowed")
		}
	})
}
