package certificate

import "settlemark/internal/chart"

// greys of the inks on paper. What differs differs in shape too.
var greys = map[chart.Ink]int{
	chart.Black: 0, chart.Second: 45, chart.Pencil: 105, chart.Sheet: 255, chart.Band: 228, chart.Limit: 85,
	chart.Bad: 0, chart.Warn: 0, chart.Void: 150, chart.Seal: 0, chart.Frame: 110,
}

// drawChart writes the chart with its heading and the facts of the hold.
func (p *paper) drawChart() {
	scale := p.width() / p.doc.Chart.Width.Units() * p.scale
	h := p.doc.Chart.Height.Units() * scale
	p.title(p.doc.Heading, h+4)
	p.paint(p.doc.Chart, marginX, p.y+2, scale)
	p.y += h + 4
	if len(p.doc.Hold) > 0 {
		p.grid(p.doc.Hold, min(len(p.doc.Hold), 5))
	}
}

// paint walks the marks of a chart; x and y are its upper left corner.
func (p *paper) paint(c chart.Chart, x, y, scale float64) {
	if p.dry {
		return
	}
	at := func(t chart.Tenth) float64 { return t.Units() * scale }
	for _, m := range c.Marks {
		style := p.pens(m, scale)
		switch {
		case m.Text != "":
			a := map[chart.Anchor]align{chart.Middle: centre, chart.End: right}[m.Anchor]
			weight := ""
			if m.Bold {
				weight = "B"
			}
			p.text(x+at(m.X), y+at(m.Y), at(m.Size), weight, greys[m.Fill], a, m.Text)
		case style == "":
		case m.R > 0:
			p.pdf.Circle(x+at(m.X), y+at(m.Y), at(m.R), style)
		default:
			for _, line := range m.Lines {
				for i := 0; i+1 < len(line); i += 2 {
					if i == 0 {
						p.pdf.MoveTo(x+at(line[i]), y+at(line[i+1]))
					} else {
						p.pdf.LineTo(x+at(line[i]), y+at(line[i+1]))
					}
				}
				if m.Closed {
					p.pdf.ClosePath()
				}
			}
			p.pdf.DrawPath(style)
		}
	}
	p.pdf.SetDashPattern(nil, 0)
}

// pens sets greys, width and dashes of a mark and gives how to paint its path.
func (p *paper) pens(m chart.Mark, scale float64) string {
	style := ""
	if m.Fill != chart.None {
		p.pdf.SetFillColor(greys[m.Fill], greys[m.Fill], greys[m.Fill])
		style = "F"
	}
	if m.Line != chart.None {
		p.pdf.SetDrawColor(greys[m.Line], greys[m.Line], greys[m.Line])
		p.pdf.SetLineWidth(m.Width.Units() * scale)
		style += "D"
	}
	var dash []float64
	for _, d := range m.Dash {
		dash = append(dash, d.Units()*scale)
	}
	p.pdf.SetDashPattern(dash, 0)
	return style
}
