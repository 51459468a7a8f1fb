package certificate

import "slices"

// mostHighPrint is how high a photo is printed where a page has room for it.
const (
	mostHighPrint = 230.0
	captionLines  = 3
)

// drawSample writes both readings of the print sample and the photos.
func (p *paper) drawSample(prints []print) {
	if p.doc.Sample == nil && len(prints) == 0 {
		return
	}
	p.marks.sample = p.here()
	if p.roomy > 0 && p.page < p.total {
		p.turn()
	}
	rows := p.rows(prints)
	high := 0.0
	if len(rows) > 0 {
		high = rows[0].high + 16
	}
	heading := p.doc.around.Sample
	if slices.ContainsFunc(p.doc.Pictures, func(pic Picture) bool { return !pic.Sample }) {
		heading = p.doc.around.Photos
	}
	p.title(heading, high+34*p.scale)
	size := 9 * p.scale
	if s := p.doc.Sample; s != nil {
		agree := p.doc.around.Agree
		if !s.Agrees {
			agree = p.doc.around.Differ
		}
		p.paragraph(marginX, p.width(), size, "B", black, p.doc.around.Read)
		p.paragraph(marginX, p.width(), size, "", black, agree)
	}
	p.marks.prints = p.here()
	for _, r := range rows {
		p.drawPrints(r)
	}
	if p.doc.More != "" {
		p.paragraph(marginX, p.width(), 8*p.scale, "", dark, p.doc.More)
	}
}

// row is photos side by side, none higher than high.
type row struct {
	prints   []print
	captions []Picture
	high     float64
}

// rows sets the photos in one row, or where there is room the print sample
// above the others.
func (p *paper) rows(prints []print) []row {
	if len(prints) == 0 {
		return nil
	}
	if p.roomy == 0 {
		return []row{{prints, p.doc.Pictures, 118 * p.scale}}
	}
	samples := slices.IndexFunc(p.doc.Pictures, func(pic Picture) bool { return !pic.Sample })
	if samples <= 0 { // no photo but the sample, or none of it
		return []row{{prints, p.doc.Pictures, min(p.roomy, mostHighPrint)}}
	}
	high := min(p.roomy/2, mostHighPrint)
	return []row{{prints[:samples], p.doc.Pictures[:samples], high}, {prints[samples:], p.doc.Pictures[samples:], high}}
}

func (p *paper) drawPrints(r row) {
	const gap = 10
	size := 7.5 * p.scale
	most := (p.width() - gap*float64(len(r.prints)-1)) / float64(len(r.prints))
	p.y += 6
	deep, x := 0.0, marginX
	for i, ph := range r.prints {
		h, w := r.high, r.high*float64(ph.width)/float64(ph.height)
		if w > most {
			h, w = most*float64(ph.height)/float64(ph.width), most
		}
		p.picture(ph, x, p.y, w, h)
		lines := p.clip(p.wrap(r.captions[i].Caption, most, size, ""), captionLines, most, size, "")
		for j, line := range lines {
			p.text(x, p.y+h+float64(j+1)*size*1.3, size, "", dark, left, line)
		}
		deep = max(deep, h+float64(len(lines))*size*1.3)
		x += most + gap
	}
	p.y += deep + 4
}
