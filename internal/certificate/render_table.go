package certificate

// drawTable writes a table: each cell wrapped, each row as high as its highest
// cell, the heads again on a new page.
func (p *paper) drawTable(t Table) {
	size := 8 * p.scale
	x, w := p.columns(t, size)
	p.title(t.Title, size*5)
	if len(t.Rows) > 0 {
		p.heads(t, x, size)
	}
	for _, row := range t.Rows {
		cells := make([][]string, len(row))
		deep := 1
		for i, text := range row {
			style := ""
			if i == 0 {
				style = "B"
			}
			cells[i] = p.clip(p.wrap(text, w[i], size, style), p.lines, w[i], size, style)
			deep = max(deep, len(cells[i]))
		}
		h := float64(deep)*size*1.25 + 4.5
		if p.y+h > p.bottom() {
			p.turn()
			p.heads(t, x, size)
		}
		for i, lines := range cells {
			style := ""
			if i == 0 {
				style = "B"
			}
			for j, line := range lines {
				p.text(x[i], p.y+float64(j+1)*size*1.25, size, style, black, left, line)
			}
		}
		p.y += h
		p.rule(p.y, 0.4)
	}
	if t.Note != "" {
		p.y += 2
		p.paragraph(marginX, p.width(), size, "", dark, t.Note)
	}
}

// columns gives where each begins and how wide its text may be.
func (p *paper) columns(t Table, size float64) (x, w []float64) {
	const gap = 8
	sum := 0
	for _, c := range t.Columns {
		sum += c.Share
	}
	for _, c := range t.Columns {
		w = append(w, p.width()*float64(c.Share)/float64(sum)-gap)
	}
	if p.doc.Renderer >= 3 {
		p.widen(t, w, size)
	}
	at := marginX
	for _, wide := range w {
		x = append(x, at)
		at += wide + gap
	}
	return x, w
}

// widen gives columns the width of their longest word, so that no code is broken,
// and takes it from those that have more than they need.
func (p *paper) widen(t Table, w []float64, size float64) {
	most := p.width() / 4
	need := make([]float64, len(w))
	for i, c := range t.Columns {
		need[i] = p.longest(c.Title, size, "")
		for _, row := range t.Rows {
			style := ""
			if i == 0 {
				style = "B"
			}
			need[i] = max(need[i], p.longest(row[i], size, style))
		}
		need[i] = min(need[i], most)
	}
	lack, spare := 0.0, 0.0
	for i := range w {
		lack += max(0, need[i]-w[i])
		spare += max(0, w[i]-need[i])
	}
	if lack == 0 || lack > spare {
		return
	}
	for i := range w {
		if w[i] < need[i] {
			w[i] = need[i]
		} else {
			w[i] -= (w[i] - need[i]) * lack / spare
		}
	}
}

// longest is the width of the longest word of a text.
func (p *paper) longest(t string, size float64, style string) float64 {
	most := 0.0
	for _, word := range p.words(t) {
		most = max(most, p.measure(word, size, style))
	}
	return most
}

func (p *paper) heads(t Table, x []float64, size float64) {
	for i, c := range t.Columns {
		p.text(x[i], p.y+size, size, "", dark, left, c.Title)
	}
	p.y += size * 1.5
	p.rule(p.y, 0.8)
}
