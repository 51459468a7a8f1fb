package certificate

import (
	"bytes"
	"encoding/hex"
	"fmt"
	"regexp"
	"strings"
)

// seal is the signature of a file: what it covers, all of the file but itself.
type seal struct {
	before, after []byte
	cms           []byte
}

const (
	contentsMark = " /Contents"
	rangeSpace   = "/ByteRange[0 ********** ********** **********]" // what the signing library sets aside
	endMark      = "%%EOF\n"
)

// The update that the signing library appends, number by number. Nothing in it
// is left to whoever wrote it: Read puts it together anew and compares.
const (
	sealHead = "\n\n%d 0 obj\n<<\n /Type /Sig\n /Filter /Adobe.PPKLite\n /SubFilter /adbe.pkcs7.detached\n" +
		" /Prop_Build <<\n   /App << /Name /Digitorus#20PDFSign >>\n >>\n %s" + contentsMark
	sealTail = "\n /Reference [\n << /Type /SigRef\n /TransformMethod /DocMDP\n /TransformParams <<\n   /Type /TransformParams\n" +
		"   /P 1   /V /1.2\n   /DigestMethod /SHA256\n   >>\n >> ]>>\nendobj\n"
	sealField = "\n%d 0 obj\n<<\n  /Type /Annot\n  /Subtype /Widget\n  /Rect [0 0 0 0]\n  /P %d 0 R\n  /F 132\n  /FT /Sig\n" +
		"  /T (Signature 1)\n  /V %d 0 R\n>>\nendobj\n"
	sealRoot = "\n%d 0 obj\n<<\n  /Type /Catalog\n  /Lang (%s)\n  /Names <</EmbeddedFiles <</Names [%s]>>>>\n  /Pages 1 0 R\n" +
		"  /Perms %d 0 R\n  /ViewerPreferences <</DisplayDocTitle true>>\n  /AcroForm <<\n    /Fields [%d 0 R]\n    /SigFlags 3\n  >>\n>>\nendobj\n"
	sealTable = "\nxref\n%d 3\n%010d 00000 n\r\n%010d 00000 n\r\n%010d 00000 n\r\n" +
		"trailer\n<<\n/Size %d\n/Root %d 0 R\n    /Prev %d\n/Info %d 0 R\n>>\nstartxref\n\n%d\n%s"
)

var (
	sealEnd    = regexp.MustCompile(`\n    /Prev (\d{1,8})\n/Info \d{1,4} 0 R\n>>\nstartxref\n\n\d{1,8}\n%%EOF\n$`)
	langShape  = regexp.MustCompile(`\n/Lang \(([a-z]{2})\)\n`)
	namesShape = regexp.MustCompile(`/EmbeddedFiles << /Names \[([^\]]{1,200})\] >>\n`)
)

// splitUpdate parts a signed file into what Render wrote and what the signature
// appended; update is empty when the file isn't signed.
func splitUpdate(pdf []byte) (unsigned, update []byte, err error) {
	end := sealEnd.FindSubmatch(pdf[max(0, len(pdf)-200):])
	if end == nil {
		return pdf, nil, nil
	}
	table := whole(end[1])
	if table >= len(pdf) {
		return nil, nil, notOurs("place of the first table")
	}
	at := bytes.Index(pdf[table:], []byte(endMark))
	if at < 0 {
		return nil, nil, notOurs("no end of the first part")
	}
	at += table + len(endMark)
	return pdf[:at], pdf[at:], nil
}

// readSeal takes the signature out of an update that is, but for the
// signature's own digits, exactly what belongs behind this unsigned part.
func (f file) readSeal(pdf, unsigned, update []byte) (*seal, error) {
	head, rest, ok := bytes.Cut(update, []byte(contentsMark+"<"))
	digits, tail, closed := bytes.Cut(rest, []byte(">"))
	if !ok || !closed || len(digits) > 2*mostCMS {
		return nil, notOurs("signature")
	}
	from := len(unsigned) + len(head) + len(contentsMark)
	to := from + len(digits) + 2
	covered := fmt.Sprintf("/ByteRange [0 %d %d %d]", from, to, len(pdf)-to)
	covered += strings.Repeat(" ", max(0, len(rangeSpace)-len(covered)))
	first := len(f.objects) + 1
	if string(head)+contentsMark != fmt.Sprintf(sealHead, first, covered) {
		return nil, notOurs("what the signature covers")
	}
	if want, err := f.sealRest(unsigned, to); err != nil || string(tail) != want {
		return nil, notOurs("what stands beside the signature")
	}
	cms, err := unpad(digits)
	if err != nil {
		return nil, err
	}
	return &seal{pdf[:from], pdf[to:], cms}, nil
}

// sealRest is all that stands behind the signature's digits, which end at to.
func (f file) sealRest(unsigned []byte, to int) (string, error) {
	page := 0
	for n, o := range f.objects {
		if page == 0 && bytes.HasPrefix(o, []byte("<</Type /Page\n")) {
			page = n
		}
	}
	names := namesShape.FindSubmatch(f.objects[f.root])
	lang := langShape.FindSubmatch(f.objects[f.root])
	if names == nil || lang == nil || page == 0 || f.root != len(f.objects)-2 {
		return "", notOurs("catalog or page")
	}
	list := strings.Join(strings.Fields(string(names[1])), " ")
	first := len(f.objects) + 1
	field := fmt.Sprintf(sealField, first+1, page, first)
	catalog := fmt.Sprintf(sealRoot, first+2, lang[1], list, f.root+1, first+1)
	fieldAt := to + len(sealTail) + 1
	rootAt := fieldAt + len(field)
	tableAt := rootAt + len(catalog)
	table := fmt.Sprintf(sealTable, first, len(unsigned)+2, fieldAt, rootAt,
		len(f.objects)+4, first+2, tableOf(unsigned), f.root-1, tableAt, endMark)
	return sealTail + field + catalog + table, nil
}

// unpad gives the bytes of the signature; behind them stand zeros only.
func unpad(digits []byte) ([]byte, error) {
	raw, err := hex.DecodeString(string(digits))
	if err != nil || bytes.ContainsAny(digits, "ABCDEF") || len(raw) < 4 || raw[0] != 0x30 || raw[1] != 0x82 {
		return nil, notOurs("digits of the signature")
	}
	n := 4 + int(raw[2])<<8 + int(raw[3])
	if n > len(raw) || len(bytes.TrimLeft(raw[n:], "\x00")) > 0 {
		return nil, notOurs("digits behind the signature")
	}
	return raw[:n], nil
}
