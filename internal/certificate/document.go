// Package certificate makes the paper of a release.
//
// Compose turns a released run into a Document: all that the paper says, as
// plain data. Render draws a Document; the same Document gives the same bytes.
// Read takes the attachments out of such a file again and refuses any other.
//
// Compose and Render know neither the database nor the network nor the clock.
// gofpdf is imported here and nowhere else.
package certificate

// Document is everything that a certificate says.
type Document struct {
	Format string `json:"format"`
}
