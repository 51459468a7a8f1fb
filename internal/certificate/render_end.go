package certificate

import (
	"encoding/hex"
	"fmt"
	"slices"
	"strings"

	"rsc.io/qr"

	"settlemark/internal/chart"
)

// drawSample writes both readings of the print sample and the photos.
func (p *paper) drawSample(prints []print) {
	if p.doc.Sample == nil && len(prints) == 0 {
		return
	}
	const photoHigh = 118
	high := 0.0
	if len(prints) > 0 {
		high = photoHigh*p.scale + 16
	}
	heading := "Print sample"
	if slices.ContainsFunc(p.doc.Pictures, func(pic Picture) bool { return !pic.Sample }) {
		heading = "Print sample and photos"
	}
	p.title(heading, high+34*p.scale)
	size := 9 * p.scale
	if s := p.doc.Sample; s != nil {
		agree := "The two readings agree, spaces and letter case aside; the second was typed without sight of the first."
		if !s.Agrees {
			agree = "The two readings differ. Released because: “" + s.Reason + "”"
		}
		p.paragraph(marginX, p.width(), size, "B", black, fmt.Sprintf("Engineer read “%s”, supervisor read “%s”.", s.Engineer, s.Supervisor))
		p.paragraph(marginX, p.width(), size, "", black, agree)
	}
	p.drawPrints(prints, photoHigh*p.scale)
	if p.doc.More != "" {
		p.paragraph(marginX, p.width(), 8*p.scale, "", dark, p.doc.More)
	}
}

func (p *paper) drawPrints(prints []print, high float64) {
	if len(prints) == 0 {
		return
	}
	const gap = 10
	size := 7.5 * p.scale
	most := (p.width() - gap*float64(len(prints)-1)) / float64(len(prints))
	p.y += 6
	deep := 0.0
	for i, ph := range prints {
		h, w := high, high*float64(ph.width)/float64(ph.height)
		if w > most {
			h, w = most*float64(ph.height)/float64(ph.width), most
		}
		x := marginX + float64(i)*(most+gap)
		p.picture(ph, x, p.y, w, h)
		lines := p.clip(p.wrap(p.doc.Pictures[i].Caption, most, size, ""), 3, most, size, "")
		for j, line := range lines {
			p.text(x, p.y+h+float64(j+1)*size*1.3, size, "", dark, left, line)
		}
		deep = max(deep, h+float64(len(lines))*size*1.3)
	}
	p.y += deep + 4
}

// drawSignatures joins the two halves and names both people in full.
func (p *paper) drawSignatures() {
	size := 9 * p.scale
	high := 62 * p.scale
	head, err := hex.DecodeString(p.doc.Record.Head)
	if err != nil {
		p.pdf.SetErrorf("record head: %v", err)
		return
	}
	p.need(high + 150*p.scale)
	p.y += 16
	p.doubleRule(p.y)
	p.y += 12
	p.paint(chart.Split(head, p.width(), high, chart.ByBoth), marginX, p.y, 1)
	p.y += high + 6
	top, w, deep := p.y, (p.width()-20)/2, p.y
	for i, s := range p.doc.Signatures {
		x := marginX + float64(i)*(w+20)
		p.y = top
		p.paragraph(x, w, size*1.25, "B", black, s.Name+", "+s.Role)
		p.paragraph(x, w, size, "", black, "“"+s.Meaning+"”")
		p.paragraph(x, w, size, "", black, "Signed "+s.At+", "+s.Method)
		p.paragraph(x, w, size*0.8, "", dark, "bound to record "+grouped(s.Head[:min(16, len(s.Head))])+" …")
		deep = max(deep, p.y)
	}
	p.y = deep + 4
}

// drawRecord writes hash, code, address and what the paper is worth.
func (p *paper) drawRecord() {
	const side = 92.0
	size := 8 * p.scale
	p.need(side + 70)
	p.y += 6
	p.rule(p.y, 0.8)
	p.y += 6
	top := p.y
	p.qr(p.right()-side, p.y+2, side)
	w := p.width() - side - 18
	for _, v := range p.doc.Validity {
		p.paragraph(marginX, w, size*1.06, "B", black, v)
	}
	r := p.doc.Record
	p.paragraph(marginX, w, size, "", black, fmt.Sprintf("Record of run %s, %d entries, SHA-256 %s", r.Run, r.Entries, grouped(r.Head)))
	p.paragraph(marginX, w, size, "", black, "Text of the procedure, SHA-256 "+grouped(r.Text))
	p.paragraph(marginX, w, size, "", black, "This document, SHA-256 "+grouped(p.hash))
	p.paragraph(marginX, w, size*1.12, "B", black, "Code to type: "+code(p.doc.Number, p.hash))
	if p.doc.Verify != "" {
		p.paragraph(marginX, w, size, "", black, "Check it at "+p.doc.Verify)
	}
	p.y = max(p.y, top+side+6)
	for _, c := range p.doc.Closing {
		p.paragraph(marginX, p.width(), size, "", black, c)
	}
	p.need(20)
	p.y += 14
	p.text(p.w/2, p.y, 9, "B", black, centre, fmt.Sprintf("End of certificate %s", p.doc.Number))
	p.y += 5
	p.doubleRule(p.y)
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
	text := strings.ReplaceAll(code(p.doc.Number, p.hash), " ", "-")
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
