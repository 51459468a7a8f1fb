package e2e_test

import (
	"context"
	"encoding/json"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/chromedp/cdproto/accessibility"
	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/chromedp"
)

var update = flag.Bool("update", false, "write anew what a screen reader is told of each page")

// TestSpoken compares what a screen reader is told of a page with what is
// stored in testdata/spoken, so that a change of it is read before it lands.
func TestSpoken(t *testing.T) {
	a := demoApp(t)
	all := screens(t, a)
	at := func(name string) string {
		return all[slices.IndexFunc(all, func(s screen) bool { return s.name == name })].path
	}
	for _, name := range []string{"sign-in", "verify", "run-step", "reading-state", "fault", "run-submitted", "review", "certificate", "person"} {
		s := all[slices.IndexFunc(all, func(s screen) bool { return s.name == name })]
		t.Run(name, func(t *testing.T) {
			b := takeTablet(t, a, true)
			if s.login != "" {
				b.carries(visitAs(t, a, s.login).cookie)
			}
			b.open(strings.Replace(s.path, at("run-hold"), at("run-step"), 1)) // whose unit stands still
			b.ask("the page has its fonts", "ready")
			got, file := b.spoken(), filepath.Join("testdata", "spoken", name+".txt")
			if *update {
				b.must(os.WriteFile(file, []byte(got), 0o600))
			}
			want, err := os.ReadFile(file)
			if err != nil {
				t.Fatal(err)
			}
			if got != string(want) {
				t.Errorf("%s is told otherwise than in %s; read the difference, then run this test with -update:\n%s", name, file, differing(string(want), got))
			}
		})
	}
}

// varying is what differs from one demo to the next; a time of yesterday has its date before it.
var varying = regexp.MustCompile(`[0-9a-f]{16,}|(\d{4}-\d\d-\d\d )?\d+`)

// spoken tells the page's accessibility tree, one thing a line, every number 0.
func (b *tab) spoken() string {
	b.t.Helper()
	var tree accessibility.GetFullAXTreeResult
	b.must(chromedp.Do(b.ctx, chromedp.Func(func(ctx context.Context, _ *chromedp.Target) (err error) {
		if _, err = chromedp.Call(ctx, accessibility.Enable, cdp.Empty{}); err != nil {
			return err
		}
		tree, err = chromedp.Call(ctx, accessibility.GetFullAXTree, accessibility.GetFullAXTreeParams{})
		return err
	})))
	nodes := map[accessibility.NodeID]*accessibility.Node{}
	for _, n := range tree.Nodes {
		nodes[n.NodeID] = n
	}
	var out strings.Builder
	var tell func(n *accessibility.Node, depth int, within string)
	tell = func(n *accessibility.Node, depth int, within string) {
		role, name := said(n.Role), said(n.Name)
		if role == "StaticText" && within != "" {
			return // its name has it
		}
		if !n.Ignored && !slices.Contains([]string{"none", "generic", "InlineTextBox", "LineBreak", "RootWebArea"}, role) {
			fmt.Fprintf(&out, "%s%s %q", strings.Repeat("  ", depth), role, varying.ReplaceAllString(name, "0"))
			for _, p := range n.Properties {
				if slices.Contains([]accessibility.PropertyName{"level", "required", "expanded", "checked", "disabled", "invalid"}, p.Name) && said(p.Value) != "false" {
					fmt.Fprintf(&out, " %s=%s", p.Name, said(p.Value))
				}
			}
			out.WriteString("\n")
			depth++
			within = name
		}
		for _, id := range n.ChildIDs {
			if child := nodes[id]; child != nil {
				tell(child, depth, within)
			}
		}
	}
	if len(tree.Nodes) > 0 {
		tell(tree.Nodes[0], 0, "")
	}
	return out.String()
}

func said(v *accessibility.Value) string {
	if v == nil {
		return ""
	}
	var text any
	if err := json.Unmarshal(v.Value, &text); err != nil || text == nil {
		return ""
	}
	return fmt.Sprint(text)
}

// differing gives the lines that stand in one text only.
func differing(want, got string) string {
	var out strings.Builder
	for _, side := range []struct{ sign, these, others string }{{"-", want, got}, {"+", got, want}} {
		others := strings.Split(side.others, "\n")
		for line := range strings.SplitSeq(side.these, "\n") {
			if !slices.Contains(others, line) {
				fmt.Fprintln(&out, side.sign, line)
			}
		}
	}
	if out.Len() == 0 {
		return "the same lines in another order"
	}
	return out.String()
}
