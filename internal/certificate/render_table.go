package certificate

// drawTable writes a table: each cell wrapped, each row as high as its highest
// cell, the heads again on a new page.
func (p *paper) drawTable(t Table) {
	size := 8 * p.scale
	x, w := p.columns(t.Columns)
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
func (p *paper) columns(cols []Column) (x, w []float64) {
	const gap = 8
	sum := 0
	for _, c := range cols {
		sum += c.Share
	}
	at := marginX
	for _, c := range cols {
		wide := p.width() * float64(c.Share) / float64(sum)
		x, w = append(x, at), append(w, wide-gap)
		at += wide
	}
	return x, w
}

func (p *paper) heads(t Table, x []float64, size float64) {
	for i, c := range t.Columns {
		p.text(x[i], p.y+size, size, "", dark, left, c.Title)
	}
	p.y += size * 1.5
	p.rule(p.y, 0.8)
}
