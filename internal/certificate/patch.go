package certificate

import (
	"bytes"
	"errors"
	"fmt"
	"strconv"
)

// version is what every certificate file begins with. gofpdf writes 1.3, to
// which a later signature cannot be added cleanly.
const version = "%PDF-1.7"

// catalogMark is where the catalog begins; extra is what gofpdf cannot say: the
// language of the text, and that readers show the title.
const (
	catalogMark = "/Type /Catalog\n"
	extra       = "/Lang (en)\n/ViewerPreferences << /DisplayDocTitle true >>\n"
	startMark   = "startxref\n"
)

var errShape = errors.New("the PDF library wrote another layout than expected")

// patch sets the version and completes the catalog, which is the last object,
// so that only the place of the cross-reference table moves.
func patch(pdf []byte) ([]byte, error) {
	at := bytes.LastIndex(pdf, []byte(catalogMark))
	start := bytes.LastIndex(pdf, []byte(startMark))
	if !bytes.HasPrefix(pdf, []byte("%PDF-1.")) || at < 0 || start < at {
		return nil, errShape
	}
	digits, rest, ok := bytes.Cut(pdf[start+len(startMark):], []byte("\n"))
	table, err := strconv.Atoi(string(digits))
	if !ok || err != nil || table < at || table > start {
		return nil, errShape
	}
	var out bytes.Buffer
	out.WriteString(version)
	out.Write(pdf[len(version) : at+len(catalogMark)])
	out.WriteString(extra)
	out.Write(pdf[at+len(catalogMark) : start])
	fmt.Fprintf(&out, "%s%d\n", startMark, table+len(extra))
	out.Write(rest)
	return out.Bytes(), nil
}
