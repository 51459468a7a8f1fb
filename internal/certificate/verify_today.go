package certificate

import (
	"fmt"
	"strings"
	"time"

	"settlemark/internal/commissioning"
)

// status looks the certificate up in the list of what was withdrawn or
// superseded. What stands in a list holds however old it is; that something
// does not stand in it holds only for as long as the list does.
func (i *inspection) status() (string, error) {
	list := i.trust.Status
	if list == nil {
		return "", doubt{Open, Unsettled, "no status list at hand: a withdrawal after the release would not be seen"}
	}
	if logOf(list.Origin) != logOf(i.from.Origin) {
		return "", doubt{Open, Unsettled, "the status list is of another log, " + list.Origin}
	}
	as := fmt.Sprintf("as of list %d, %s", list.Number, list.Issued.UTC().Format(time.RFC3339))
	if line, listed := list.Of(i.doc.Number); listed {
		i.known = line.Status
		return "", doubt{Against, Revoked, fmt.Sprintf("%s since %s (%s), %s", line.Status, line.At.UTC().Format(time.RFC3339), line.Reason, as)}
	}
	if list.Origin == i.from.Origin && list.LogSize <= i.proof.Index {
		return "", doubt{Open, Unsettled, "the status list does not reach as far as this certificate " + as + ": get a newer one"}
	}
	i.known = string(commissioning.Valid)
	if i.trust.Now.After(list.NextUpdate) || i.trust.MaxAge > 0 && i.trust.Now.Sub(list.Issued) > i.trust.MaxAge {
		return "", doubt{Open, Unsettled, "genuine, neither withdrawn nor superseded " + as + "; that list is too old"}
	}
	return "neither withdrawn nor superseded " + as, nil
}

// logOf is an origin without its epoch: a restored log goes on under the next.
func logOf(origin string) string {
	if at := strings.LastIndex(origin, "/"); at >= 0 {
		return origin[:at]
	}
	return origin
}

func (i *inspection) validity() (string, error) {
	until, err := i.doc.until()
	switch {
	case err != nil:
		return "", err
	case until == nil:
		return "no end set by the procedure", nil
	case i.trust.Now.After(*until):
		return "", doubt{Against, Expired, "valid until " + until.Format(time.RFC3339)}
	}
	return "valid until " + until.Format(time.RFC3339), nil
}
