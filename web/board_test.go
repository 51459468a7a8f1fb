package web_test

import (
	"strings"
	"testing"
)

// A board of more than two hundred units has a page for each line; each unit keeps
// its place on it, and who waits is told on every page.
func TestBoardByLine(t *testing.T) {
	s := newBench(t)
	s.change(`insert into settlemark.lines (site_id, name) select site_id, 'Line Z' from settlemark.units where tag = 'QU-01';
		insert into settlemark.units (tag, site_id, line_id, serial, ink, makeup, place)
		select 'Z-' || to_char(n, 'FM000'), l.site_id, l.id, 'z' || n, u.ink, u.makeup, 1000 + n
		from generate_series(1, 150) n, settlemark.units u, settlemark.lines l where u.tag = 'QU-01' and l.name = 'Line Z'`)
	b := s.as("supervisor")
	tiles := func(path string) (tags []string, pages []string) {
		page := b.get(path).wants(200, "Board").page()
		for _, tag := range page.Find(".tiles .tile b").EachIter() {
			tags = append(tags, tag.Text())
		}
		for _, a := range page.Find("nav[aria-label=Lines] a").EachIter() {
			pages = append(pages, a.AttrOr("href", ""))
		}
		return tags, pages
	}
	before, pages := tiles("/board")
	if len(pages) != 0 || len(before) < 151 || before[len(before)-1] != "Z-150" {
		t.Fatalf("a board of %d units has pages %q", len(before), pages)
	}
	s.change(`insert into settlemark.units (tag, site_id, line_id, serial, ink, makeup, place)
		select 'Y-' || to_char(n, 'FM000'), u.site_id, u.line_id, 'y' || n, u.ink, u.makeup, 2000 + n
		from generate_series(1, 100) n, settlemark.units u where u.tag = 'QU-01'`)
	first, pages := tiles("/board")
	if len(pages) < 2 {
		t.Fatalf("a board of 250 units has pages %q", pages)
	}
	all := map[string]bool{}
	for _, path := range pages {
		tags, _ := tiles(path)
		for _, tag := range tags {
			if all[tag] {
				t.Errorf("%s stands on two pages", tag)
			}
			all[tag] = true
		}
		if strings.Contains(path, "Line+Z") && (len(tags) != 150 || tags[0] != "Z-001" || tags[149] != "Z-150") {
			t.Errorf("line Z shows %q", tags)
		}
	}
	if len(all) != len(before)+100 {
		t.Errorf("the pages show %d units, the board has %d", len(all), len(before)+100)
	}
	if again, _ := tiles("/board?site=1&line=nowhere"); strings.Join(again, " ") != strings.Join(first, " ") {
		t.Error("a line that is not there does not open the first")
	}
	b.get(pages[1]).wants(200, "Z-150").sound("the board of one line")
}
