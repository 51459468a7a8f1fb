package certificate

// drawHead writes title, number and the facts of the release.
func (p *paper) drawHead() {
	p.y += 24
	p.text(marginX, p.y, 26, "B", black, left, p.doc.around.Title)
	p.text(p.right(), p.y-14, 11, "B", black, right, p.doc.around.Certificate)
	p.text(p.right(), p.y, 10, "", black, right, p.oneLine(joined(", ", p.doc.around.Unit, p.doc.Line), p.width()/2, 10, ""))
	p.y += 11
	p.doubleRule(p.y)
	p.y += 4
	p.paragraph(marginX, p.width(), 9, "", dark, p.doc.around.Issued)
	p.y += 3
	p.grid(p.doc.Facts, 4)
}

// grid writes facts in columns, each label above its text, wrapped.
func (p *paper) grid(facts []Fact, columns int) {
	const gap = 10
	label, value := 7.5*p.scale, 9*p.scale
	w := (p.width() - gap*float64(columns-1)) / float64(columns)
	for i := 0; i < len(facts); i += columns {
		row := facts[i:min(i+columns, len(facts))]
		cells := make([][]string, len(row))
		deep := 0
		for j, f := range row {
			cells[j] = p.clip(p.wrap(f.Text, w, value, "B"), 4, w, value, "B")
			deep = max(deep, len(cells[j]))
		}
		h := label*1.7 + float64(deep)*value*1.25 + 3
		p.need(h)
		for j, f := range row {
			x := marginX + float64(j)*(w+gap)
			p.text(x, p.y+label*1.4, label, "", dark, left, f.Label)
			for k, line := range cells[j] {
				p.text(x, p.y+label*1.5+float64(k+1)*value*1.25-1, value, "B", black, left, line)
			}
		}
		p.y += h
	}
}

// drawOdd writes what was out of the ordinary before anything else, and what
// there was none of.
func (p *paper) drawOdd() {
	size := 8.5 * p.scale
	p.title(p.doc.around.Odd, size*3)
	const label = 78
	w := p.width() - label
	for _, r := range p.doc.Odd {
		lines := p.clip(p.wrap(r.Text, w, size, ""), p.lines, w, size, "")
		p.need(float64(len(lines)) * size * 1.3)
		p.triangle(marginX+4, p.y+size*0.72, size*0.42)
		p.text(marginX+12, p.y+size*1.02, size, "B", black, left, r.Kind)
		for _, line := range lines {
			p.y += size * 1.3
			p.text(marginX+label, p.y-0.28*size, size, "", black, left, line)
		}
		p.y += 1.5
	}
	if p.doc.Ordinary != "" {
		p.paragraph(marginX, p.width(), size, "", black, p.doc.Ordinary)
	}
}

// triangle points at a remark.
func (p *paper) triangle(x, y, r float64) {
	if p.dry {
		return
	}
	p.pdf.SetFillColor(black, black, black)
	p.pdf.MoveTo(x-r, y+0.8*r)
	p.pdf.LineTo(x+r, y+0.8*r)
	p.pdf.LineTo(x, y-r)
	p.pdf.ClosePath()
	p.pdf.DrawPath("F")
}
