package certificate

import (
	"bytes"
	"fmt"
	"strconv"
	"strings"
	"time"

	"github.com/jung-kurt/gofpdf"
)

// Margins in points; the foot holds number and page.
const (
	marginX   = 43.0
	marginTop = 42.0
	marginEnd = 52.0
	fontName  = "text"
)

// Greys of the paper.
const (
	black   = 0
	dark    = 60
	hair    = 120
	demoInk = 224 // readable text on it, and it on a grey printer
)

// paper is one PDF in the making. scale shrinks type and gaps when a run has
// more to say than four pages hold.
type paper struct {
	pdf *gofpdf.Fpdf
	doc printed
	pass
	page    int
	filled  float64                               // height of what stands on the pages before
	marks   struct{ sample, prints, end float64 } // for room
	wrapped map[wrapping][]string
	w, h    float64
	y       float64
}

// wrapping is a text with the room that it has.
type wrapping struct {
	text, style string
	width, size float64
}

// pass is one way through the document. A dry one draws nothing and finds out
// how much there is.
type pass struct {
	density
	dry   bool
	total int     // pages, known from a dry pass
	roomy float64 // height for the photos on the last page, 0 to set them where they fall
	apart bool    // the signatures begin the last page
}

// here is how much the paper holds so far, in height.
func (p *paper) here() float64 { return p.filled + p.y - marginTop }

// spills says that the last page holds little beside what the others do.
func (p *paper) spills() bool {
	return p.page > 1 && p.y < marginTop+0.35*(p.bottom()-marginTop)
}

// room gives the height that the photos may take on a last page of their own
// with the signatures, when that page would else be mostly empty; 0 when not.
func (p *paper) room() float64 {
	const full, least = 0.7, 100
	page := p.bottom() - marginTop
	if len(p.doc.Pictures) == 0 || p.page == 1 || p.y > marginTop+full*page {
		return 0
	}
	captions := 2 * (10 + captionLines*7.5*1.3*p.scale)
	room := page - (p.marks.prints - p.marks.sample) - (p.here() - p.marks.end) - captions
	if room < least {
		return 0
	}
	return room
}

func newPaper(doc printed) (*paper, error) {
	released, err := time.Parse(time.RFC3339, doc.ReleasedAt)
	if err != nil {
		return nil, fmt.Errorf("certificate %s: released at: %w", doc.Number, err)
	}
	pdf := gofpdf.New("P", "pt", doc.Paper, "")
	pdf.SetCatalogSort(true)
	pdf.SetCompression(true)
	pdf.SetCreationDate(released.UTC())
	pdf.SetModificationDate(released.UTC())
	pdf.SetTitle(printable(joined(", ", doc.around.Certificate, doc.around.Unit)), true)
	pdf.SetSubject(doc.around.Title, true)
	pdf.SetAuthor(printable(doc.Issuer), true)
	pdf.SetCreator("Settlemark", true)
	pdf.SetProducer(fmt.Sprintf("Settlemark, renderer %d", doc.Renderer), true)
	pdf.SetAutoPageBreak(false, 0)
	pdf.SetMargins(marginX, marginTop, marginX)
	pdf.AddUTF8FontFromBytes(fontName, "", bytes.Clone(regular))
	pdf.AddUTF8FontFromBytes(fontName, "B", bytes.Clone(bold))
	p := &paper{pdf: pdf, doc: doc, wrapped: map[wrapping][]string{}}
	p.w, p.h = pdf.GetPageSize()
	return p, pdf.Error()
}

// begin starts a pass on its first page.
func (p *paper) begin(next pass) {
	*p = paper{pdf: p.pdf, doc: p.doc, w: p.w, h: p.h, wrapped: p.wrapped, pass: next}
	p.turn()
}

func (p *paper) width() float64  { return p.w - 2*marginX }
func (p *paper) right() float64  { return p.w - marginX }
func (p *paper) bottom() float64 { return p.h - marginEnd }

// turn begins a page: the demo mark first, so that it lies behind the text, and
// the foot.
func (p *paper) turn() {
	if p.page > 0 {
		p.filled = p.here()
	}
	p.page++
	p.y = marginTop
	if p.dry {
		return
	}
	p.pdf.AddPage()
	if p.doc.Demo {
		p.demo()
	}
	p.rule(p.h-marginEnd+14, 0.5)
	y := p.h - marginEnd + 26
	side, middle := p.width()/4-8, p.width()/2
	p.text(marginX, y, 7.5, "", dark, left, p.oneLine(joined(", ", p.doc.around.Certificate, p.doc.around.Unit), side, 7.5, ""))
	p.text(p.w/2, y, 7.5, "", dark, centre, p.oneLine(p.doc.Issuer, middle, 7.5, ""))
	p.text(p.right(), y, 7.5, "", dark, right, with(p.doc.around.Page, "{page}", strconv.Itoa(p.page), "{pages}", strconv.Itoa(p.total)))
}

// demo writes DEMO across the page.
func (p *paper) demo() {
	const size = 190
	p.pdf.TransformBegin()
	p.pdf.TransformRotate(52, p.w/2, p.h/2)
	p.text(p.w/2, p.h/2+size*0.35, size, "B", demoInk, centre, p.doc.around.Demo)
	p.pdf.TransformEnd()
	p.text(p.w/2, 24, 8, "B", dark, centre, p.doc.around.Made)
}

// need begins a new page when less than h is left on this one.
func (p *paper) need(h float64) {
	if p.y+h > p.bottom() {
		p.turn()
	}
}

// align of a text about its x.
type align float64

const (
	left   align = 0
	centre align = 0.5
	right  align = 1
)

func (p *paper) font(size float64, style string) {
	p.pdf.SetFont(fontName, style, size)
}

// text writes one line as it can stand on paper; y is its base line.
func (p *paper) text(x, y, size float64, style string, grey int, a align, t string) {
	if p.dry {
		return
	}
	t = printable(t)
	p.font(size, style)
	p.pdf.SetTextColor(grey, grey, grey)
	p.pdf.Text(x-float64(a)*p.pdf.GetStringWidth(t), y, t)
}

// measure gives the width of a text as it will be printed.
func (p *paper) measure(t string, size float64, style string) float64 {
	p.font(size, style)
	return p.pdf.GetStringWidth(printable(t))
}

// wrap breaks a text into lines of at most the width; a word that is longer
// than a line is broken within. The last pass asks for what a dry one has found.
func (p *paper) wrap(t string, width, size float64, style string) []string {
	p.font(size, style)
	key := wrapping{t, style, width, size}
	if lines, known := p.wrapped[key]; known {
		return lines
	}
	symbols := p.pdf.GetStringSymbolWidth
	space := symbols(" ")
	fits := func(symbols int) bool { return float64(symbols)*size/1000 <= width }
	var lines []string
	line, long := "", 0
	for _, word := range p.words(t) {
		more := symbols(word)
		if line != "" {
			if fits(long + space + more) {
				line, long = line+" "+word, long+space+more
				continue
			}
			lines = append(lines, line)
		}
		for !fits(more) {
			head := p.head(word, width)
			lines = append(lines, head)
			word = word[len(head):]
			more = symbols(word)
		}
		line, long = word, more
	}
	if line != "" || len(lines) == 0 {
		lines = append(lines, line)
	}
	p.wrapped[key] = lines
	return lines
}

// words parts a text where a line may end. From renderer 3 on a unit stays with
// its number.
func (p *paper) words(t string) []string {
	all := strings.FieldsFunc(printable(t), func(r rune) bool { return r == ' ' })
	if p.doc.Renderer < 3 {
		return all
	}
	var out []string
	for _, word := range all {
		if n := len(out); n > 0 && unitSigns[strings.TrimRight(word, ".,;:)”“")] && endsInDigit(out[n-1]) {
			out[n-1] += " " + word
			continue
		}
		out = append(out, word)
	}
	return out
}

// unitSigns are what stands behind a number; "h" and "min" stand behind two.
var unitSigns = map[string]bool{
	"%": true, "s": true, "min": true, "h": true, "mL": true, "L": true,
	"mPa·s": true, "Pa·s": true, "cP": true, "°C": true, "°F": true, "K": true, "kPa": true, "bar": true, "psi": true, "MPa": true,
}

func endsInDigit(word string) bool { return word[len(word)-1] >= '0' && word[len(word)-1] <= '9' }

// clip keeps the first lines and marks that there was more.
func (p *paper) clip(lines []string, most int, width, size float64, style string) []string {
	if len(lines) <= most {
		return lines
	}
	last := strings.TrimSpace(lines[most-1])
	for last != "" && p.measure(last+"…", size, style) > width {
		r := []rune(last)
		last = string(r[:len(r)-1])
	}
	return append(lines[:most-1:most-1], last+"…")
}

func (p *paper) oneLine(t string, width, size float64, style string) string {
	return p.clip(p.wrap(t, width, size, style), 1, width, size, style)[0]
}

// head gives the longest beginning of a word that fits, at least one letter.
func (p *paper) head(word string, width float64) string {
	end := 0
	for i, r := range word {
		next := i + len(string(r))
		if end > 0 && p.pdf.GetStringWidth(word[:next]) > width {
			break
		}
		end = next
	}
	return word[:end]
}

// paragraph writes wrapped text at the cursor and moves it.
func (p *paper) paragraph(x, width, size float64, style string, grey int, t string) {
	for _, line := range p.wrap(t, width, size, style) {
		p.need(size * 1.3)
		p.y += size * 1.3
		p.text(x, p.y-0.28*size, size, style, grey, left, line)
	}
}

// rule draws a line across the page.
func (p *paper) rule(y, width float64) {
	if p.dry {
		return
	}
	p.pdf.SetDrawColor(hair, hair, hair)
	if width > 0.7 {
		p.pdf.SetDrawColor(black, black, black)
	}
	p.pdf.SetLineWidth(width)
	p.pdf.SetDashPattern(nil, 0)
	p.pdf.Line(marginX, y, p.right(), y)
}

// doubleRule is the mark of what is final.
func (p *paper) doubleRule(y float64) {
	p.rule(y, 0.9)
	p.rule(y+2.6, 0.9)
}

// title heads a part and keeps it with the first lines that follow.
func (p *paper) title(t string, follow float64) {
	size := 11 * p.scale
	lines := p.wrap(t, p.width(), size, "B")
	p.need(size*(1+1.2*float64(len(lines))) + follow)
	p.y += size * 0.8
	for _, line := range lines {
		p.y += size * 1.2
		p.text(marginX, p.y-0.4*size, size, "B", black, left, line)
	}
}
