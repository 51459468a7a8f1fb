package urls

import (
	"net/url"

	"settlemark/internal/commissioning"
)

// Patterns of the registers' forms.
const (
	PersonRolesPattern   = "/people/{person}/roles"
	PersonInvitePattern  = "/people/{person}/invite"
	PersonDisablePattern = "/people/{person}/disable"
	PersonSignOutPattern = "/people/{person}/sign-out"
	PersonSamePattern    = "/people/{person}/same"
)

// PersonRoles takes the roles of a person.
func PersonRoles(id commissioning.PersonID) string { return Person(id) + "/roles" }

// PersonInvite makes a new one-time code for a person.
func PersonInvite(id commissioning.PersonID) string { return Person(id) + "/invite" }

// PersonDisable ends a person's access.
func PersonDisable(id commissioning.PersonID) string { return Person(id) + "/disable" }

// PersonSignOut ends every session of a person.
func PersonSignOut(id commissioning.PersonID) string { return Person(id) + "/sign-out" }

// PersonSame says that a person is here twice.
func PersonSame(id commissioning.PersonID) string { return Person(id) + "/same" }

// Change is the page of a register with one of its lines open for change.
func Change(register, key string) string { return register + "?change=" + url.QueryEscape(key) }

// ChangeUnit is the page of a unit with its facts open for change.
func ChangeUnit(tag string) string { return Unit(tag) + "?change=yes" }

// StartRunOn is the page that starts a run, with the unit chosen.
func StartRunOn(tag string) string { return RunStartPattern + "?unit=" + url.QueryEscape(tag) }
