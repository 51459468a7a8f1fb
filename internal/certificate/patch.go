package certificate

import (
	"bytes"
	"errors"
	"fmt"
	"strconv"

	"settlemark/internal/words"
)

// version is what every certificate file begins with. gofpdf writes 1.3, to
// which a later signature cannot be added cleanly.
const version = "%PDF-1.7"

// catalogMark is where the catalog begins; extra is what gofpdf cannot say: the
// language of the text, and that readers show the title.
const (
	catalogMark = "/Type /Catalog\n"
	extra       = "/Lang (%s)\n/ViewerPreferences << /DisplayDocTitle true >>\n"
	startMark   = "startxref\n"
)

// permit makes the signature to come the one that says what may be changed
// later: nothing. It is an object of its own because the signing library copies
// references of the catalog as they are, and what stands in it not.
const (
	permitKey = "/Perms %d 0 R\n"
	permit    = "<< /DocMDP %d 0 R >>\n"
)

var errShape = errors.New("the PDF library wrote another layout than expected")

// patch sets the version and completes the catalog, which is the last object,
// so that only the place of the cross-reference table moves; a file that will
// be signed gets one object more behind it.
func patch(pdf []byte, language words.Language, toSign bool) ([]byte, error) {
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
	rows, more := pdf[table:start], fmt.Sprintf(extra, language)
	object := ""
	if toSign {
		size := bytes.Count(rows, []byte(" n \n")) + 1
		more += fmt.Sprintf(permitKey, size)
		object = fmt.Sprintf("%d 0 obj\n"+permit+objectMark, size, signatureObject(size+1))
		if rows, err = addRow(rows, size, table+len(more)); err != nil {
			return nil, err
		}
	}
	var out bytes.Buffer
	out.WriteString(version)
	out.Write(pdf[len(version) : at+len(catalogMark)])
	out.WriteString(more)
	out.Write(pdf[at+len(catalogMark) : table])
	out.WriteString(object)
	out.Write(rows)
	fmt.Fprintf(&out, "%s%d\n", startMark, table+len(more)+len(object))
	out.Write(rest)
	return out.Bytes(), nil
}

// addRow gives the cross-reference table and the trailer one object more.
func addRow(rows []byte, size, place int) ([]byte, error) {
	for _, change := range [][2]string{
		{fmt.Sprintf("xref\n0 %d\n", size), fmt.Sprintf("xref\n0 %d\n", size+1)},
		{"trailer\n", fmt.Sprintf("%010d 00000 n \ntrailer\n", place)},
		{fmt.Sprintf("/Size %d\n", size), fmt.Sprintf("/Size %d\n", size+1)},
	} {
		if bytes.Count(rows, []byte(change[0])) != 1 {
			return nil, errShape
		}
		rows = bytes.Replace(rows, []byte(change[0]), []byte(change[1]), 1)
	}
	return rows, nil
}
