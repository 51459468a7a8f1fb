package parts

import (
	"strconv"
	"time"

	"settlemark/internal/commissioning"
	"settlemark/internal/words"
)

// In gives the instant in the zone, UTC when the zone is unknown.
func In(at time.Time, zone string) time.Time {
	place, err := time.LoadLocation(zone)
	if err != nil {
		place = time.UTC
	}
	return at.In(place)
}

// Day writes the site's date: "2026-11-24".
func Day(at time.Time, zone string) string { return In(at, zone).Format(time.DateOnly) }

// DayMinute writes both, with the offset: "2026-11-24 14:23, UTC+1".
func DayMinute(at time.Time, zone string) string {
	return In(at, zone).Format("2006-01-02 15:04") + ", " + Offset(at, zone)
}

// Offset writes the site's distance from UTC at that instant: "UTC+1", "UTC+5:30".
func Offset(at time.Time, zone string) string { return words.Offset(In(at, zone)) }

// Ago writes how long ago something was, in the largest whole unit.
func Ago(at, now time.Time) words.Text {
	d := max(now.Sub(at), 0)
	switch {
	case d < time.Minute:
		return words.Say("now")
	case d < 2*time.Hour:
		return words.Say("%d min", int(d.Minutes()))
	case d < 48*time.Hour:
		return words.Say("%d h", int(d.Hours()))
	}
	return words.Many(int(d.Hours()/24), "%d day", "%d days")
}

// Span writes a length of time: "2 min", "90 min", "48 h", "180 days".
func Span(d time.Duration) words.Text {
	switch {
	case d%(24*time.Hour) == 0 && d >= 72*time.Hour:
		return words.Many(int(d/(24*time.Hour)), "%d day", "%d days")
	case d%time.Hour == 0 && d >= 3*time.Hour:
		return words.Say("%d h", int(d/time.Hour))
	case d%time.Minute == 0:
		return words.Say("%d min", int(d/time.Minute))
	}
	return words.Say("%s s", words.Number(strconv.FormatFloat(d.Seconds(), 'f', -1, 64)))
}

// ExpiresIn says how soon something ends, in whole days.
func ExpiresIn(days int) words.Text {
	if days == 0 {
		return words.Say("expires within a day")
	}
	return words.Many(days, "expires in %d day", "expires in %d days")
}

// RoleName writes a role for people.
func RoleName(r commissioning.Role) words.Text {
	switch r {
	case commissioning.Engineer:
		return words.Say("Engineer")
	case commissioning.Supervisor:
		return words.Say("Supervisor")
	case commissioning.Quality:
		return words.Say("Quality")
	case commissioning.Administrator:
		return words.Say("Administrator")
	}
	return words.Plain(string(r))
}

// RoleList writes each role once, in the order in which roles are shown.
func RoleList(p commissioning.Person) words.Text {
	var names []words.Text
	for _, role := range commissioning.Roles {
		if p.Holds(role) {
			names = append(names, RoleName(role))
		}
	}
	return words.Join(", ", names...)
}

// PositionName writes where a fluid goes.
func PositionName(p commissioning.Position) words.Text {
	if p == commissioning.MakeUp {
		return words.Say("Make-up")
	}
	return words.Say("Ink")
}

// Second writes the clock to the second: "14:23:07".
func Second(at time.Time, zone string) string { return In(at, zone).Format(time.TimeOnly) }

// DaySecond is DayMinute to the second, for the record.
func DaySecond(at time.Time, zone string) string {
	return Day(at, zone) + " " + Second(at, zone) + ", " + Offset(at, zone)
}
