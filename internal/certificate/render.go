package certificate

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"fmt"

	"github.com/jung-kurt/gofpdf"

	"settlemark/internal/ledger"
)

// mostPages is how many pages a certificate may have, whatever the run's size.
const mostPages = 4

// density is how tightly a run is set: the scale of type and gaps, and how many
// lines a cell or a remark may have.
type density struct {
	scale float64
	lines int
}

// densities are tried in turn until the pages are few enough. None below
// readable is taken only to save a page.
var densities = []density{{1, 9}, {0.95, 9}, {0.9, 6}, {0.8, 4}, {0.75, 2}, {0.7, 2}}

const readable = 0.95

// Render draws the document as a PDF with its evidence attached. photos are
// stored bytes by hex SHA-256; one that the document names and that is missing
// or not what its hash says is an error. proof shows that the document stands
// in the site's log; nil attaches none. The same three give the same bytes.
func Render(doc Document, photos map[string][]byte, proof []byte) ([]byte, error) {
	record, err := doc.Encode()
	if err != nil {
		return nil, err
	}
	again, known := renderers[doc.Renderer]
	if !known {
		return nil, fmt.Errorf("certificate %s: this build has no renderer %d", doc.Number, doc.Renderer)
	}
	prints, err := scalePictures(doc, photos)
	if err != nil {
		return nil, err
	}
	return again(doc, record, prints, proof)
}

// drawDocument is the renderer of this build; renderers before it brought the
// same words in English.
func drawDocument(doc Document, record []byte, prints []print, proof []byte) ([]byte, error) {
	sum := sha256.Sum256(record)
	around := doc.around()
	position, err := logPosition(proof, around)
	if err != nil {
		return nil, fmt.Errorf("certificate %s: %w", doc.Number, err)
	}
	printed := printed{Document: doc, around: around, hash: hex.EncodeToString(sum[:]), log: position}
	p, err := newPaper(printed)
	if err != nil {
		return nil, fmt.Errorf("certificate %s: %w", doc.Number, err)
	}
	p.draw(p.plan(prints), prints)
	if err := p.pdf.Error(); err != nil {
		return nil, fmt.Errorf("certificate %s: %w", doc.Number, err)
	}
	return finish(doc, p.pdf, attachments(doc, record, proof))
}

// plan finds out by dry passes how the document is set: at the loosest density
// that fits, or a tighter one where that saves a last page with little on it;
// and with what room for the photos. Where a last page with little on it is left,
// the signatures begin it, from renderer 3 on.
func (p *paper) plan(prints []print) pass {
	var best pass
	for i, next := range densities {
		p.draw(pass{density: next, dry: true}, prints)
		if p.page > mostPages && i < len(densities)-1 {
			continue
		}
		if best.total == 0 || p.page < best.total {
			best = pass{density: next, total: p.page, roomy: p.room()}
		}
		if !p.spills() || next.scale <= readable {
			break
		}
	}
	try := best
	if try.dry = true; best.roomy > 0 {
		if p.draw(try, prints); p.page == best.total {
			return best
		}
		best.roomy, try.roomy = 0, 0
	}
	if p.doc.Renderer < 3 {
		return best
	}
	if p.draw(try, prints); p.spills() {
		try.apart = true
		p.draw(try, prints)
		best.apart = p.page == best.total
	}
	return best
}

// printed is a document with what the paper says about it.
type printed struct {
	Document
	around Printed
	hash   string // hex, of its canonical JSON
	log    string // where it stands in the site's log, "" without a proof
}

// logPosition says in words where a proof places the document.
func logPosition(proof []byte, around Printed) (string, error) {
	if proof == nil {
		return "", nil
	}
	p, err := ledger.ReadProof(proof)
	if err != nil {
		return "", err
	}
	c, err := p.Claim()
	if err != nil {
		return "", err
	}
	return with(around.Position, "{leaf}", fmt.Sprint(p.Index), "{log}", c.Origin, "{size}", fmt.Sprint(c.Size)), nil
}

// draw goes once through the document.
func (p *paper) draw(next pass, prints []print) {
	p.begin(next)
	p.drawHead()
	p.drawOdd()
	p.drawChart()
	for _, t := range p.doc.Tables {
		p.drawTable(t)
	}
	p.drawSample(prints)
	p.drawSignatures()
	p.drawValidity()
	p.drawRecord()
}

// attachments are what the document names, the document itself and the proof.
func attachments(doc Document, record, proof []byte) []gofpdf.Attachment {
	var files []gofpdf.Attachment
	for _, a := range doc.Attached {
		files = append(files, gofpdf.Attachment{Content: []byte(a.Text), Filename: a.Name})
	}
	files = append(files, gofpdf.Attachment{Content: record, Filename: RecordName})
	if proof != nil {
		files = append(files, gofpdf.Attachment{Content: proof, Filename: ProofName})
	}
	return files
}

func finish(doc Document, pdf *gofpdf.Fpdf, files []gofpdf.Attachment) ([]byte, error) {
	pdf.SetAttachments(files)
	var out bytes.Buffer
	if err := pdf.Output(&out); err != nil {
		return nil, fmt.Errorf("certificate %s: %w", doc.Number, err)
	}
	patched, err := patch(out.Bytes(), doc.language(), doc.Signer != "")
	if err != nil {
		return nil, fmt.Errorf("certificate %s: %w", doc.Number, err)
	}
	return patched, nil
}
