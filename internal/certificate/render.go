package certificate

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"fmt"

	"github.com/jung-kurt/gofpdf"
)

// mostPages is how many pages a certificate may have, whatever the run's size.
const mostPages = 4

// density is how tightly a run is set: the scale of type and gaps, and how many
// lines a cell or a remark may have.
type density struct {
	scale float64
	lines int
}

// densities are tried in turn until the pages are few enough.
var densities = []density{{1, 9}, {0.9, 6}, {0.8, 4}, {0.75, 2}}

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

// drawDocument is the renderer of this build.
func drawDocument(doc Document, record []byte, prints []print, proof []byte) ([]byte, error) {
	sum := sha256.Sum256(record)
	hash := hex.EncodeToString(sum[:])
	for i, set := range densities {
		// The first pass counts the pages, the second names the count on each.
		first, err := drawPages(doc, prints, hash, set, 0)
		if err != nil {
			return nil, err
		}
		pages := first.PageCount()
		if pages > mostPages && i < len(densities)-1 {
			continue
		}
		second, err := drawPages(doc, prints, hash, set, pages)
		if err != nil {
			return nil, err
		}
		return finish(doc, second, attachments(doc, record, proof))
	}
	return nil, fmt.Errorf("certificate %s: no scale to draw it at", doc.Number)
}

func drawPages(doc Document, prints []print, hash string, set density, total int) (*gofpdf.Fpdf, error) {
	p, err := newPaper(doc, hash, set, total)
	if err != nil {
		return nil, fmt.Errorf("certificate %s: %w", doc.Number, err)
	}
	p.drawHead()
	p.drawOdd()
	p.drawChart()
	for _, t := range doc.Tables {
		p.drawTable(t)
	}
	p.drawSample(prints)
	p.drawSignatures()
	p.drawRecord()
	if err := p.pdf.Error(); err != nil {
		return nil, fmt.Errorf("certificate %s: %w", doc.Number, err)
	}
	return p.pdf, nil
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
	patched, err := patch(out.Bytes(), doc.Signer != "")
	if err != nil {
		return nil, fmt.Errorf("certificate %s: %w", doc.Number, err)
	}
	return patched, nil
}
