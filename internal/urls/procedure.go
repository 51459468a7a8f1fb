package urls

import (
	"net/url"
	"strconv"
)

// Patterns of procedures and their drafts.
const (
	HistoryPattern      = "/procedures/{key}"
	ComparePattern      = "/procedures/{key}/compare"
	RetirePattern       = "/procedures/{key}/retire"
	RejectPattern       = "/procedures/{key}/{revision}/reject"
	DraftsPattern       = "/drafts" // POST starts one
	DraftPattern        = "/drafts/{draft}"
	DraftYAMLPattern    = "/drafts/{draft}/yaml"
	DraftPartPattern    = "/drafts/{draft}/part"  // one part of the form
	DraftItemsPattern   = "/drafts/{draft}/items" // adds, removes and moves lines
	DraftPreviewPattern = "/drafts/{draft}/preview"
	DraftSubmitPattern  = "/drafts/{draft}/submit"
	DraftDiscardPattern = "/drafts/{draft}/discard"
)

// History is every revision of a procedure.
func History(key string) string { return "/procedures/" + url.PathEscape(key) }

// Compare shows what differs between two revisions.
func Compare(key string, from, to int) string {
	return History(key) + "/compare?from=" + strconv.Itoa(from) + "&to=" + strconv.Itoa(to)
}

// CompareForm is where two revisions are chosen.
func CompareForm(key string) string { return History(key) + "/compare" }

// Retire keeps new runs from a procedure.
func Retire(key string) string { return History(key) + "/retire" }

// Reject refuses one revision.
func Reject(key string, revision int) string { return Procedure(key, revision) + "/reject" }

// Draft is the form of a draft.
func Draft(id int64) string { return "/drafts/" + strconv.FormatInt(id, 10) }

// DraftYAML is the text of a draft.
func DraftYAML(id int64) string { return Draft(id) + "/yaml" }

// DraftLine is one line of the text.
func DraftLine(id int64, line int) string { return DraftYAML(id) + "#line-" + strconv.Itoa(line) }

// DraftPart is one part of the form, by its path in the text.
func DraftPart(id int64, at string) string {
	return Draft(id) + "/part?at=" + url.QueryEscape(at)
}

// DraftAt is the form of a draft where that part stands.
func DraftAt(id int64, at string) string { return Draft(id) + "#at-" + at }

// DraftItems adds, removes and moves lines.
func DraftItems(id int64) string { return Draft(id) + "/items" }

// DraftPreview shows a draft as the engineer will see it.
func DraftPreview(id int64) string { return Draft(id) + "/preview" }

// DraftSubmit makes a draft a revision.
func DraftSubmit(id int64) string { return Draft(id) + "/submit" }

// DraftDiscard throws a draft away.
func DraftDiscard(id int64) string { return Draft(id) + "/discard" }
