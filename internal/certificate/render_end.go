package certificate

import (
	"encoding/hex"
	"strings"

	"rsc.io/qr"

	"settlemark/internal/chart"
	"settlemark/internal/words"
)

// drawSignatures joins the two halves and names both people in full.
func (p *paper) drawSignatures() {
	size := 9 * p.scale
	high := 62 * p.scale
	head, err := hex.DecodeString(p.doc.Record.Head)
	if err != nil {
		p.pdf.SetErrorf("record head: %v", err)
		return
	}
	if p.apart && p.page < p.total {
		p.turn()
	}
	p.need(high + 150*p.scale)
	p.marks.end = p.here()
	p.y += 16
	p.doubleRule(p.y)
	p.y += 12
	p.paint(chart.Split(words.English, head, p.width(), high, chart.ByBoth), marginX, p.y, 1)
	p.y += high + 6
	top, w, deep := p.y, (p.width()-20)/2, p.y
	for i, s := range p.doc.Signatures {
		x := marginX + float64(i)*(w+20)
		p.y = top
		said := s.said()
		p.paragraph(x, w, size*1.25, "B", black, s.Name+", "+said.Role)
		p.paragraph(x, w, size, "", black, said.Meaning)
		p.paragraph(x, w, size, "", black, with(p.doc.around.Signed, "{at}", s.At, "{method}", said.Method))
		p.paragraph(x, w, size*0.8, "", dark, with(p.doc.around.Bound, "{head}", grouped(s.Head[:min(16, len(s.Head))])))
		deep = max(deep, p.y)
	}
	p.y = deep + 4
}

// drawValidity says how long the release stands and what ends it.
func (p *paper) drawValidity() {
	p.need(40)
	p.y += 4
	for _, v := range p.doc.Validity {
		p.paragraph(marginX, p.width(), 8.5*p.scale, "B", black, v)
	}
}

// drawRecord writes by what the paper can be checked, and what it is worth.
func (p *paper) drawRecord() {
	const side, label = 92.0, 96.0
	size := 8 * p.scale
	p.need(side + 90)
	p.y += 4
	p.rule(p.y, 0.8)
	p.title(p.doc.around.Of, side)
	top := p.y
	p.qr(p.right()-side, p.y+2, side)
	w := p.width() - side - 18
	for _, f := range p.doc.ofTheRecord() {
		p.y += 1.5
		p.text(marginX, p.y+size*1.02, size, "", dark, left, f.Label)
		p.paragraph(marginX+label, w-label, 7.5*p.scale, "", black, f.Text)
	}
	p.y += 2
	p.paragraph(marginX, w, size*1.25, "B", black, with(p.doc.around.Code, "{code}", code(p.doc.Number, p.doc.hash)))
	if p.doc.Verify != "" {
		p.paragraph(marginX, w, size, "", black, p.doc.around.Check)
	}
	p.y = max(p.y, top+side+6)
	for _, c := range p.doc.Closing {
		p.paragraph(marginX, p.width(), size, "", black, c)
	}
	p.need(20)
	p.y += 14
	p.text(p.w/2, p.y, 9, "B", black, centre, p.doc.around.End)
	p.y += 5
	p.doubleRule(p.y)
}

// ofTheRecord names every hash that the paper stands on.
func (d printed) ofTheRecord() []Fact {
	r := d.Record
	facts := []Fact{
		{d.around.Document, grouped(d.hash)},
		{d.around.Run, grouped(r.Head)},
		{d.around.Procedure, grouped(r.Text)},
	}
	if d.Signer != "" {
		facts = append(facts, Fact{d.around.Signer, grouped(d.Signer)})
	}
	if d.log != "" {
		facts = append(facts, Fact{d.around.Log, d.log})
	}
	return facts
}

// grouped writes a hash in groups of four.
func grouped(hash string) string {
	var parts []string
	for len(hash) > 4 {
		parts, hash = append(parts, hash[:4]), hash[4:]
	}
	return strings.Join(append(parts, hash), " ")
}

// code is what people type: the number and the first ten digits of the
// document's hash.
func code(number, hash string) string { return number + " " + hash[:5] + " " + hash[5:10] }

// Code is the short code of a document, as printed.
func (d Document) Code() (string, error) {
	sum, err := d.Hash()
	if err != nil {
		return "", err
	}
	return code(d.Number, hex.EncodeToString(sum[:])), nil
}

// qr draws the address of the verify page with the code as squares.
func (p *paper) qr(x, y, side float64) {
	if p.dry {
		return
	}
	text := strings.ReplaceAll(code(p.doc.Number, p.doc.hash), " ", "-")
	if p.doc.Verify != "" {
		text = p.doc.Verify + "?code=" + text
	}
	q, err := qr.Encode(text, qr.M)
	if err != nil {
		p.pdf.SetErrorf("code to scan: %v", err)
		return
	}
	const quiet = 2
	cell := side / float64(q.Size+2*quiet)
	p.pdf.SetFillColor(255, 255, 255)
	p.pdf.Rect(x, y, side, side, "F")
	p.pdf.SetFillColor(black, black, black)
	for row := range q.Size {
		for from := 0; from < q.Size; from++ {
			to := from
			for to < q.Size && q.Black(to, row) {
				to++
			}
			if to > from {
				p.pdf.Rect(x+cell*float64(from+quiet), y+cell*float64(row+quiet), cell*float64(to-from), cell*1.01, "F")
				from = to
			}
		}
	}
}
