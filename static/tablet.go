package static

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"regexp"
	"slices"
	"strings"
)

// scripts in the order in which they are joined to the one module that every
// page loads: it lets a page work without the server, and follow it live.
var scripts = []string{"words", "store", "clock", "keep", "outbox", "drafts", "save", "pencil", "start"}

// rareScripts are joined to the module that a page loads when it needs it.
var rareScripts = []string{"rare/core", "rare/list", "rare/photo", "rare/draw"}

func tablet() []byte {
	var out bytes.Buffer
	join(&out, scripts)
	for _, name := range []string{"js/tap.js", "js/focus.js", "js/scan.js", "js/live.js", "js/run.js"} {
		raw, err := files.ReadFile(name)
		if err != nil {
			panic(err)
		}
		out.WriteString("{\n") // a scope of its own
		out.Write(raw)
		out.WriteString("}\n")
	}
	return out.Bytes()
}

// rare uses what the module at the address core gives it.
func rare(core string) []byte {
	var out bytes.Buffer
	join(&out, rareScripts)
	return bytes.Replace(out.Bytes(), []byte(`"tablet"`), []byte(`"`+core+`"`), 1)
}

func join(out *bytes.Buffer, names []string) {
	for _, name := range names {
		text := scriptTypes.ReplaceAll(script(name), nil)
		out.Write(scriptRemarks.ReplaceAll(text, []byte("\n")))
	}
}

// Types, and comments on lines of their own, are like those of the sheets for
// whoever reads the files here.
var (
	scriptTypes   = regexp.MustCompile(`(?s)/\*\*.*?\*/ ?`)
	scriptRemarks = regexp.MustCompile(`\n\s*//[^\n]*|\n\s+`)
)

// script gives one file of the folder tablet.
func script(name string) []byte {
	raw, err := files.ReadFile("tablet/" + name + ".js")
	if err != nil {
		panic(err)
	}
	return raw
}

// Worker is the service worker, with the addresses of the files that it keeps
// in front: the same names that the pages use. offline is the page that it
// shows where it has no copy.
func Worker(offline string) []byte {
	body := script("worker")
	list, err := json.Marshal(shell())
	if err != nil {
		panic(err)
	}
	page, err := json.Marshal(offline)
	if err != nil {
		panic(err)
	}
	sum := sha256.Sum256(slices.Concat(body, list, page))
	head := "const BUILD = \"" + hex.EncodeToString(sum[:6]) + "\", ASSETS = " + string(list) + ", OFFLINE = " + string(page) + ";\n"
	return append([]byte(head), body...)
}

// Remover is served in place of the worker where it is switched off.
func Remover() []byte { return script("remover") }

// inside others are these scripts; no page loads them by themselves.
var inside = []string{"js/htmx.js", "js/htmx-sse.js", "js/focus.js", "js/live.js", "js/run.js", "js/scan.js", "js/tap.js"}

// shell lists what pages load; sheets that are joined are in the joined one.
func shell() []string {
	byName, _ := load()
	var urls []string
	for name, a := range byName {
		part, isSheet := strings.CutPrefix(strings.TrimSuffix(name, ".css"), "css/")
		if isSheet && slices.Contains(sheets, part) || slices.Contains(inside, name) || strings.HasSuffix(name, ".png") {
			continue
		}
		urls = append(urls, a.url)
	}
	slices.Sort(urls)
	return urls
}
