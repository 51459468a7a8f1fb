package db

import (
	"regexp"
	"slices"
	"strings"

	"settlemark/internal/commissioning"
	"settlemark/internal/words"
)

// sentence is one that our own functions raise, to be said in the reader's
// language: Postgres hands it over with what fills it in.
type sentence struct {
	text *regexp.Regexp
	say  func(args ...any) words.Text
}

func raises(format string) sentence {
	pattern := strings.ReplaceAll(regexp.QuoteMeta(format), "%s", "(.*)")
	return sentence{regexp.MustCompile("(?s)^" + pattern + "$"), func(args ...any) words.Text { return words.Say(format, args...) }}
}

// raised finds the sentence, and gives it in English where it is not known:
// those of the log's functions reach no person.
func raised(message string) words.Text {
	for _, s := range sentences {
		found := s.text.FindStringSubmatch(message)
		if found == nil {
			continue
		}
		args := make([]any, len(found)-1)
		for i, arg := range found[1:] {
			args[i] = arg
			if slices.Contains(states, commissioning.State(arg)) {
				args[i] = commissioning.State(arg).Name()
			}
		}
		return s.say(args...)
	}
	return words.Plain(message)
}

var states = []commissioning.State{commissioning.Open, commissioning.Submitted, commissioning.Released, commissioning.Abandoned}

// sentences of the migrations; a test holds them to the functions that stand. The
// more there is in a sentence, the earlier it is tried.
var sentences = []sentence{
	raises("Somebody who worked on this run gave you access or new proofs of identity less than 24 hours ago. Wait, or let someone else countersign."),
	raises("You read \"%s\" before, and the first reading counts. If it was wrong, say so as the reason for the difference."),
	raises("This record has been changed since it was stored (%s). Nothing can be signed on top of it; tell quality."),
	raises("After the engineer signed, %s recorded of unit %s: %s. Return the run; it must be proven again."),
	raises("You handed in 500 photos within a day, which is the most there may be. Go on tomorrow."),
	raises("This form was sent before with other content. Open the unit's page and record it anew."),
	raises("%s saved this draft after your page was made. What you typed is still here, not saved."),
	raises("This revision is approved. Retire the procedure instead, or draft the next revision."),
	raises("Somebody else holds the pen of this run. Take the pen first; both of you are named."),
	raises("An entry with this id was stored before with other content. Nothing was stored now."),
	raises("Only an engineer of this site may add entries. Ask the engineer who holds the pen."),
	raises("There is a procedure with the key %s. Draft a revision of it, or choose another key."),
	raises("This draft was submitted or thrown away. Look under Procedures what became of it."),
	raises("Only a supervisor of this site may rule on an entry. Ask one to open this run."),
	raises("All of these certificates are withdrawn already. There is nothing left to do."),
	raises("This revision is not approved. Ask quality to approve it, or choose another."),
	raises("Only an engineer or a supervisor of this site may record an event of a unit."),
	raises("Only the holder of the pen or a supervisor of this site may abandon a run."),
	raises("This run was opened differently before. Start again from the unit's page."),
	raises("Run %s has changed since your page was made. Look at it again, then sign."),
	raises("This form was sent before with other content. Search for the lot anew."),
	raises("Revision %s of %s exists with other content. Give yours the next number."),
	raises("This draft is to be %s revision %s. Set key and revision so in the YAML."),
	raises("You wrote this revision. Someone else in quality must approve it."),
	raises("Revision %s of this procedure is approved by now. Choose that one."),
	raises("This run has 60 photos already, which is the most it can hold."),
	raises("Only who worked on this draft, or quality, may throw it away."),
	raises("Only an engineer of this site may leave entries with a run."),
	raises("A logger may add readings, faults, starts and stops only."),
	raises("Only engineers, supervisors and quality draft procedures."),
	raises("Only the engineer who holds the pen may submit this run."),
	raises("You worked on this run. Someone else must rule on it."),
	raises("%s rejected this revision. A new one has to be drafted."),
	raises("You ruled on this run. Someone else must work on it."),
	raises("That lies ahead. Give the time at which it happened."),
	raises("You worked on this run. Someone else must sign."),
	raises("This procedure is retired. Choose another one."),
	raises("Only an engineer of this site may open a run."),
	raises("Run %s is %s, not waiting for a countersignature."),
	raises("Only quality decides on a procedure revision."),
	raises("Run %s is %s. Only an open run can be abandoned."),
	raises("Run %s is %s. Only an open run can be submitted."),
	raises("Only a supervisor of this site may do that."),
	raises("Only quality may withdraw a certificate."),
	raises("Certificate %s was withdrawn before, by %s."),
	raises("An entry carries somebody else's name."),
	raises("Run %s is %s. Nothing can be added to it."),
	raises("Only quality may approve a procedure."),
	raises("Logger %s does not report for unit %s."),
	raises("%s approved this revision before."),
	raises("%s rejected this revision before."),
	raises("%s retired this procedure before."),
	raises("Unit %s is not free: run %s is %s."),
	raises("There is no such revision."),
	raises("There is no certificate %s."),
	raises("There is no such run."),
	raises("There is no unit %s."),
}
