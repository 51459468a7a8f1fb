package demo

import (
	"context"
	"fmt"
	"slices"
	"time"

	"github.com/google/uuid"

	"settlemark/db"
	"settlemark/internal/act"
	"settlemark/internal/auth"
	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
)

// scene is the company once it stands in the registers.
type scene struct {
	acts *act.Acts
	db   *db.DB
	now  time.Time

	people     map[string]commissioning.Person // by login
	sites      map[string]commissioning.Site   // by name
	benches    map[commissioning.SiteID][]commissioning.Bench
	lines      map[string]commissioning.Line // by name
	units      map[string]commissioning.Unit // by tag
	loggers    map[commissioning.SiteID]commissioning.Logger
	measuring  map[string]commissioning.Instrument // by code
	procedures map[string]commissioning.Procedure  // newest revision by key
}

// settleIn puts people, places, units, loggers and procedures into the
// registers as they were at the instant since.
func settleIn(ctx context.Context, acts *act.Acts, d *db.DB, since, now time.Time) (*scene, error) {
	s := &scene{
		acts: acts, db: d, now: now,
		people:     map[string]commissioning.Person{},
		sites:      map[string]commissioning.Site{},
		benches:    map[commissioning.SiteID][]commissioning.Bench{},
		lines:      map[string]commissioning.Line{},
		units:      map[string]commissioning.Unit{},
		loggers:    map[commissioning.SiteID]commissioning.Logger{},
		measuring:  map[string]commissioning.Instrument{},
		procedures: map[string]commissioning.Procedure{},
	}
	for i, step := range []func(context.Context, time.Time) error{
		s.firstAdministrator, s.addSites, s.addPeople, s.addUnits, s.addLoggers, s.addProcedures,
	} {
		if err := step(ctx, since.Add(time.Duration(i)*time.Hour)); err != nil {
			return nil, err
		}
	}
	return s, nil
}

func (s *scene) firstAdministrator(ctx context.Context, at time.Time) error {
	code, needed, err := s.acts.SetupCode(ctx, at)
	if err != nil {
		return err
	}
	if !needed {
		return problem.New(problem.Conflict, "The demo goes into an empty database only. Use another database or data folder.")
	}
	for _, p := range people {
		if p.login == luca {
			if s.people[luca], err = s.acts.Setup(ctx, code, p.name, p.login, password, at); err == nil {
				err = s.enrol(ctx, p.login, at)
			}
		}
	}
	return err
}

// enrol sets up the authenticator app of somebody who has just set a password.
func (s *scene) enrol(ctx context.Context, login string, at time.Time) error {
	if _, err := s.acts.OfferApp(ctx, s.people[login], appSeed); err != nil {
		return err
	}
	by := act.Signing{Proof: act.Proof{Password: password}}
	_, err := s.acts.AddApp(ctx, s.people[login], by, auth.CodeAt(appSeed, auth.Step(at)), at)
	return err
}

// proof is everybody's at an instant. Two of one person are half a minute apart
// at least, as codes are.
func proof(at time.Time) act.Proof {
	return act.Proof{Password: password, Code: auth.CodeAt(appSeed, auth.Step(at))}
}

func (s *scene) addSites(ctx context.Context, at time.Time) error {
	admin := s.people[luca]
	for _, site := range sites {
		saved, err := s.acts.SaveSite(ctx, admin, site, at)
		if err != nil {
			return err
		}
		s.sites[site.Name] = saved
	}
	for _, l := range lines {
		saved, err := s.acts.SaveLine(ctx, admin, commissioning.Line{Site: s.sites[l.site].ID, Name: l.name}, at)
		if err != nil {
			return err
		}
		s.lines[l.name] = saved
	}
	for _, b := range benches {
		site := s.sites[b.site].ID
		saved, err := s.acts.SaveBench(ctx, admin, commissioning.Bench{Site: site, Name: b.name}, at)
		if err != nil {
			return err
		}
		s.benches[site] = append(s.benches[site], saved)
	}
	return s.addInstruments(ctx, at)
}

// addInstruments leaves one whose calibration has run out.
func (s *scene) addInstruments(ctx context.Context, at time.Time) error {
	for _, i := range instruments {
		one := i.as
		one.Site, one.Due = s.sites[i.site].ID, s.now.AddDate(0, 0, i.days).Format(time.DateOnly)
		saved, err := s.acts.SaveInstrument(ctx, s.people[luca], one, at)
		if err != nil {
			return err
		}
		s.measuring[saved.Code] = saved
	}
	return nil
}

func (s *scene) addPeople(ctx context.Context, at time.Time) error {
	for _, p := range people {
		if p.login == luca {
			continue
		}
		add := act.NewPerson{Name: p.name, Login: p.login}
		for _, d := range p.duties {
			add.Grants = append(add.Grants, commissioning.Grant{Role: d.role, Site: s.sites[d.site].ID})
		}
		at = at.Add(time.Minute)
		by := act.Signing{Proof: proof(at), Nonce: uuid.NewString()}
		_, invite, err := s.acts.AddPerson(ctx, s.people[luca], add, by, at)
		if err != nil {
			return err
		}
		accept := act.Acceptance{Invite: invite, Password: password}
		if s.people[p.login], err = s.acts.UseInvite(ctx, accept, at); err != nil {
			return err
		}
		if err := s.enrol(ctx, p.login, at); err != nil {
			return err
		}
	}
	return nil
}

func (s *scene) addUnits(ctx context.Context, at time.Time) error {
	for _, f := range fluids {
		if _, err := s.acts.SaveFluid(ctx, s.people[luca], f, at); err != nil {
			return err
		}
	}
	for i, u := range units {
		line := s.lines[u.line]
		saved, err := s.acts.SaveUnit(ctx, s.people[luca], commissioning.Unit{
			Tag: u.tag, Site: line.Site, LineID: line.ID, Line: line.Name, Serial: u.serial,
			Ink: u.ink, Makeup: u.ink + "M", Place: i + 1,
		}, at)
		if err != nil {
			return err
		}
		s.units[u.tag] = saved
	}
	return nil
}

func (s *scene) addLoggers(ctx context.Context, at time.Time) error {
	for _, site := range sites {
		logger := commissioning.Logger{Name: "Gateway, " + site.Name, Site: s.sites[site.Name].ID}
		for _, u := range units {
			if s.units[u.tag].Site == logger.Site {
				logger.Units = append(logger.Units, u.tag)
			}
		}
		saved, err := s.acts.SaveLogger(ctx, s.people[luca], logger, at)
		if err != nil {
			return err
		}
		s.loggers[logger.Site] = saved
	}
	return nil
}

// addProcedures stores the shipped ones, where nobody did yet, and our own;
// quality approves each.
func (s *scene) addProcedures(ctx context.Context, at time.Time) error {
	stored, err := s.db.Procedures(ctx)
	if err != nil {
		return err
	}
	if len(stored) == 0 {
		shipped, err := commissioning.ShippedProcedures()
		if err != nil {
			return err
		}
		for _, yaml := range shipped {
			added, err := s.acts.AddProcedure(ctx, nil, yaml, false, at)
			if err != nil {
				return err
			}
			stored = append(stored, added)
		}
	}
	ours, err := s.acts.AddProcedure(ctx, nil, ShortSoak, true, at)
	if err != nil {
		return fmt.Errorf("demo procedure: %w", err)
	}
	for _, p := range slices.Concat(stored, []db.ProcedureRevision{ours}) {
		s.procedures[p.Key] = p.Procedure
		at = at.Add(time.Minute)
		by := act.Signing{Proof: proof(at), Nonce: uuid.NewString()}
		if err := s.acts.ApproveProcedure(ctx, s.people[keiko], p.Key, p.Revision, by, at); err != nil {
			return err
		}
	}
	return nil
}
