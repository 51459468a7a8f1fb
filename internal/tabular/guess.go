package tabular

import (
	"cmp"
	"slices"
	"strings"
	"time"
	"unicode"

	"settlemark/internal/measure"
)

// sampled is how many rows a guess looks at.
const sampled = 200

// Guess says how the text is probably written. The site's zone is taken for times
// without an offset; where day and month could be either, the reading is taken that
// brings more rows into the time of the run. A mapping that was kept for the unit
// goes before all that if the file has the same columns. A delimiter that a person
// chose is not guessed.
func Guess(text, chosen string, quantities []Quantity, zone string, from, to time.Time, kept *Mapping) Mapping {
	if kept != nil && kept.Check(quantities) == nil {
		if read := kept.Read(text, quantities, from); sameNames(read.Names, kept.Columns) && len(read.Readings) > 0 {
			return *kept
		}
	}
	m := Mapping{Delimiter: cmp.Or(chosen, delimiter(text)), Decimal: ".", Zone: zone, Layout: Layouts[1].Name}
	rows, _ := split(text, m.Delimiter)
	m.guessTime(rows, from, to)
	layout := m.layout()
	head := heading(rows, func(r row) bool { _, ok := layout.wall(m.timeOf(r)); return ok })
	body := rows[head:]
	wide := width(body)
	if len(body) == 0 {
		wide = width(rows)
	}
	for _, name := range names(rows[:head], wide) {
		m.Columns = append(m.Columns, Column{Name: name})
	}
	m.guessDecimal(body[:min(len(body), sampled)])
	m.guessColumns(quantities)
	return m
}

func sameNames(names []string, columns []Column) bool {
	return slices.EqualFunc(names, columns, func(n string, c Column) bool { return n == c.Name })
}

// delimiter is the first that parts most rows into as many columns, more than one;
// a comma may be a decimal mark, so it comes last.
func delimiter(text string) string {
	if first, _, _ := strings.Cut(text, "\n"); strings.HasPrefix(strings.ToLower(first), "sep=") && slices.Contains(Delimiters, first[4:]) {
		return first[4:]
	}
	best, most := ",", 0
	for _, d := range Delimiters {
		rows, _ := split(head(text), d)
		wide, alike := width(rows), 0
		for _, r := range rows {
			if len(r.cells) == wide && wide > 1 {
				alike++
			}
		}
		if alike > most {
			best, most = d, alike
		}
	}
	return best
}

// head is the beginning of a text, in whole lines.
func head(text string) string {
	end := 0
	for range sampled {
		next := strings.IndexByte(text[end:], '\n')
		if next < 0 {
			return text
		}
		end += next + 1
	}
	return text[:end]
}

// guessTime looks for the column whose cells are times, or for a date with a time
// beside it.
func (m *Mapping) guessTime(rows []row, from, to time.Time) {
	rows = rows[:min(len(rows), sampled)]
	wide, best := width(rows), 0
	for column := 1; column <= wide; column++ {
		for _, date := range []int{0, column - 1} {
			for _, l := range Layouts {
				try := Mapping{Time: column, Date: date}
				if score := try.score(rows, l, from, to); score > best {
					best, m.Time, m.Date, m.Layout = score, column, date, l.Name
				}
			}
		}
	}
}

// score counts the rows that have a time, and again those within the run.
func (m Mapping) score(rows []row, l Layout, from, to time.Time) (n int) {
	const day = 24 * time.Hour
	for _, r := range rows {
		at, ok := l.wall(m.timeOf(r))
		if !ok {
			continue
		}
		n += 2
		if at.After(from.Add(-day)) && at.Before(to.Add(day)) {
			n++
		}
	}
	return n
}

// guessDecimal counts which mark stands in numbers.
func (m *Mapping) guessDecimal(body []row) {
	count := map[string]int{}
	for _, r := range body {
		for i, c := range r.cells {
			if i+1 == m.Time || i+1 == m.Date {
				continue
			}
			for _, mark := range Decimals {
				try := Mapping{Decimal: mark}
				if _, why := try.number(plainCell(c)); why.Empty() && strings.Contains(c, mark) {
					count[mark]++
				}
			}
		}
	}
	if count[","] > count["."] {
		m.Decimal = ","
	}
}

// guessColumns takes a column for the quantity whose name it bears, each once.
func (m *Mapping) guessColumns(quantities []Quantity) {
	used := map[string]bool{}
	for i := range m.Columns {
		if i+1 == m.Time || i+1 == m.Date {
			continue
		}
		name, best := letters(m.Columns[i].Name), 0
		for _, q := range quantities {
			if fit := likeness(name, q); fit > best && !used[q.Key] {
				best, m.Columns[i].Quantity, m.Columns[i].Unit = fit, q.Key, unitIn(m.Columns[i].Name, q)
			}
		}
		used[m.Columns[i].Quantity] = true
	}
}

// likeness is how much of a name and of a quantity's is the same, 0 for not alike.
func likeness(name string, q Quantity) int {
	best := 0
	for _, own := range []string{letters(q.Label), letters(q.Key)} {
		switch {
		case own == "" || name == "":
		case strings.Contains(name, own):
			best = max(best, 2*len(own))
		case len(name) >= 4 && strings.Contains(own, name):
			best = max(best, len(name))
		}
	}
	for word := range strings.FieldsSeq(strings.ToLower(q.Label)) {
		if w := letters(word); len(w) >= 5 && strings.Contains(name, w) {
			best = max(best, len(w))
		}
	}
	return best
}

// letters are those of a name, and its digits, small.
func letters(name string) string {
	return strings.Map(func(r rune) rune {
		if unicode.IsLetter(r) || unicode.IsDigit(r) {
			return unicode.ToLower(r)
		}
		return -1
	}, name)
}

// unitIn is the unit that a heading names, else the quantity's own.
func unitIn(name string, q Quantity) string {
	kind, ok := measure.KindOf(q.Unit)
	if !ok || q.State {
		return q.Unit
	}
	words := strings.FieldsFunc(name, func(r rune) bool { return strings.ContainsRune("[](){} ,;_", r) })
	for _, u := range measure.UnitsOf(kind) {
		for _, w := range words {
			if plainUnit(w) == plainUnit(u) || plainUnit(w) == plainUnit(measure.Sign(u)) {
				return u
			}
		}
	}
	return q.Unit
}

// plainUnit is a unit without the signs that files write in several ways.
func plainUnit(unit string) string {
	plain := strings.NewReplacer("·", "", ".", "", "*", "", "-", "", "°", "deg").Replace(strings.ToLower(unit))
	if plain == "c" || plain == "f" {
		return "deg" + plain
	}
	return plain
}
