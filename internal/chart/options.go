package chart

import (
	"time"

	"settlemark/internal/words"
)

// Options say how large and for whom a chart is drawn.
type Options struct {
	Width    float64        // drawing units; 530 when 0
	Height   float64        // 372 when 0
	Zone     *time.Location // of the site; UTC when nil
	Now      time.Time      // of the page; on paper the instant of judgement
	Quantity string         // key of the quantity shown; the first with a tolerance when ""
	Narrow   bool           // for a phone: 90 minutes, limits in two lines
	Paper    bool           // for the certificate: the whole run, no "now", nothing still to come
	Language words.Language // of its words and numbers; English when ""
	Class    string         // more classes of the svg element
	Prefix   string         // of the ids of title and description
}

// Screens show this much; paper shows the whole run.
const (
	window       = 150 * time.Minute
	windowNarrow = 90 * time.Minute
	shortest     = 30 * time.Minute // on paper
	shortestLive = 10 * time.Minute // on a screen, so that a hold of minutes is seen
	mostPoints   = 500
)

func (o Options) filled() Options {
	if o.Width == 0 {
		o.Width = 530
	}
	if o.Height == 0 {
		o.Height = 372
	}
	if o.Zone == nil {
		o.Zone = time.UTC
	}
	if o.Language == "" {
		o.Language = words.English
	}
	return o
}

func (o Options) window() time.Duration {
	if o.Narrow {
		return windowNarrow
	}
	return window
}

// clock writes an instant as the site's clock shows it; on paper without an
// offset, as all papers have been drawn.
func (o Options) clock(t time.Time) string {
	if o.Paper {
		return t.In(o.Zone).Format("15:04")
	}
	return words.Moment(t.In(o.Zone), "15:04")
}

// number writes a decimal with the decimal mark of the chart's language.
func (o Options) number(decimal string) string { return words.Number(decimal).In(o.Language) }
