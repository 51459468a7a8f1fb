// Package static embeds the style sheets, scripts and fonts, names each by its
// content, and serves them.
//
// Templates ask for static.URL("css/base.css"); a name that is not there
// panics, so a page test finds it. The package knows no other of ours.
package static

import (
	"bytes"
	"compress/gzip"
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"fmt"
	"io/fs"
	"mime"
	"net/http"
	"path"
	"regexp"
	"strconv"
	"strings"
	"sync"

	"github.com/andybalholm/brotli"
)

//go:embed css js fonts icons tablet
var files embed.FS

const prefix = "/assets/"

// Fonts are named inside css/fonts.css, so those names are rewritten to the
// hashed ones when the sheet is read.
type asset struct {
	url, mediaType   string
	raw, gzip, brotl []byte
}

var load = sync.OnceValues(func() (byName, byURL map[string]*asset) {
	byName, byURL = map[string]*asset{}, map[string]*asset{}
	for _, dir := range []string{"fonts", "icons", "js", "css"} { // css last: it names fonts
		names, err := fs.Glob(files, dir+"/*")
		if err != nil {
			panic(err)
		}
		for _, name := range names {
			raw, err := files.ReadFile(name)
			if err != nil {
				panic(err)
			}
			if dir == "css" {
				raw = withHashedFonts(raw, byName)
			}
			a := newAsset(name, raw)
			byName[name], byURL[a.url] = a, a
		}
	}
	core := newAsset("js/tablet.js", tablet())
	for name, raw := range map[string][]byte{
		"css/settlemark.css": joined(byName), "js/tablet.js": core.raw, "js/rare.js": rare(core.url), "js/settlemark.js": library(byName),
	} {
		a := newAsset(name, raw)
		byName[name], byURL[a.url] = a, a
	}
	return byName, byURL
})

// sheets in the order in which they are joined to one style sheet; their
// cascade layers are named in the same order. A sheet of one screen alone stays
// apart: it is for Frame.Sheets.
var sheets = []string{"fonts", "tokens", "base", "forms", "frame", "chart", "run", "tablet", "lock", "print"}

// remarks are for whoever reads the files here, not for every tablet.
var remarks = regexp.MustCompile(`(?s)/\*.*?\*/|\n\s+`)

func joined(byName map[string]*asset) []byte {
	var out bytes.Buffer
	out.WriteString("@layer tokens, base, forms, frame, screen, print;\n")
	for _, sheet := range sheets {
		out.Write(remarks.ReplaceAll(byName["css/"+sheet+".css"].raw, []byte("\n")))
	}
	return out.Bytes()
}

// library is what every page loads of htmx, in one request.
func library(byName map[string]*asset) []byte {
	return bytes.Join([][]byte{byName["js/htmx.js"].raw, byName["js/htmx-sse.js"].raw}, []byte(";\n"))
}

func withHashedFonts(css []byte, byName map[string]*asset) []byte {
	for name, a := range byName {
		css = bytes.ReplaceAll(css, []byte("url(../"+name+")"), []byte("url("+a.url+")"))
	}
	return css
}

func newAsset(name string, raw []byte) *asset {
	sum := sha256.Sum256(raw)
	ext := path.Ext(name)
	a := &asset{
		url:       prefix + strings.TrimSuffix(path.Base(name), ext) + "-" + hex.EncodeToString(sum[:6]) + ext,
		mediaType: mime.TypeByExtension(ext),
		raw:       raw,
	}
	switch ext {
	case ".woff2":
		a.mediaType = "font/woff2"
		return a // compressed already
	case ".png":
		return a
	case ".js":
		a.mediaType = "text/javascript; charset=utf-8"
	}
	a.gzip, a.brotl = squeeze(raw)
	return a
}

func squeeze(raw []byte) (gz, br []byte) {
	var g, b bytes.Buffer
	gw, _ := gzip.NewWriterLevel(&g, gzip.BestCompression) // the level is a valid one
	bw := brotli.NewWriterLevel(&b, brotli.BestCompression)
	for _, w := range []interface {
		Write([]byte) (int, error)
		Close() error
	}{gw, bw} {
		if _, err := w.Write(raw); err != nil {
			panic(err)
		}
		if err := w.Close(); err != nil {
			panic(err)
		}
	}
	return g.Bytes(), b.Bytes()
}

// URL gives the address of a file under static/, with its hash in it.
func URL(name string) string {
	byName, _ := load()
	a, ok := byName[name]
	if !ok {
		panic(fmt.Sprintf("static: no file %q", name))
	}
	return a.url
}

// Handler serves the files by their hashed names; they never change.
func Handler(w http.ResponseWriter, r *http.Request) {
	_, byURL := load()
	a, ok := byURL[r.URL.Path]
	if !ok {
		http.NotFound(w, r)
		return
	}
	h := w.Header()
	h.Set("Content-Type", a.mediaType)
	h.Set("Cache-Control", "public, max-age=31536000, immutable")
	h.Add("Vary", "Accept-Encoding")
	body, accepts := a.raw, r.Header.Get("Accept-Encoding")
	switch {
	case a.brotl != nil && strings.Contains(accepts, "br"):
		h.Set("Content-Encoding", "br")
		body = a.brotl
	case a.gzip != nil && strings.Contains(accepts, "gzip"):
		h.Set("Content-Encoding", "gzip")
		body = a.gzip
	}
	h.Set("Content-Length", strconv.Itoa(len(body)))
	if r.Method == http.MethodHead {
		return
	}
	_, _ = w.Write(body) // a reader that went away is no fault of ours
}
