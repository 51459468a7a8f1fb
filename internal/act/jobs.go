package act

import "settlemark/internal/commissioning"

// Jobs are what acts leave for later, in their own transaction. Each is done by
// one act that may be called again: twice is the same as once.

// IssueJob makes the file of a release.
type IssueJob struct {
	Number commissioning.CertificateNumber `json:"number"`
}

// IssueMissingJob makes the files of all releases that have none, such as after
// a restore, which brings no jobs back.
type IssueMissingJob struct{}

// StatusListJob makes a new status list if one is due.
type StatusListJob struct{}

// StampJob has the log stamped if it was not today.
type StampJob struct{}

// Kind names the job in the queue.
func (IssueJob) Kind() string { return "issue" }

// Kind names the job in the queue.
func (IssueMissingJob) Kind() string { return "issue_missing" }

// Kind names the job in the queue.
func (StatusListJob) Kind() string { return "status_list" }

// Kind names the job in the queue.
func (StampJob) Kind() string { return "stamp" }
