// Package certificate makes the paper of a release.
//
// Compose turns a released run into a Document: all that the paper says, as
// plain data. Render draws a Document; the same Document gives the same bytes.
// Read takes the attachments out of such a file again and refuses any other.
//
// Compose and Render know neither the database nor the network nor the clock.
// gofpdf is imported here and nowhere else.
package certificate

import (
	"settlemark/internal/chart"
	"settlemark/internal/commissioning"
)

// Format names the shape of a Document, Renderer the version of what draws it.
const (
	Format   = "settlemark.certificate/1"
	Renderer = 3
)

// Document is everything that a certificate says, in the words in which it says
// it: instants in site time, names as printed when it was signed. Numbers are
// whole, so that its canonical JSON can be hashed.
type Document struct {
	Format     string       `json:"format"`
	Renderer   int          `json:"renderer"`
	Number     string       `json:"number"`
	Paper      string       `json:"paper"` // A4 or Letter
	Demo       bool         `json:"demo"`
	Language   string       `json:"language,omitempty"` // of the words, as in IETF language tags; "" for English
	Printed    *Printed     `json:"printed,omitempty"`  // the words around the rest; renderers before 3 bring their own
	Unit       string       `json:"unit"`
	Line       string       `json:"line"`
	Issuer     string       `json:"issuer"` // site and address
	ReleasedAt string       `json:"released_at"`
	ValidUntil string       `json:"valid_until,omitempty"` // RFC 3339, "" when the procedure sets no end
	Facts      []Fact       `json:"facts"`
	Odd        []Remark     `json:"odd"`      // out of the ordinary, first on the paper
	Ordinary   string       `json:"ordinary"` // what there was none of
	Hold       []Fact       `json:"hold"`
	Heading    string       `json:"heading"` // over the chart
	Chart      chart.Chart  `json:"chart"`
	Tables     []Table      `json:"tables"`
	Sample     *Sample      `json:"sample,omitempty"`
	Pictures   []Picture    `json:"pictures"`
	More       string       `json:"more"` // photos that are not printed
	Validity   []string     `json:"validity"`
	Signatures []Signature  `json:"signatures"`
	Record     Record       `json:"record"`
	Verify     string       `json:"verify"`           // address of the verify page, "" when the site has none
	Signer     string       `json:"signer,omitempty"` // hex SHA-256 of the certificate that signs the file
	Attached   []Attachment `json:"attached"`
	Closing    []string     `json:"closing"`
}

// Fact is a word and what it is.
type Fact struct {
	Label string `json:"label"`
	Text  string `json:"text"`
}

// Remark is one thing out of the ordinary.
type Remark struct {
	Kind string `json:"kind"`
	Text string `json:"text"`
}

// Table is rows of words under columns. Share is a column's part of the width.
type Table struct {
	Title   string     `json:"title"`
	Columns []Column   `json:"columns"`
	Rows    [][]string `json:"rows"`
	Note    string     `json:"note,omitempty"`
}

// Column is the head of a column.
type Column struct {
	Title string `json:"title"`
	Share int    `json:"share"`
}

// Sample is the print sample as two people read it, each without the other.
type Sample struct {
	Engineer   string `json:"engineer"`
	Supervisor string `json:"supervisor"`
	Agrees     bool   `json:"agrees"`
	Reason     string `json:"reason,omitempty"` // why it was released when they differ
}

// Picture is a photo that is printed. Width is that of the print in pixels.
type Picture struct {
	SHA256  string `json:"sha256"`
	Caption string `json:"caption"`
	Sample  bool   `json:"sample"`
}

// Signature is one of the two, in full.
type Signature struct {
	Person  string `json:"person"` // code, never given to anybody else
	Name    string `json:"name"`
	Role    string `json:"role"`
	Meaning string `json:"meaning"`
	At      string `json:"at"`
	Method  string `json:"method"`
	Head    string `json:"head"` // hex: what it is bound to

	Said *Said `json:"said,omitempty"` // the same in the words of the paper

	// What the signer's passkey signed over Head, so that anybody can check it.
	Passkey *commissioning.Assertion `json:"passkey,omitempty"`
}

// Record is the hash chain that both signatures stand on, with what it takes
// besides the logbook to compute it again.
type Record struct {
	Run       string `json:"run"`
	ID        string `json:"id"`
	Entries   int    `json:"entries"`
	Head      string `json:"head"`      // hex SHA-256
	Opening   string `json:"opening"`   // what the run was opened on, byte for byte: the root of the chain
	Posts     []int  `json:"posts"`     // last seq of each post
	Text      string `json:"text"`      // hex SHA-256 of the procedure's approved text
	Procedure string `json:"procedure"` // that text
}

// Attachment is a file inside the PDF, byte for byte.
type Attachment struct {
	Name string `json:"name"`
	Text string `json:"text"`
}
