package respond

import (
	"bytes"
	"compress/gzip"
	"io"
	"net/http"
	"strings"

	"github.com/andybalholm/brotli"
)

// quick is enough to make a tenth of a page, in a few milliseconds.
const quick = 5

// squeezed gives the page as its reader takes it: smaller, where it can. Only
// pages of our own site ask with a session (SameSite), so that nobody else can
// try what the length of an answer tells.
func squeezed(w http.ResponseWriter, r *http.Request, page []byte) []byte {
	w.Header().Add("Vary", "Accept-Encoding")
	var out bytes.Buffer
	var into io.WriteCloser
	coding := coding(r)
	switch coding {
	case "br":
		into = brotli.NewWriterLevel(&out, quick)
	case "gzip": // browsers take brotli over https only
		into = gzip.NewWriter(&out)
	default:
		return page
	}
	if _, err := into.Write(page); err != nil || into.Close() != nil {
		return page
	}
	w.Header().Set("Content-Encoding", coding)
	return out.Bytes()
}

func coding(r *http.Request) string {
	best := ""
	for offer := range strings.SplitSeq(r.Header.Get("Accept-Encoding"), ",") {
		switch strings.TrimSpace(offer) {
		case "br":
			return "br"
		case "gzip":
			best = "gzip"
		}
	}
	return best
}
